"""Learning grooves: every shipped one comes back, also as hands play it; the rest drops out."""

from __future__ import annotations

from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from live.answer.groove import Drum, Groove
from live.answer.groove_learning import DRUM_OF, LEARNED, drum_stroke, learn_groove
from live.answer.grooves import DRUM_KEYS, GROOVES, Stroke, find_groove, strokes, written
from live.clock.metre import Metre
from live.theory.errors import FieldError

SHORT = [groove for groove in GROOVES if groove.kick and groove.bars <= 2]
EACH = pytest.mark.parametrize("groove", SHORT, ids=lambda g: g.name)
BAR = 3840
PLAIN = "kick x.......x....... snare ....x.......x..."


def played(groove: Groove | str, bars: int = 8) -> list[Stroke]:
    found = find_groove(groove) if isinstance(groove, str) else groove
    return strokes(found, bars, found.metre)


def rows(groove: Groove, bars: int = 2) -> dict[Drum, list[tuple[int, ...]]]:
    """Where each drum is struck over some bars, in ticks."""
    length = groove.metre.bar_ticks
    return {d: [groove.bar_steps(d, bar, length) for bar in range(bars)] for d in DRUM_KEYS}


def test_keys_are_those_of_the_general_midi_percussion_map() -> None:
    # General MIDI Level 1 percussion key map, 35 to 81.
    assert {k for k, d in DRUM_OF.items() if d == "kick"} == {35, 36}
    assert {k for k, d in DRUM_OF.items() if d == "snare"} == {37, 38, 39, 40}
    assert [DRUM_OF[key] for key in (42, 44, 46, 51, 53, 59)] == [
        "hat", "hat", "open_hat", "ride", "ride", "ride",
    ]  # fmt: skip
    assert all(35 <= key <= 81 for key in DRUM_OF)
    toms_and_crashes = {41, 43, 45, 47, 48, 50, 49, 52, 55, 57}
    assert not toms_and_crashes & set(DRUM_OF)
    assert all(DRUM_OF[key] == drum for drum, key in DRUM_KEYS.items() if drum != "ghost")


@EACH
def test_a_shipped_groove_is_learned_as_it_is(groove: Groove) -> None:
    found = learn_groove(played(groove), groove.metre, 172.0)
    assert (found.name, found.metre, found.step_ticks) == (LEARNED, groove.metre, groove.step_ticks)
    assert found.bars == groove.bars
    assert rows(found) == rows(groove)
    assert found.swing == 1.0
    assert rows(find_groove(written(found))) == rows(groove)


@EACH
@pytest.mark.parametrize("late", [-55, 40, 55])
def test_lateness_as_a_whole_is_taken_out(groove: Groove, late: int) -> None:
    # 55 ticks at 172 BPM are 20 ms: a slow keyboard, or a drummer ahead of the beat.
    moved = [s._replace(onset_ticks=s.onset_ticks + late) for s in played(groove)]
    assert rows(learn_groove(moved, groove.metre, 172.0)) == rows(groove)


@EACH
def test_played_in_by_hand_kick_and_snare_come_back(groove: Groove) -> None:
    # Standard deviation 10 ms at 172 BPM (27.5 ticks), as of a good player (our choice).
    random = Random(groove.name)
    by_hand = [
        Stroke(
            s.onset_ticks + round(random.gauss(0, 27.5)), s.key, s.velocity + random.randint(-6, 6)
        )
        for s in played(groove)
    ]
    found, wanted = rows(learn_groove(by_hand, groove.metre, 172.0)), rows(groove)
    assert all(found[drum] == wanted[drum] for drum in ("kick", "snare", "ghost"))


@given(st.randoms(use_true_random=False))
def test_the_order_of_strokes_does_not_matter(random: Random) -> None:
    groove = find_groove("rolling-two-step")
    mixed = played(groove)
    random.shuffle(mixed)
    assert learn_groove(mixed) == learn_groove(played(groove))


def test_fills_another_section_and_toms_drop_out() -> None:
    drums = played("two-step", 12)
    fill = [Stroke(3 * BAR + 2880 + 240 * i, 38, 90) for i in range(4)]
    toms = [Stroke(7 * BAR + 240 * i, 45, 90) for i in range(16)]
    crash = [Stroke(0, 49, 110)]
    other = [s._replace(onset_ticks=s.onset_ticks + 12 * BAR) for s in played("half-time", 4)]
    found = learn_groove([*drums, *fill, *toms, *crash, *other])
    assert rows(found) == rows(find_groove("two-step"))


def test_bars_without_kick_and_snare_have_no_say() -> None:
    ride = [Stroke(bar * BAR + beat * 960, 51, 80) for bar in range(20) for beat in range(4)]
    drums = [s._replace(onset_ticks=s.onset_ticks + 20 * BAR) for s in played("two-step", 4)]
    found = learn_groove([*ride, *drums])
    assert (found.kick, found.snare) == ((0, 10), (4, 12))


