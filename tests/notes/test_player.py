import pytest

from live.clock.due import DueQueue
from live.notes.held import HeldLedger
from live.notes.phrase import PhraseNote
from live.notes.player import OVER_TICKS, STALE_TICKS, AnswerOff, AnswerOn, AnswerPlayer
from live.theory.keys import parse_key
from tests.notes.receiver import Receiver
from tests.notes.stage import D_MINOR

LINE = (PhraseNote(0, 480, 38, 90), PhraseNote(480, 480, 41, 80), PhraseNote(3840, 1920, 45, 70))


def player_and_queue():
    due = DueQueue()
    return AnswerPlayer(due, HeldLedger()), due


def play(player, due, key=D_MINOR, late_ticks=0.0):
    """Empty the queue; returns (tick, record) of everything that leaves."""
    left = []
    while len(due):
        tick, item = due.pop()
        out = []
        if isinstance(item, AnswerOn):
            player.sound(item, tick, late_ticks, key, out)
        else:
            player.end(item, tick, out)
        left += [(tick, record) for record in out]
    return left


def plain(left):
    return [(tick, record.port, record.data) for tick, record in left]


def test_notes_leave_on_their_ticks_and_channel():
    player, due = player_and_queue()
    player.channel = 4
    player.schedule(LINE, D_MINOR, 7680, 7680, 7680 + 7680)
    assert plain(play(player, due)) == [
        (7680, "answer", bytes((0x94, 38, 90))),
        (8160, "answer", bytes((0x84, 38, 64))),
        (8160, "answer", bytes((0x94, 41, 80))),
        (8640, "answer", bytes((0x84, 41, 64))),
        (11520, "answer", bytes((0x94, 45, 70))),
        (13440, "answer", bytes((0x84, 45, 64))),
    ]


def test_a_part_of_an_answer_begins_and_ends_on_its_bar_lines():
    player, due = player_and_queue()
    player.schedule(LINE, D_MINOR, 0, 480, 3840 + 960)
    assert [tick for tick, _ in play(player, due)] == [480, 960, 3840, 4800]
    player.schedule(LINE, D_MINOR, 0, 481, 3840)
    assert play(player, due) == []


def test_what_has_not_begun_can_be_taken_back():
    player, due = player_and_queue()
    player.schedule(LINE, D_MINOR, 0, 0, 7680)
    player.unschedule(480)
    assert [record.data[1] for _, record in play(player, due)] == [38, 38]


@pytest.mark.parametrize("name", ["F# major", "Eb dorian", "C major pentatonic"])
def test_a_note_from_another_key_is_brought_into_the_one_in_force(name):
    key = parse_key(name)
    player, due = player_and_queue()
    player.schedule(LINE, D_MINOR, 0, 0, 7680)
    receiver = Receiver()
    for _, record in play(player, due, key=key):
        receiver.hear(record)
        assert record.data[1] % 12 in key.pitch_classes
    assert receiver.sounding == set()
    assert receiver.ons == receiver.offs


def test_a_note_that_sounds_is_ended_before_it_starts_again():
    player, due = player_and_queue()
    long_notes = (PhraseNote(0, 2000, 38, 90), PhraseNote(960, 2000, 38, 90))
    player.schedule(long_notes, D_MINOR, 0, 0, 7680)
    left = [record.data for _, record in play(player, due)]
    assert [data[0] for data in left] == [0x90, 0x80, 0x90, 0x80]


@pytest.mark.parametrize(
    ("late_ticks", "length", "sounds"),
    [
        (0, 1, True),
        (OVER_TICKS, 1, True),  # hardly late: a short note is still played
        (OVER_TICKS + 1, OVER_TICKS + 1, False),  # it would be over already
        (OVER_TICKS + 1, OVER_TICKS + 2, True),
        (STALE_TICKS, 3840, True),
        (STALE_TICKS + 1, 3840, False),
    ],
)
def test_a_note_too_late_is_left_out_and_counted(late_ticks, length, sounds):
    player, due = player_and_queue()
    player.schedule([PhraseNote(0, length, 38, 90)], D_MINOR, 0, 0, 7680)
    assert bool(play(player, due, late_ticks=late_ticks)) == sounds
    assert player.skipped == (not sounds)


def test_silence_ends_what_sounds_and_the_ends_in_the_queue_do_nothing_more():
    player, due = player_and_queue()
    player.schedule(LINE[:1], D_MINOR, 0, 0, 7680)
    out = []
    player.sound(due.pop()[1], 0, 0.0, D_MINOR, out)
    player.silence(100, out)
    assert [record.data[0] for record in out] == [0x90, 0x80]
    assert play(player, due) == []


def test_an_end_shared_with_another_note_waits_for_the_last_one():
    player, _ = player_and_queue()
    out = []
    player.sound(AnswerOn(1, 38, 90, 480, D_MINOR), 0, 0.0, D_MINOR, out)
    player.sound(AnswerOn(2, 38, 90, 480, D_MINOR), 1, 0.0, D_MINOR, out)
    player.end(AnswerOff(1), 2, out)
    player.end(AnswerOff(2), 3, out)
    assert [(r.at_ns, r.data[0]) for r in out] == [(0, 0x90), (1, 0x80), (1, 0x90), (3, 0x80)]
