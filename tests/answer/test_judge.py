"""Drawing in kind and judging what was drawn."""

from __future__ import annotations

from itertools import pairwise
from random import Random
from statistics import fmean

import pytest

from live.answer.choose import distance
from live.answer.compose import compose
from live.answer.judge import answers_in_kind, chance
from live.answer.kind import Kind
from live.answer.manner import manner
from live.answer.scene import Scene
from live.clock.metre import Metre
from live.notes.phrase import Choice, PhraseNote
from live.notes.taste import Taste
from tests.answer.calls import BAR, RIFF, SCALE_PCS, brief, notes

BASS = notes((0, 38), (2, 38), (6, 41), (10, 33), (16, 38), (18, 38), (22, 36), (26, 33, 6))


def _scene(**more: object) -> Scene:
    return Scene(brief(BASS, **more))


def test_a_call_where_the_answer_may_lie_is_answered_in_kind() -> None:
    assert _scene().in_kind
    assert not _scene(low=52, high=76).in_kind


def test_lines_stand_on_spots_of_the_frame_and_begin_on_the_one() -> None:
    scene = _scene()
    for onsets, pitches in Kind(scene, Random(1)).lines(60, Random(2)):
        assert onsets[0] == 0
        assert list(onsets) == sorted(set(onsets))
        assert set(onsets) <= scene.spots.keys()
        assert len(onsets) == len(pitches)


def test_manner_counts() -> None:
    voice = Kind(_scene(), Random(1)).voice
    counts = manner(voice, (0, 480, 1440, 3840), (38, 38, 41, 38))
    assert counts["move +0"] == pytest.approx(1 / 3)
    assert counts["move +3"] == pytest.approx(1 / 3)
    assert counts["degree 0"] == 0.75
    assert counts["ends on 0"] == 1.0
    assert counts["same as the call"] == 1.0
    assert counts["different notes"] == 0.5
    assert counts["gap eighth"] == pytest.approx(1 / 3)
    assert counts["on kicks"] == 2 / 4  # the two-step's kicks lie on 0 and 2400 of each bar
    assert counts["range"] == 0.25
    assert counts["within a fifth"] == 1.0
    assert counts["repeats most"] == 1.0
    assert "repeats half" not in counts
    assert counts["has degree 3"] == 1.0
    assert counts["gaps not in the call"] == pytest.approx(1 / 3)  # 2400 ticks
    assert counts["two notes of the call"] == pytest.approx(2 / 3)  # D D and D F, not F D
    assert counts["joins on the note"] == 0.0
    assert counts["nothing on the half beat"] == 0.0
    assert counts["under a note a beat"] == 1.0


def test_shares_of_the_call_that_are_repeated_have_one_name_each() -> None:
    voice = Kind(_scene(), Random(1)).voice
    onsets = tuple(voice.line)
    named = []
    for same in range(len(onsets) + 1):
        pitches = [p if i < same else p + 1 for i, p in enumerate(voice.line.values())]
        counts = manner(voice, onsets, pitches)
        (name,) = (name for name in counts if name.startswith("repeats "))
        named.append(name.removeprefix("repeats "))
    assert named[0] == "nothing"
    assert named[-1] == "most"
    assert list(dict.fromkeys(named)) == ["nothing", "little", "a third", "half", "most"]


def _apart(one: Choice, other: Choice) -> float:
    a, b = ({(n.onset_ticks, n.pitch % 12) for n in c.notes} for c in (one, other))
    return 1 - len(a & b) / len(a | b)


@pytest.mark.parametrize("played", [BASS, RIFF], ids=["in kind", "under"])
def test_more_like_this_lies_nearer_is_another_and_comes_back(played) -> None:
    plain, near = [], []
    for seed in range(12):
        first = compose(brief(played, seed=seed))[0]
        other = compose(brief(played, seed=seed + 100))[0]
        wished = brief(played, seed=seed + 100, like=first.notes)
        like = compose(wished)
        assert like == compose(wished)
        assert all(choice.notes != first.notes for choice in like)
        plain.append(_apart(first, other))
        near.append(_apart(first, like[0]))
    assert min(near) > 0
    assert fmean(near) < 0.75 * fmean(plain)


