"""The snapshot is made from the settings and the engine's view."""

from __future__ import annotations

import json

from live.clock.units import TICKS_PER_BEAT
from live.daemon.picture import NOTHING_YET, Picture
from live.daemon.settings import defaults
from live.daemon.snapshot import ChoiceView, HeldView, NoteView, PortView, snapshot_from_json

SETTINGS = defaults().changed(
    {"play.key": "D minor", "play.progression": "i:2 VI:2 iv:2 v:2", "time.metre": "3/4"}
)


def test_before_the_engine_has_spoken_the_settings_are_shown() -> None:
    snapshot = Picture(SETTINGS).snapshot()
    assert (snapshot.key, snapshot.tempo, snapshot.metre) == ("D minor", 170.0, "3/4")
    assert (snapshot.bar, snapshot.beat, snapshot.chord) == (1, 1.0, "Dm")
    assert (snapshot.progression_bar, snapshot.progression_bars) == (1, 8)
    assert (snapshot.clock, snapshot.clock_state, snapshot.answer_state) == (
        "internal",
        "stopped",
        "idle",
    )


def test_faces_know_what_starts_and_whether_the_bass_answers() -> None:
    shown = Picture(SETTINGS).snapshot()
    assert (shown.first_note_starts, shown.answers) == (True, True)
    quiet = SETTINGS.changed({"time.start_on_first_note": False, "answer.on": False})
    shown = Picture(quiet).snapshot()
    assert (shown.first_note_starts, shown.answers) == (False, False)


def test_the_window_is_told_how_to_look() -> None:
    shown = Picture(SETTINGS.changed({"window.theme": "light", "window.on_top": False})).snapshot()
    assert (shown.theme, shown.on_top) == ("light", False)


def test_place_and_chord_follow_the_tick() -> None:
    picture = Picture(SETTINGS)
    tick = 12 * 3 * TICKS_PER_BEAT + TICKS_PER_BEAT
    picture.view = NOTHING_YET._replace(playing=True, tick=tick, tempo_bpm=171.3, following=True)
    snapshot = picture.snapshot()
    assert (snapshot.bar, snapshot.beat) == (13, 2.0)
    assert (snapshot.progression_bar, snapshot.chord) == (5, "Gm")  # 12 mod 8 = 4: bars 5-6 are iv
    assert (snapshot.tempo, snapshot.clock) == (171.3, "following")


def test_notes_choices_and_ports_are_shown() -> None:
    picture = Picture(SETTINGS)
    note = (0.0, 1.5, 38)
    picture.view = NOTHING_YET._replace(
        call=((0.0, None, 62),),
        choices=((1, 0.9, ("head", "to 1"), ("why",), (note,)), (2, 0.8, ("a", "b"), (), ())),
        chosen=1,
        held=((61, 60), (63, None)),
        sounding=(60,),
        answer_sounding=(38,),
    )
    picture.inputs = (PortView("keys in", "x:keys in", "open"),)
    snapshot = picture.snapshot()
    assert snapshot.call == (NoteView(0.0, None, 62),)
    assert snapshot.answer == (NoteView(0.0, 1.5, 38),)
    assert snapshot.choices[0] == ChoiceView(1, 0.9, ("head", "to 1"), ("why",), snapshot.answer)
    assert snapshot.held == (HeldView(61, 60), HeldView(63, None))
    assert snapshot_from_json(snapshot.to_json()) == snapshot


def test_the_status_is_plain_and_holds_the_promised_names() -> None:
    picture = Picture(SETTINGS)
    picture.view = NOTHING_YET._replace(held=((61, 60),), sounding=(60,), answer_sounding=(38,))
    picture.lost_before = 3
    status = json.loads(json.dumps(picture.status()))
    assert (status["held"], status["sounding"], status["lost"]) == ([61], [38, 60], 3)
    promised = "key snap tempo clock playing bar beat chord held sounding answer_state inputs"
    for name in [*promised.split(), "outputs", "lost", "late_ms_p99"]:
        assert name in status


def test_new_settings_take_effect() -> None:
    picture = Picture(SETTINGS)
    picture.use(SETTINGS.changed({"play.progression": "", "play.key": "E major"}))
    snapshot = picture.snapshot()
    assert (snapshot.key, snapshot.chord, snapshot.progression_bars) == ("E major", "", 0)


def test_what_the_engine_has_in_force_is_shown_rather_than_the_settings() -> None:
    picture = Picture(SETTINGS)
    bar = 3 * TICKS_PER_BEAT
    picture.view = NOTHING_YET._replace(
        playing=True,
        tick=float(5 * bar),
        key="F major",
        progression="I V",
        groove="half-time",
        form=(1, 4, False),
        first_bar=4,
        section=("Swell", 8, "Landing"),
    )
    snapshot = picture.snapshot()
    assert (snapshot.key, snapshot.progression, snapshot.groove) == ("F major", "I V", "half-time")
    assert (snapshot.progression_bar, snapshot.chord) == (2, "C")  # counted from the section
    assert (snapshot.call_bars, snapshot.answer_bars, snapshot.free) == (1, 4, False)
    assert (snapshot.section, snapshot.section_bar, snapshot.section_bars) == ("Swell", 2, 8)
    assert (snapshot.next_section, snapshot.song_repeats) == ("Landing", True)
    assert snapshot_from_json(snapshot.to_json()) == snapshot
    picture.engine_ended()
    assert (picture.snapshot().key, picture.snapshot().section_bar) == ("D minor", 0)
