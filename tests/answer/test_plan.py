"""From a way of answering to slots."""

from __future__ import annotations

from itertools import pairwise
from statistics import fmean

import pytest

from live.answer.plan import ARCS, FIGURES, Outline, Slots, compass, head_targets
from live.answer.scene import Scene
from live.answer.ways import WAYS, Way
from tests.answer.calls import BAR, RIFF, brief, notes

WAY = {way.word: way for way in WAYS}
ONSETS = (0, 720, 1440, 2400, 3840, 5760)


def _targets(word: str, **more: object) -> list[int]:
    return list(head_targets(WAY[word], Scene(brief(**more))).values())


def test_the_head_comes_two_octaves_down_into_the_range() -> None:
    # RIFF begins D4 F4 G4 F4 D4.
    assert _targets("head") == [38, 41, 43, 41, 38]


def test_the_turn_is_a_tonal_inversion_about_the_first_note() -> None:
    # In D minor: D up a third to F becomes D down a third to B flat; up a fourth, down a fourth.
    assert _targets("turn") == [38, 34, 33, 34, 38]


def test_the_sequence_keeps_the_steps_and_starts_on_another_chord_tone() -> None:
    over_bb = _targets("sequence", progression="Bb")
    assert over_bb[0] % 12 in {10, 5}
    signs = [b - a > 0 for a, b in pairwise(over_bb)]
    assert signs == [True, True, False, False]


@pytest.mark.parametrize("word", ["gaps", "kick", "eighths", "roots"])
def test_other_ways_leave_the_head_alone(word: str) -> None:
    assert _targets(word) == []


def test_silence_has_no_head() -> None:
    assert _targets("head", played=()) == []


def test_the_head_ends_after_a_bar_or_half_way() -> None:
    one = Scene(brief(notes(*((2 * i, 60) for i in range(8))), bars=1, answer_bars=1))
    assert max(head_targets(WAY["head"], one)) < BAR / 2
    assert max(head_targets(WAY["head"], Scene(brief(answer_bars=4)))) < BAR


@pytest.mark.parametrize(
    ("low", "high", "searched"),
    [
        (28, 55, (28, 55)),
        (40, 52, (40, 52)),
        (21, 48, (21, 48)),
        (0, 127, (28, 55)),
        (0, 40, (13, 40)),
        (60, 127, (60, 87)),
    ],
)
def test_a_wide_range_keeps_to_the_bass_end(low: int, high: int, searched: tuple[int, int]) -> None:
    assert compass(brief(low=low, high=high)) == searched


def _slots(way: Way, arc: str = "level", figure: tuple[int, ...] = (0, 7), **more: object) -> list:
    scene = Scene(brief(**more))
    outline = Outline(way, arc, figure, head_targets(way, scene), {})
    return list(Slots(scene).of(ONSETS, outline))


def test_slots_know_strong_beats_chords_and_bar_lines() -> None:
    slots = _slots(WAY["gaps"], progression="Dm Bb", first_bar=0)
    assert [slot.strong for slot in slots] == [True, False, False, False, True, True]
    assert [slot.one for slot in slots] == [True, False, False, False, True, False]
    assert [slot.ground.chord.name for slot in slots] == ["Dm"] * 4 + ["Bb"] * 2


def test_a_bar_without_a_head_follows_the_figure_and_the_next_one_follows_the_bar() -> None:
    slots = _slots(WAY["gaps"], progression="Dm Bb")
    assert [slot.target for slot in slots[:4]] == [38, 38, 38, 45]
    assert [slot.mate for slot in slots] == [-1, -1, -1, -1, 0, -1]
    assert slots[5].target == 34 + 7


def test_roots_are_drawn_to_the_root() -> None:
    slots = _slots(WAY["roots"], progression="Dm Bb")
    assert {slot.target % 12 for slot in slots[:4]} == {2}
    assert {slot.target % 12 for slot in slots[4:]} == {10}


def test_arcs_move_the_centre() -> None:
    def centres(arc: str) -> list[float]:
        return [slot.centre for slot in _slots(WAY["kick"], arc)]

    assert len(set(centres("level"))) == 1
    assert centres("rise") == sorted(centres("rise"))
    assert centres("fall") == sorted(centres("fall"), reverse=True)
    arch = centres("arch")
    assert max(arch) not in (arch[0], arch[-1])
    dip = centres("dip")
    assert min(dip) not in (dip[0], dip[-1])
    assert len(ARCS) == 5
    # Near the median 35 of 66 bass tracks (freedoom, OpenMSX).
    assert abs(fmean(centres("level")) - 35) <= 2


def test_figures_stay_within_an_octave_of_the_root() -> None:
    assert len(set(FIGURES)) == len(FIGURES)
    assert all(-12 <= step <= 12 for figure in FIGURES for step in figure)


def test_the_riff_is_what_the_tests_say_it_is() -> None:
    assert [n.pitch for n in RIFF if n.onset_ticks < BAR] == [62, 65, 67, 65, 62]
