from live.clock.due import DueQueue
from live.notes.answer_part import AnswerPart
from live.notes.held import HeldLedger
from live.notes.offer import Offered
from live.notes.phrase import Brief, Call
from live.notes.player import AnswerOn, AnswerPlayer, Mark
from tests.notes.stage import D_MINOR, bass

BAR = 3840
FIRST, SECOND, THIRD = (
    Offered(choice, Brief(Call((), 2, number=4), D_MINOR))
    for choice in bass(Brief(Call((), 2, number=4), D_MINOR))
)


def part_and_queue():
    due = DueQueue()
    return AnswerPart(due, AnswerPlayer(due, HeldLedger())), due


def onsets(due):
    """(tick, velocity) of every note that waits, and every mark; velocities tell ranks apart."""
    found = []
    while len(due):
        tick, item = due.pop()
        if isinstance(item, AnswerOn):
            found.append((tick, item.velocity - 80))
        elif isinstance(item, Mark):
            found.append((tick, item.name))
    return found


def test_an_answer_fills_its_bars_and_ends():
    part, due = part_and_queue()
    part.begin(FIRST, 7, 2 * BAR, 4 * BAR)
    assert part.is_playing
    assert (part.number, part.start_tick) == (7, 2 * BAR)
    found = onsets(due)
    assert found[-1] == (4 * BAR, "answer end")
    assert found[:-1] == [(2 * BAR + 480 * n, 1) for n in range(16)]
    out = []
    part.end(7, 99, out)
    assert not part.is_playing
    assert [(r.kind, r.at_ns, r.detail) for r in out] == [("answer_end", 99, '{"number": 7}')]


def test_a_swap_is_heard_from_the_bar_line_on_and_not_before():
    part, due = part_and_queue()
    part.begin(FIRST, 4, 2 * BAR, 4 * BAR)
    assert part.swap(THIRD, 3 * BAR)
    found = onsets(due)
    assert [f for f in found if f[0] < 3 * BAR] == [(2 * BAR + 480 * n, 1) for n in range(8)]
    assert found[8] == (3 * BAR, "cut")
    assert [f for f in found[9:] if isinstance(f[1], int)] == [
        (3 * BAR + 480 * n, 3) for n in range(8)
    ]


def test_the_last_of_several_swaps_counts():
    part, due = part_and_queue()
    part.begin(FIRST, 4, 0, 2 * BAR)
    assert part.swap(SECOND, BAR)
    assert part.swap(THIRD, BAR)
    assert {rank for tick, rank in onsets(due) if tick >= BAR and isinstance(rank, int)} == {3}


def test_nothing_is_swapped_at_the_end_or_for_another_call_or_when_none_plays():
    part, due = part_and_queue()
    assert not part.swap(SECOND, BAR)
    part.begin(FIRST, 4, 0, 2 * BAR)
    assert not part.swap(SECOND, 2 * BAR)
    other = Offered(SECOND.choice, Brief(Call((), 2, number=5), D_MINOR))
    assert not part.swap(other, BAR)
    assert {rank for _, rank in onsets(due) if isinstance(rank, int)} == {1}


def test_an_end_that_was_overtaken_does_nothing():
    part, _ = part_and_queue()
    out = []
    part.end(0, 1, out)
    part.begin(FIRST, 4, 0, 2 * BAR)
    part.end(3, 2, out)
    assert part.is_playing
    assert out == []


def test_stopping_ends_it_at_once():
    part, due = part_and_queue()
    part.begin(FIRST, 4, 0, 2 * BAR)
    out = []
    part.stop(5, out)
    assert not part.is_playing
    assert [r.kind for r in out] == ["answer_end"]
    assert onsets(due) == [(2 * BAR, "answer end")]
    part.stop(6, out)
    assert len(out) == 1
