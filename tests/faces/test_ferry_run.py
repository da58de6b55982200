"""'Night Ferry' through the real engine and composer: what the player would see and hear."""

from __future__ import annotations

import json

import pytest

from live.faces import night_ferry as ferry
from live.faces.ferry_run import END_NS, run_ferry, script
from live.faces.ferry_text import place, story
from live.theory.keys import parse_key

KEY = parse_key(ferry.KEY)
BAR_NS = END_NS / ferry.BARS


@pytest.fixture(scope="module")
def found():
    return run_ferry()


def details(found, kind):
    return [json.loads(record.detail) for record in found.records if record.kind == kind]


def notes_out(found, port):
    """(time, pitch, on) of every note message that left on a port."""
    return [
        (r.at_ns, r.data[1], r.data[0] & 0xF0 == 0x90 and r.data[2] > 0)
        for r in found.records
        if r.kind == "out" and r.port == port and r.data[0] & 0xE0 == 0x80
    ]


def test_five_slips_are_moved_to_the_neighbour_on_the_way(found):
    # The design's tie rule in D minor (one flat): the G sharp rises from F, so to A; the B rises
    # from G, to C; the E flat falls from F, to D; the C sharps rise, from B flat and C, to D.
    moved = [(d["pressed"], d["sounding"]) for d in details(found, "moved")]
    assert moved == [(68, 69), (71, 72), (63, 62), (61, 62), (73, 74)]


def test_everything_that_sounds_is_in_the_key(found):
    for port in ("through", "answer"):
        pitches = {pitch for _, pitch, _ in notes_out(found, port)}
        assert pitches
        assert all(KEY.contains(pitch) for pitch in pitches)


def test_every_note_that_begins_ends(found):
    for port in ("through", "answer"):
        sounding: set[int] = set()
        for _, pitch, on in notes_out(found, port):
            if on:
                assert pitch not in sounding
                sounding.add(pitch)
            else:
                sounding.discard(pitch)
        assert not sounding


def test_four_calls_and_four_answers_on_their_bar_lines(found):
    assert [d["bar"] for d in details(found, "call")] == [0, 4, 8, 12]
    answers = [(r.at_ns, json.loads(r.detail)) for r in found.records if r.kind == "answer"]
    assert [detail["bar"] for _, detail in answers] == [2, 6, 10, 14]
    for at_ns, detail in answers:
        assert abs(at_ns - detail["bar"] * BAR_NS) < 1000
        assert detail["reasons"]
    assert not details(found, "late")


def test_the_answer_port_plays_in_answer_bars_only_and_low(found):
    ons = [(at_ns, pitch) for at_ns, pitch, on in notes_out(found, "answer") if on]
    assert len(ons) > 20
    for at_ns, pitch in ons:
        assert int((at_ns + 1000) / BAR_NS) % 4 in (2, 3)
        assert 28 <= pitch <= 55  # E1 to G3: the design's example range


def test_what_was_played_goes_through_at_once(found):
    pressed = [r.at_ns for r in found.records if r.kind == "in"]
    sounded = [at_ns for at_ns, _, _ in notes_out(found, "through")]
    assert len(pressed) == 2 * len(ferry.PERFORMANCE)
    assert sorted(sounded) == sorted(pressed)


def test_the_composer_saw_the_notes_that_sounded(found):
    assert len(found.rounds) == 4
    for brief, choices in found.rounds:
        assert not brief.call.partial
        assert all(KEY.contains(note.pitch) for note in brief.call.notes)
        assert len(choices) == 3
    assert [brief.call.first_bar for brief, _ in found.rounds] == [0, 4, 8, 12]


def test_the_picture_shows_an_answer_and_a_moved_key(found):
    shown = found.snapshot
    assert (shown.playing, shown.bar, shown.answer_state) == (True, 12, "playing")
    assert {(held.pressed, held.sounding) for held in shown.held} == {(58, 58), (61, 62)}
    assert shown.answer_sounding
    assert shown.chord == "Bb"


def test_it_is_the_same_every_time(found):
    again = run_ferry()
    assert again.records == found.records
    assert again.snapshot == found.snapshot


def test_the_script_is_in_order():
    times = [event.at_ns for event in script()]
    assert times == sorted(times)
    assert times[-1] == END_NS


def test_the_story_tells_calls_moves_reasons_and_answers(found):
    lines = story(found)
    text = "\n".join(lines)
    assert lines[0].startswith("Night Ferry   D minor, 168 BPM, i:2 VI:2 iv:2 v:2, 2 bars of call")
    for number, chord in ((1, "Dm"), (2, "Gm"), (3, "Dm"), (4, "Gm")):
        assert f"call {number}   bar {4 * number - 3}, over {chord}" in text
    for number, chord in ((1, "B♭"), (2, "Am"), (3, "B♭"), (4, "Am")):
        assert f"answer {number}   bar {4 * number - 1}, over {chord}: " in text
    assert "   moved, bar 1 beat 4.5: G♯ is outside D minor: up to A (5)" in lines
    assert text.count("moved, ") == 5
    for _, choices in found.rounds:
        assert f"   - {choices[0].reasons[0]}".replace("b", "") in text.replace("♭", "").replace(
            "b", ""
        )
    assert max(map(len, lines)) <= 88


def test_places_are_bars_and_beats(found):
    assert place(0, found.config) == "bar 1 beat 1"
    assert place(round(5.375 * BAR_NS) + 7_000_000, found.config) == "bar 6 beat 2.5"
