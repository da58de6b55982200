"""The scenario is what it says it is."""

from __future__ import annotations

from live.clock.units import NS_PER_S, TICKS_PER_SIXTEENTH, ticks_to_ns
from live.faces import night_ferry as ferry
from live.theory.keys import parse_key
from live.theory.pitch import parse_note
from live.theory.progressions import parse_progression

KEY = parse_key(ferry.KEY)


def test_the_harmony_is_d_minor_b_flat_g_minor_a_minor_two_bars_each():
    progression = parse_progression(ferry.PROGRESSION, KEY)
    chords = [progression.chord_at(bar).name for bar in range(8)]
    assert chords == ["Dm", "Dm", "Bb", "Bb", "Gm", "Gm", "Am", "Am"]
    assert progression.chord_at(8).name == "Dm"
    assert ferry.BARS % progression.bars == 0


def test_one_slip_off_the_key_in_each_call_and_one_in_a_pad():
    outside = [t for t in ferry.PERFORMANCE if not KEY.contains(parse_note(t.note))]
    assert [t.note for t in outside] == ["G#4", "B4", "Eb4", "C#4", "C#5"]
    period = ferry.CALL_BARS + ferry.ANSWER_BARS
    assert [divmod(t.bar, period)[0] for t in outside] == [0, 1, 2, 2, 3]
    assert [t.bar % period < ferry.CALL_BARS for t in outside] == [True, True, True, False, True]


def test_the_player_only_holds_pads_while_the_bass_answers():
    period = ferry.CALL_BARS + ferry.ANSWER_BARS
    starts = [t for t in ferry.PERFORMANCE if t.bar % period >= ferry.CALL_BARS]
    assert len(starts) == 8
    assert all(t.steps >= 16 for t in starts)


def test_touches_fit_the_bars_and_no_key_goes_down_twice():
    down_until: dict[str, int] = {}
    for touch in ferry.PERFORMANCE:
        assert 0 <= touch.bar < ferry.BARS
        assert 0 <= touch.step < 16
        assert 1 <= touch.velocity <= 127
        start = touch.bar * 16 + touch.step
        assert start >= down_until.get(touch.note, 0)
        down_until[touch.note] = start + touch.steps
    assert max(down_until.values()) <= ferry.BARS * 16


def test_the_low_end_is_left_to_the_bass():
    # The answer's default range ends at G3 = 55 (design contract).
    assert min(parse_note(t.note) for t in ferry.PERFORMANCE) > 55


def test_messages_are_late_by_at_most_the_looseness_and_every_note_ends():
    presses = ferry.performance()
    ons = [p for p in presses if p.data[0] == 0x90]
    offs = [p for p in presses if p.data[0] == 0x80]
    assert len(ons) == len(offs) == len(ferry.PERFORMANCE)
    assert [p.at_ns for p in presses] == sorted(p.at_ns for p in presses)
    grid_ns = ticks_to_ns(TICKS_PER_SIXTEENTH, ferry.TEMPO_BPM)
    for press in ons:
        late_ns = press.at_ns % grid_ns
        assert min(late_ns, grid_ns - late_ns) <= ferry.LOOSENESS_S * NS_PER_S + 16
    held: set[int] = set()
    for press in presses:
        if press.data[0] == 0x90:
            assert press.data[1] not in held
            held.add(press.data[1])
        else:
            held.remove(press.data[1])
    assert not held


def test_the_same_seed_gives_the_same_performance():
    assert ferry.performance(3) == ferry.performance(3)
    assert ferry.performance(3) != ferry.performance(4)