def test_two_bars_are_kept_where_they_alternate_and_only_there() -> None:
    assert learn_groove(played("late-snare")).bars == 2
    assert learn_groove(played("late-snare", 2)).bars == 2
    assert learn_groove(played("two-step", 2)).bars == 1
    assert learn_groove(played("two-step", 1)).bars == 1


def test_two_bars_begin_with_an_even_bar() -> None:
    # The file begins with the pattern's second bar, so that its first one comes on odd bars.
    shifted = [s._replace(onset_ticks=s.onset_ticks + BAR) for s in played("late-snare")]
    found = learn_groove(shifted)
    assert rows(found)["kick"] == list(reversed(rows(find_groove("late-snare"))["kick"]))


def test_quiet_snares_are_ghost_strokes_only_beside_loud_ones() -> None:
    loud, quiet = Stroke(960, 38, 100), Stroke(1680, 38, 50)
    found = learn_groove([Stroke(0, 36, 100), loud, quiet])
    assert (found.snare, found.ghost) == ((4,), (7,))
    found = learn_groove([Stroke(0, 36, 100), loud._replace(velocity=52), quiet])
    assert (found.snare, found.ghost) == ((4, 7), ())


@pytest.mark.parametrize(("value", "ratio"), [(240, 1.2), (240, 1.5), (480, 1.4), (480, 1.25)])
def test_swing_is_measured(value: int, ratio: float) -> None:
    # The second of a pair starts at ratio / (1 + ratio) of it (common practice).
    late = round(2 * value * ratio / (1 + ratio)) - value
    hats = [
        Stroke(at + (late if at % (2 * value) else 0), 42, 80) for at in range(0, 4 * BAR, value)
    ]
    found = learn_groove([*played(PLAIN, 4), *hats], tempo_bpm=100.0)
    assert found.swung_ticks == value
    assert found.swing == pytest.approx(ratio, abs=0.01)
    assert find_groove(written(found)).swing == found.swing


def test_less_than_can_be_heard_is_straight() -> None:
    # 10 ms is what musicians just notice (Camara); 8 ticks at 172 BPM are 2.9 ms.
    hats = [Stroke(at + (8 if at % 480 else 0), 42, 80) for at in range(0, 4 * BAR, 240)]
    assert learn_groove(hats, tempo_bpm=172.0).swing == 1.0


def test_eighths_at_two_to_one_are_triplets() -> None:
    ride = [Stroke(at + late, 51, 80) for at in range(0, 4 * BAR, 960) for late in (0, 640)]
    found = learn_groove(ride)
    assert found.step_ticks == 320
    assert found.ride == (0, 2, 3, 5, 6, 8, 9, 11)


@pytest.mark.parametrize(
    "metre", [Metre(3, 4), Metre(6, 8), Metre(12, 8), Metre(5, 4), Metre(7, 8)]
)
def test_other_metres(metre: Metre) -> None:
    kicks = [Stroke(bar * metre.bar_ticks, 36, 100) for bar in range(4)]
    snares = [s._replace(onset_ticks=s.onset_ticks + 960, key=38) for s in kicks]
    found = learn_groove([*kicks, *snares], metre)
    assert (found.metre, found.bars, found.kick, found.snare) == (metre, 1, (0,), (4,))


@pytest.mark.parametrize("drums", [[], [Stroke(0, 49, 100)], [Stroke(0, 0, 1)]])
def test_without_a_known_drum_it_says_so(drums: list[Stroke]) -> None:
    with pytest.raises(FieldError) as caught:
        learn_groove(drums)
    assert caught.value.field == "groove"
    assert "channel 10" in caught.value.allowed


@given(
    st.lists(
        st.builds(
            Stroke,
            st.integers(-5000, 40_000),
            st.sampled_from((*DRUM_OF, 41, 49)),
            st.integers(1, 127),
        ),
        max_size=60,
    ),
    st.sampled_from((Metre(4, 4), Metre(3, 4), Metre(6, 8), Metre(1, 16), Metre(7, 8))),
    st.sampled_from((20.0, 172.0, 400.0)),
)
def test_anything_gives_a_sound_groove_or_a_field_error(
    drums: list[Stroke], metre: Metre, tempo_bpm: float
) -> None:
    if not any(stroke.key in DRUM_OF for stroke in drums):
        return
    found = learn_groove(drums, metre, tempo_bpm)
    assert found.bars in (1, 2)
    assert rows(find_groove(written(found))) == rows(found)
    assert not set(found.ghost) & set(found.snare)
    assert 1.0 <= found.swing <= 3.0


def test_note_ons_of_channel_ten_are_strokes() -> None:
    # MIDI 1.0: 9n note-on with n the channel from 0; velocity 0 is a note-off.
    assert drum_stroke(7, b"\x99\x24\x50") == Stroke(7, 36, 80)
    for other in (b"\x99\x24\x00", b"\x89\x24\x40", b"\x98\x24\x50", b"\xf8", b""):
        assert drum_stroke(7, other) is None
