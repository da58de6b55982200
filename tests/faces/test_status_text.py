from __future__ import annotations

import dataclasses

from live.faces.status_text import status_lines
from tests.faces.states import snapshot_named

STATUS = {
    "ok": True,
    "key": "Bb major",
    "snap": "nearest",
    "tempo": 168.0,
    "clock": "following",
    "playing": True,
    "bar": 5,
    "beat": 2.5,
    "chord": "Ebmaj7",
    "progression": "I IV",
    "held": [61, 65],
    "sounding": [62, 65],
    "answer_state": "composing",
    "groove": "two-step",
    "kept": 3,
    "hearing": {
        "keys": [["Bb major", 0.71], ["G minor", 0.2]],
        "proposed_key": "",
        "chord": "Bb/D",
        "numeral": "I",
        "low_end": "muddy",
        "low_end_reason": "D2 and F2: too low",
        "low_end_advice": "move F2 up an octave",
    },
    "inputs": [{"role": "keys in", "name": "x:keys in", "state": "open", "reason": "our own"}],
    "outputs": [],
    "lost": 1,
    "late_ms_p99": 0.25,
    "notice": "the outside clock has gone; tempo kept",
}


def test_a_running_daemon_at_a_glance():
    assert status_lines(STATUS) == [
        "key       B♭ major   snap nearest",
        "time      168 BPM   follows clock   bar 5 beat 2.5",
        "harmony   E♭maj7   I IV",
        "held      D♭4 F4   B♭/D I",
        "sounding  D4 F4",
        "low end   muddy   D2 and F2: too low   move F2 up an octave",
        "heard     B♭ major 71 %   G minor 20 %",
        "answer    composing   over two-step   3 phrases kept",
        "inputs    keys in: open (our own)",
        "outputs   none yet",
        "health    1 message lost   late by 0.25 ms at most in 99 of 100",
        "! the outside clock has gone; tempo kept",
    ]


def test_a_stopped_one():
    still = {"playing": False, "held": [], "sounding": [], "notice": "", "hearing": {}}
    lines = status_lines(STATUS | still)
    assert lines[1] == "time      168 BPM   follows clock   stopped"
    assert lines[3] == "held      nothing"
    assert lines[5:7] == ["low end   no chord", "heard     nothing yet"]
    assert len(lines) == 11


def test_another_key_that_is_heard_comes_with_the_way_to_take_it():
    hearing = {"keys": [["B minor", 0.9]], "proposed_key": "B minor"}
    line = status_lines(STATUS | {"hearing": hearing})[6]
    assert line == "heard     B minor 90 %   (take it: undersong tell key heard)"


def test_a_status_with_gaps_is_still_shown():
    assert status_lines({"ok": True, "key": "?"})[0] == "key       ?"


def test_a_drill_that_runs_is_a_line_of_its_own():
    drill = snapshot_named("drill-chord").drill
    status = {"key": "D minor", "drill": dataclasses.asdict(drill)}
    line = next(line for line in status_lines(status) if line.startswith("drill"))
    assert line.split("  ", 1)[1].strip() == (
        "play ♭3 of iv   8 of 10 right   right: root of v is A, the dominant"
    )


def test_a_degree_that_is_to_be_found_by_ear_is_not_named():
    drill = snapshot_named("drill-by-ear-wrong").drill
    status = {"key": "D minor", "drill": dataclasses.asdict(drill)}
    line = next(line for line in status_lines(status) if line.startswith("drill"))
    assert line.split("  ", 1)[1].strip() == "a degree by ear   4 of 6 right   wrong: A is the 5"


def test_the_section_of_a_song_and_what_comes_after_it():
    quay = {"section": "Quay", "section_bar": 3, "section_bars": 8, "next_section": "Swell"}
    lines = status_lines(STATUS | quay | {"song_repeats": False})
    assert lines[2] == "song      Quay   bar 3 of 8   then Swell"
    lines = status_lines(STATUS | quay | {"song_repeats": True})
    assert lines[2].endswith("then Swell   after the last section the plan begins again")
    last = quay | {"next_section": "", "section_bar": 11, "song_repeats": False}
    assert status_lines(STATUS | last)[2] == "song      Quay   bar 11   the last section stays"
