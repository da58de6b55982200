"""Kinship: an answer that takes up the call stands above one that does not."""

from __future__ import annotations

from random import Random

import pytest

from live.answer.kinship import Kinship
from live.answer.kinship_features import CALLED, COMPARED
from live.answer.kinship_table import TREES
from live.clock.metre import Metre

MINOR = (0, 2, 3, 5, 7, 8, 10)
METRES = ("4/4", "2/4", "2/2", "3/4", "5/4", "6/8", "9/8", "12/8", "7/8", "1/16")


def tune(seed: int, bars: int = 2, metre: Metre = Metre()) -> list[tuple[int, int, int]]:  # noqa: B008
    """Eighths of a bar around D minor, some left out."""
    random, length = Random(seed), metre.bar_ticks // 8
    degree, notes = 0, []
    for part in range(8 * bars):
        degree = max(-7, min(9, degree + random.choice((-2, -1, -1, 0, 1, 1, 2))))
        if part == 0 or random.random() < 0.8:
            pitch = 62 + 12 * (degree // 7) + MINOR[degree % 7]
            notes.append((part * length, length, pitch))
    return notes


def moved(notes, up: int = 0, late: int = 0) -> list[tuple[int, int, int]]:
    return [(onset + late, length, pitch + up) for onset, length, pitch in notes]


def heard(seed: int = 1, **more) -> Kinship:
    return Kinship(tune(seed), 2, True, Metre(), **more)


def test_an_answer_that_takes_up_the_call_stands_above_all_strangers() -> None:
    for seed in range(20):
        call = tune(seed)
        varied = [*call[:-2], (6720, 960, 62)]
        strangers = [tune(other) for other in range(100, 130)]
        one = heard(seed)
        assert one.score(varied) > max(one.score(stranger) for stranger in strangers)


@pytest.mark.parametrize("seed", range(10))
@pytest.mark.parametrize("same_register", [True, False])
def test_parts_sum_to_the_score(seed, same_register) -> None:
    # The score goes through masks, the parts through the trees themselves: two ways, one sum.
    one = heard(seed, same_register=same_register)
    for answer in (tune(seed), tune(seed + 50), tune(seed + 70, bars=5)):
        parts = one.parts(answer)
        assert sum(value for _, value in parts) == pytest.approx(one.score(answer))
        sizes = [abs(value) for _, value in parts]
        assert sizes == sorted(sizes, reverse=True)


@pytest.mark.parametrize("up", [-24, -12, 12, 24])
def test_octaves_of_the_whole_do_not_count(up) -> None:
    one, other = heard(), Kinship(moved(tune(1), up), 2, True, Metre())
    assert other.score(moved(tune(2), up)) == pytest.approx(one.score(tune(2)))


@pytest.mark.parametrize("tonic", range(12))
def test_a_transposed_key_changes_nothing(tonic) -> None:
    other = Kinship(moved(tune(1), tonic - 2), tonic, True, Metre())
    assert other.score(moved(tune(2), tonic - 2)) == pytest.approx(heard().score(tune(2)))


@pytest.mark.parametrize("answer", [[*tune(1)[:-2], (6720, 960, 62)], tune(3)])
def test_octaves_between_the_lines_count_only_in_the_same_register(answer) -> None:
    low = moved(answer, -24)
    anywhere = heard(same_register=False)
    assert anywhere.score(low) == pytest.approx(anywhere.score(answer))
    assert heard().score(low) < heard().score(answer)


def test_the_order_of_notes_and_what_lies_under_them_do_not_count() -> None:
    answer = tune(2)
    chords = [(onset, length, pitch - low) for onset, length, pitch in answer for low in (7, 0, 12)]
    assert heard().score(chords) == heard().score(answer) == heard().score(answer[::-1])


def test_silence_is_no_answer_and_no_error() -> None:
    assert heard().score(()) == 0.0
    assert heard().parts(()) == ()
    assert Kinship((), 2, True, Metre()).score(tune(1)) == 0.0


@pytest.mark.parametrize("metre", METRES)
@pytest.mark.parametrize(("call_bars", "answer_bars"), [(1, 1), (1, 2), (2, 3), (3, 2), (4, 8)])
def test_any_metre_and_any_number_of_bars(metre, call_bars, answer_bars) -> None:
    beats, unit = (int(part) for part in metre.split("/"))
    of = Metre(beats, unit)
    call, answer = tune(1, call_bars, of), tune(2, answer_bars, of)
    one = Kinship(call, 2, True, of, bars=call_bars)
    assert -30 < one.score(answer) < 30
    assert one.score(call) > one.score(answer)


def test_a_note_a_hair_early_makes_no_third_bar() -> None:
    answer = tune(2)
    early = [*answer, (7670, 480, 62)]
    assert len(heard().counts(early)) == len(heard().counts(answer)) == 1
    assert len(heard().counts([*answer, (7680, 480, 62)])) == 2


def test_notes_after_the_calls_bars_are_not_of_the_call() -> None:
    longer = Kinship([*tune(1), (7680, 480, 90), (9000, 480, 40)], 2, True, Metre(), bars=2)
    assert longer.score(tune(2)) == heard().score(tune(2))


HOSTILE = {
    "2,000 notes in a bar": [(tick, 1, 40 + tick % 40) for tick in range(0, 3840, 2)],
    "one held note": [(0, 7680, 50)],
    "no length": [(0, 0, 50), (960, 0, 52), (960, 0, 53)],
    "before the bar line": [(-400, 960, 50), (-10, 480, 62), (960, 480, 52)],
    "lowest and highest": [(0, 960, 0), (960, 960, 127), (1920, 960, 0)],
    "only a late bar": [(30000, 960, 60), (31000, 960, 62)],
    "beyond the range": [(0, 960, 200), (960, 960, -50)],
}


@pytest.mark.parametrize("notes", HOSTILE.values(), ids=HOSTILE)
def test_bad_input_gets_a_score(notes) -> None:
    for one in (heard(), Kinship(notes, 11, False, Metre()), heard(same_register=False)):
        for answer in (notes, tune(2)):
            assert -50 < one.score(answer) < 50


def test_the_table_asks_only_what_there_is() -> None:
    for questions, leaves, shares in TREES:
        assert (len(questions), len(leaves), len(shares)) == (7, 8, 8)
        assert all(0 <= asked < len(COMPARED) + len(CALLED) for asked, _ in questions)
        assert all(0 <= threshold <= 255 for _, threshold in questions)
        assert 990 <= sum(shares) <= 1010