def test_again_goes_somewhere_new() -> None:
    for played in (BASS, RIFF):
        answers = [compose(brief(played, seed=seed))[0] for seed in range(12)]
        apart = [_apart(a, b) for a, b in pairwise(answers)]
        assert sum(far == 0 for far in apart) <= 1  # chance may fall on the same line again
        assert fmean(apart) > 0.5


def test_the_liked_line_may_swing_and_double_and_hold_what_no_longer_fits() -> None:
    first = compose(brief(BASS, taste=Taste(swing=1.0, octave_double=True)))[0]
    strange = (*first.notes, PhraseNote(3 * BAR, 10, 40, 90), PhraseNote(60, 10, 127, 90))
    for choice in compose(brief(BASS, like=strange)):
        assert all(28 <= n.pitch <= 55 for n in choice.notes)
        assert choice.notes[0].onset_ticks == 0


def test_choices_lie_apart_and_bear_different_words() -> None:
    for seed in range(10):
        scene = _scene(seed=seed)
        taken = answers_in_kind(scene, 3, Random(seed))
        assert len({draft.words for draft in taken}) == 3
        assert [d.score for d in taken] == sorted((d.score for d in taken), reverse=True)
        pairs = [(0, 1), (0, 2), (1, 2)]
        assert min(distance(taken[a].facts, taken[b].facts) for a, b in pairs) > 0.2


def test_chances_from_log_odds() -> None:
    assert chance(0.0) == 0.5
    assert chance(-1e9) < 1e-9
    assert chance(1e9) <= 1.0


@pytest.mark.parametrize("metre", [Metre(4, 4), Metre(3, 4), Metre(6, 8), Metre(7, 8), Metre(2, 2)])
@pytest.mark.parametrize("key", ["D minor", "A minor pentatonic", "C chromatic", "F# dorian"])
def test_any_call_in_the_answers_range_keeps_the_rules(metre: Metre, key: str) -> None:
    # Overlapping notes, notes of no length, notes late in the last bar, up to 400 of them.
    for seed in range(4):
        random = Random(seed)
        bars, count = random.choice((1, 2, 4)), random.choice((3, 8, 30, 400))
        drawn = (
            PhraseNote(
                random.randrange(bars * metre.bar_ticks + 60),
                random.choice((0, 1, 200, 5000)),
                random.randint(28, 58),
                random.randint(1, 127),
            )
            for _ in range(count)
        )
        chords = "i iv" if key == "D minor" and seed % 2 else None
        made = brief(
            tuple(sorted(drawn, key=lambda n: (n.onset_ticks, n.pitch))),
            key,
            chords,
            bars,
            metre=metre,
            answer_bars=random.choice((1, 2, 8)),
            seed=seed,
            tempo_bpm=random.choice((20.0, 400.0)),
            groove=random.choice(("none", "two-step")),
        )
        end = made.answer_bars * metre.bar_ticks
        for choice in compose(made):
            assert choice.notes[0].onset_ticks == 0
            assert choice.reasons
            for a, b in pairwise((*choice.notes, PhraseNote(end, 1, 0, 1))):
                assert 1 <= a.length_ticks <= b.onset_ticks - a.onset_ticks
                assert a.pitch % 12 in SCALE_PCS[key]
                assert 28 <= a.pitch <= 55


def test_triplets_in_compound_time_stay_on_the_places_there_are() -> None:
    # A third of a quarter fits the dotted beat it was played in, but not every other one.
    played = tuple(PhraseNote(320 * i, 300, 30 + i, 90) for i in range(8))
    for seed in range(20):
        made = brief(played, "D minor", "Dm Gm", metre=Metre(6, 8), high=40, seed=seed)
        for choice in compose(made):
            assert choice.notes[0].onset_ticks == 0
