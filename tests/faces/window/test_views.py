from __future__ import annotations

from dataclasses import replace

import pytest

from live.daemon.hearing import Listening
from live.daemon.picture import NOTHING_YET
from live.daemon.snapshot import PortView
from live.faces.window import words
from live.faces.window.views import NO_DAEMON, WAITING, Moment, views_of
from live.theory.keys import parse_key
from tests.faces.states import IDLE, SAMPLES, snapshot_named


def status(snapshot, **moment) -> str:
    return views_of(snapshot, Moment(**moment)).status.text


def test_without_a_daemon_every_part_says_so_and_what_to_do() -> None:
    views = views_of(None, Moment(gone="no Undersong is running here"))
    assert views.status.text == "No Undersong is running here"
    assert views.degree == NO_DAEMON.degree
    assert "undersong headless" in views.lanes.call_note
    assert views.foot.values == ()


def test_before_the_first_snapshot_nothing_is_claimed() -> None:
    assert views_of(None, Moment()) is WAITING


def test_an_error_goes_before_a_hint_before_a_panic_before_a_notice_before_the_ports() -> None:
    noticed = replace(IDLE, notice="no sound: there is no audio device")
    assert status(noticed, error="e", hint="h", panicked=True) == "E"
    assert status(noticed, hint="h", panicked=True) == "h"
    assert status(noticed, panicked=True) == "Panic: every note released"
    assert status(noticed) == "No sound: there is no audio device"
    assert status(IDLE).startswith("Ports: keys in, keys in from desk keyboard")


def test_a_lost_clock_is_told_in_words() -> None:
    assert status(snapshot_named("clock-lost")).startswith("The outside clock has gone")


def test_losses_are_always_shown() -> None:
    lost = replace(IDLE, lost=3, late_answers=1)
    assert views_of(lost, Moment(error="x")).status.aside == "3 lost   1 late"
    assert views_of(IDLE, Moment()).status.aside == ""


def test_a_port_that_is_not_open_is_told_with_its_reason() -> None:
    broken = replace(IDLE, inputs=(PortView("keys in", "", "no MIDI service", "no JACK server"),))
    assert words.ports_words(broken).startswith("Ports: keys in not open (no JACK server)")


@pytest.mark.parametrize(
    ("clock", "state", "wanted"),
    [
        ("internal", "running", "own clock"),
        ("internal", "stopped", "own clock"),
        ("following", "running", "follows clock"),
        ("following", "stopped", "clock stopped"),
        ("following", "lost", "clock lost"),
    ],
)
def test_the_clock_in_words(clock: str, state: str, wanted: str) -> None:
    assert words.clock_words(replace(IDLE, clock=clock, clock_state=state)) == wanted


def test_the_chord_that_sounds_is_bold_in_the_progression() -> None:
    foot = views_of(snapshot_named("moved"), Moment()).foot
    progression = next(value for value in foot.values if value.field == "progression")
    assert progression.runs == (("i", False), ("VI", True), ("iv", False), ("v", False))
    assert progression.note == "bar 4 of 8"


def test_without_a_progression_the_chords_come_from_the_call() -> None:
    bare = replace(IDLE, progression="", progression_bars=0)
    value = next(v for v in views_of(bare, Moment()).foot.values if v.field == "progression")
    assert (value.text, value.note) == ("chords", "from the call")


def test_start_is_offered_while_our_own_clock_counts_or_the_other_is_lost() -> None:
    def startable(name: str) -> bool:
        return views_of(snapshot_named(name), Moment()).foot.startable

    assert [startable(name) for name in ("idle", "in-key", "clock-lost")] == [True, False, True]


def test_every_state_of_the_design_has_a_sample() -> None:
    # Compact and wall are sizes.
    names = {sample.name for sample in SAMPLES}
    assert names == {
        "no-daemon", "nothing-connected", "idle", "in-key", "moved", "chord", "call", "composing",
        "answer", "held", "clock-lost", "panic", "error", "muddy", "other-key",
        "drill-asking", "drill-judging", "drill-chord", "drill-by-ear", "drill-by-ear-wrong",
        "section",
    }  # fmt: skip


@pytest.mark.parametrize("name", ["chord", "muddy"])
def test_samples_say_of_a_chord_what_the_daemon_says(name: str) -> None:
    snapshot = snapshot_named(name)
    heard = NOTHING_YET._replace(
        chord_notes=snapshot.sounding, answer_sounding=snapshot.answer_sounding
    )
    found = Listening().hear(heard, parse_key(snapshot.key))
    assert replace(found, low_end_reason="") == snapshot.hearing


@pytest.mark.parametrize("name", ["idle", "moved", "call", "composing", "answer", "held"])
def test_samples_are_possible_snapshots(name: str) -> None:
    from live.daemon.snapshot import snapshot_from_json

    snapshot = snapshot_named(name)
    assert snapshot_from_json(snapshot.to_json()) == snapshot


def test_a_muddy_low_end_goes_before_another_key_before_the_ports() -> None:
    muddy, other = snapshot_named("muddy"), snapshot_named("other-key")
    assert status(muddy) == "Muddy down low: move F2 up an octave"
    assert status(other) == "You seem to play in B minor; F1, then Return takes it"
    both = replace(muddy, hearing=replace(muddy.hearing, proposed_key="B minor"))
    assert status(both) == status(muddy)
    assert status(replace(both, notice="look here")) == "Look here"
    no_way_out = replace(muddy, hearing=replace(muddy.hearing, low_end_advice=""))
    assert status(no_way_out) == "Muddy down low: play it higher, or with fewer notes"
    clear = replace(muddy, hearing=replace(muddy.hearing, low_end="clear"))
    assert status(clear).startswith("Ports:")


@pytest.mark.parametrize(
    ("place", "wanted"),
    [
        ({"section_bar": 3, "section_bars": 8, "next_section": "Landing"}, "Swell 3 of 8"),
        ({"section_bar": 11, "section_bars": 8}, "Swell, bar 11"),
    ],
)
def test_the_foot_tells_the_section_and_the_place_in_it(
    place: dict[str, object], wanted: str
) -> None:
    shown = replace(IDLE, section="Swell", **place)
    foot = views_of(shown, Moment()).foot
    assert {value.field: value.note for value in foot.values}["progression"] == wanted
    plain = views_of(IDLE, Moment()).foot
    assert "Swell" not in str(plain)
