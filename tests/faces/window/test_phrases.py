from __future__ import annotations

from dataclasses import replace

import pytest

from live.daemon.snapshot import NoteView
from live.faces.window.lanes import STACKED_PX
from live.faces.window.phrases import Frame, are_stacked, lanes_view, pitch_span
from tests.faces.states import IDLE, snapshot_named

FRAME = Frame(left=100.0, width=400.0, call_top=0.0, answer_top=60.0, height=54.0, axis_beats=8.0)


def test_two_bars_of_four_four_are_eight_quarter_notes() -> None:
    view = lanes_view(IDLE)
    assert (view.call_beats, view.answer_beats, view.bar_beats, view.axis_beats) == (8, 8, 4, 8)


@pytest.mark.parametrize(
    ("metre", "bar", "pulse"), [("4/4", 4, 1), ("3/4", 3, 1), ("6/8", 3, 0.5), ("2/2", 4, 2)]
)
def test_bars_and_pulses_follow_the_metre(metre: str, bar: float, pulse: float) -> None:
    # Common practice, no source: a bar of 6/8 lasts three quarter notes.
    view = lanes_view(replace(IDLE, metre=metre))
    assert (view.bar_beats, view.pulse_beats) == (bar, pulse)


def test_the_axis_is_as_long_as_the_longer_part() -> None:
    view = lanes_view(replace(IDLE, call_bars=1, answer_bars=4))
    assert (view.call_beats, view.answer_beats, view.axis_beats) == (4, 16, 16)


def test_a_free_call_grows_by_whole_bars() -> None:
    free = replace(IDLE, free=True, phrase="call", phrase_beats=9.0)
    assert lanes_view(free).axis_beats == 12
    assert lanes_view(replace(free, phrase_beats=0.5)).axis_beats == 8


def test_notes_carry_their_degree_and_a_held_note_has_no_end() -> None:
    view = lanes_view(snapshot_named("call"))
    assert [block.label for block in view.call] == ["♭3", "5", "4", "♭3", "2", "♭3", "5", "♭6"]
    assert view.call[-1].end_beats is None
    assert [block.label for block in view.answer][:4] == ["1", "1", "♭3", "4"]


def test_the_playhead_is_there_only_while_a_part_runs() -> None:
    assert lanes_view(IDLE).playhead is None
    assert lanes_view(snapshot_named("answer")).playhead == 5.2


def test_empty_lanes_say_what_to_do() -> None:
    nothing = lanes_view(snapshot_named("nothing-connected"))
    assert "Connect a keyboard" in nothing.call_note
    assert lanes_view(IDLE).call_note == "Play 2 bars: your first note is the first beat"
    assert lanes_view(replace(IDLE, free=True)).call_note == "Play, then pause: that is the call"
    assert "Composing" in lanes_view(snapshot_named("composing")).answer_note
    waiting = replace(IDLE, clock="following")
    assert lanes_view(waiting).call_note == "Waiting for the outside clock to start"


def test_start_is_to_be_pressed_only_where_no_note_starts() -> None:
    waits = replace(IDLE, first_note_starts=False)
    assert lanes_view(waits).call_note == "Press start, then play 2 bars"
    alone = replace(waits, inputs=())
    assert lanes_view(alone).answer_note == "Then press start; the bass answers 2 bars"
    assert "press start" not in lanes_view(replace(IDLE, inputs=())).answer_note


def test_a_bass_that_is_switched_off_promises_no_answer() -> None:
    silent = replace(IDLE, answers=False)
    assert lanes_view(silent).answer_note == "The bass is silent: answer.on is false"


def test_higher_notes_lie_higher_and_all_stay_inside_the_lane() -> None:
    blocks = lanes_view(replace(IDLE, call=_ladder(24))).call
    span = pitch_span(blocks)
    tops = [FRAME.block_top(10.0, block.pitch, span, 13.0) for block in blocks]
    assert tops == sorted(tops, reverse=True)
    assert min(tops) >= 10.0
    assert max(tops) + 13.0 <= 10.0 + FRAME.height


def test_close_notes_do_not_change_the_scale_of_the_lane() -> None:
    few, more = (lanes_view(replace(IDLE, call=_ladder(n))).call for n in (1, 6))
    assert pitch_span(few) == pitch_span(more)


def test_chords_are_told_from_lines_even_if_a_line_is_played_legato() -> None:
    def stacked(*rows: tuple[float, float | None, int]) -> bool:
        notes = tuple(NoteView(*row) for row in rows)
        return are_stacked(lanes_view(replace(IDLE, call=notes)).call)

    assert not stacked((0.0, 1.05, 62), (1.0, 1.05, 65), (2.0, None, 69))
    assert stacked((0.0, 1.0, 62), (0.01, 1.0, 65))
    assert stacked((0.0, None, 62), (3.0, 1.0, 65))


def test_notes_of_a_chord_a_minor_third_apart_do_not_cover_each_other() -> None:
    notes = tuple(NoteView(0.0, 1.0, pitch) for pitch in (57, 60, 64))
    span = pitch_span(lanes_view(replace(IDLE, call=notes)).call)
    tops = [FRAME.block_top(0.0, pitch, span, STACKED_PX) for pitch in (57, 60)]
    assert tops[0] - tops[1] >= STACKED_PX - 0.1


def test_beats_map_onto_the_axis_and_never_beyond_it() -> None:
    assert [FRAME.x(beat) for beat in (0, 4, 8)] == [100, 300, 500]
    assert (FRAME.x(-1), FRAME.x(99)) == (100, 500)


def _ladder(count: int) -> tuple[NoteView, ...]:
    return tuple(NoteView(index * 0.3, 0.25, 60 + index) for index in range(count))
