"""Practice by ear as the supervisor runs it: what it has the engine sound, what it keeps back."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from live.daemon.commands import read_command
from live.daemon.opening import unheard
from live.daemon.picture import Picture
from live.daemon.practising import HIDDEN, Practising
from live.daemon.settings import Settings, defaults
from live.daemon.snapshot import PortView
from live.notes.events import ANSWER, Dictate, Do
from live.notes.record import DICTATED, Record
from live.practice.session import SHOWN_AFTER
from live.takes.practised import Practised
from live.theory.errors import FieldError
from live.theory.keys import parse_key
from tests.daemon.test_practising import at_bar, heard

D_MINOR = parse_key("D minor")


@pytest.fixture
def settings(tmp_path: Path) -> Settings:
    return defaults().changed(
        {"play.key": "D minor", "practice.asks": "by ear", "takes.folder": str(tmp_path)}
    )


class Ear:
    """A practice by ear, an engine that is a list, and a player who hears what it got."""

    def __init__(self, settings: Settings, why: str = "") -> None:
        self.told: list[str] = []
        self.dictated: list[Dictate] = []
        self.one = Practising(
            settings, self.told.append, self.dictated.append, lambda: why, random.Random(5)
        )
        self.one.start()

    @property
    def note(self) -> int:
        return self.dictated[-1].notes[-1].pitch

    def play(self, away: int = 0, at_ns: int = 0) -> None:
        self.one.follow([heard(self.note % 12 + 60 + away, at_ns)])


def test_a_question_is_heard_and_not_named(settings: Settings) -> None:
    ear = Ear(settings)
    view = ear.one.view()
    assert (view.on, view.asks, view.label, view.name, view.chord) == (True, "by ear", "?", "", "")
    (event,) = ear.dictated
    assert [note.pitch % 12 for note in event.notes[:-1]] == [2, 5, 9, 2]
    assert event.notes[-1].pitch % 12 in D_MINOR.pitch_classes
    assert event.wait_beats == 0


def test_what_is_found_is_named_and_the_next_one_sounds_after_a_beat(settings: Settings) -> None:
    ear = Ear(settings)
    ear.play()
    view = ear.one.view()
    assert (view.right, view.asked, view.outcome, view.label) == (1, 1, "right", HIDDEN)
    assert view.words.startswith("right: ")
    assert [event.wait_beats for event in ear.dictated] == [0, 1]
    assert (ear.dictated[1].notes[-1].pitch - ear.dictated[0].notes[-1].pitch) % 12


def test_a_miss_gives_nothing_away_until_the_note_is_shown(settings: Settings) -> None:
    ear = Ear(settings)
    for _ in range(SHOWN_AFTER):
        view = ear.one.view()
        assert (view.label, view.name, view.shown, view.weak) == (HIDDEN, "", None, "")
        ear.play(away=3)
    view = ear.one.view()
    assert view.shown == ear.note % 12
    assert view.label in ("1", "2", "b3", "4", "5", "b6", "b7")
    assert (bool(view.name), view.weak) == (True, view.label)
    assert len(ear.dictated) == 1


def test_a_miss_is_told_by_what_was_played(settings: Settings) -> None:
    ear = Ear(settings)
    ear.play(away=3)
    words = ear.one.view().words
    assert words.startswith("wrong: ")
    assert ";" not in words  # what it should have been stands after one


def test_what_undersong_plays_itself_is_not_judged(settings: Settings) -> None:
    ear = Ear(settings)
    before = ear.one.view()
    data = bytes((0x90, ear.note, 80))
    ear.one.follow([Record(0, "out", ANSWER, data, DICTATED)])
    assert ear.one.view() == before


def test_every_degree_is_asked_and_within_the_range_of_the_bass(settings: Settings) -> None:
    ear = Ear(settings.changed({"answer.range": "C2:C3", "answer.max_velocity": 50}))
    for _ in range(60):
        ear.play()
    notes = [note for event in ear.dictated for note in event.notes]
    assert {event.notes[-1].pitch % 12 for event in ear.dictated} == set(D_MINOR.pitch_classes)
    assert {note.pitch for note in notes} <= set(range(36, 49))
    assert max(note.velocity for note in notes) == 50


def test_again_is_the_engines_affair_and_changes_no_question(settings: Settings) -> None:
    ear = Ear(settings)
    before = ear.one.view()
    assert ear.one.do("again") == Do(0, "again")
    assert (ear.one.view(), len(ear.dictated)) == (before, 1)


def test_again_needs_a_drill_by_ear(settings: Settings) -> None:
    ear = Ear(settings.changed({"practice.asks": "degrees"}))
    assert ear.dictated == []
    with pytest.raises(FieldError, match=r"drill again.*by name"):
        ear.one.do("again")
    ear.one.stop()
    with pytest.raises(FieldError, match=r"drill again.*none runs"):
        ear.one.do("again")
    assert read_command("drill", ["again"]).what == "again"


def test_the_end_ends_what_sounds_and_so_does_another_way_of_asking(settings: Settings) -> None:
    ear = Ear(settings)
    ear.one.do("stop")
    assert ear.dictated[-1].notes == ()
    ear.one.do("stop")
    assert len(ear.dictated) == 2
    ear.one.do("start")
    ear.one.use(settings.changed({"practice.asks": "both"}))
    assert ear.dictated[-1].notes == ()
    assert ear.one.view().label != HIDDEN


@pytest.mark.parametrize("wish", ["pass", "start"])
def test_another_question_sounds_at_once(settings: Settings, wish: str) -> None:
    ear = Ear(settings)
    ear.one.do(wish)
    assert ear.dictated[-1].notes
    assert ear.dictated[-1].wait_beats == 0


def test_another_key_is_heard_anew(settings: Settings) -> None:
    ear = Ear(settings)
    ear.one.use(settings.changed({"play.key": "E minor"}))
    assert ear.dictated[-1].notes[0].pitch % 12 == 4
    count = len(ear.dictated)
    ear.one.use(settings.changed({"play.key": "E minor", "time.tempo": 90.0}))
    assert ear.one.view().on
    assert ear.dictated[count - 1].notes


def test_another_engine_is_told_what_is_asked(settings: Settings) -> None:
    ear = Ear(settings)
    ear.one.engine_began()
    assert ear.dictated[1] == ear.dictated[0]
    ear.one.stop()
    count = len(ear.dictated)
    ear.one.engine_began()
    assert len(ear.dictated) == count


@pytest.mark.parametrize(("asked_at", "ends_at"), [(0.01, 2), (0.5, 3), (0.26, 3), (1.01, 3)])
def test_in_time_a_question_has_its_bars_after_its_note_was_heard(
    settings: Settings, asked_at: float, ends_at: int
) -> None:
    # The next beat, three beats of key and rest, the note, the next bar line, and one bar.
    ear = Ear(settings.changed({"practice.bars": 1}))
    ear.one.look(at_bar(asked_at))
    ear.one.do("pass")
    asked, count = ear.one.view().asked, len(ear.dictated)
    ear.one.look(at_bar(ends_at - 0.01))
    assert (ear.one.view().asked, len(ear.dictated)) == (asked, count)
    ear.one.look(at_bar(ends_at + 0.01))
    assert (ear.one.view().asked, len(ear.dictated)) == (asked + 1, count + 1)
    assert ear.one.view().words.startswith("missed: ")


def test_what_is_found_by_ear_is_remembered_apart(settings: Settings, tmp_path: Path) -> None:
    ear = Ear(settings)
    for _ in range(16):
        ear.play()
    ear.one.stop()
    log = Practised(tmp_path)
    assert sum(t.right for t in log.drill(D_MINOR, by_ear=True).tallies) > 0
    assert sum(t.asked for t in log.drill(D_MINOR).tallies) == 0


def test_that_nothing_can_be_heard_is_said_once(settings: Settings) -> None:
    ear = Ear(settings, "nothing can be heard")
    ear.one.do("stop")
    ear.one.do("start")
    assert ear.told == ["nothing can be heard"]


def test_by_name_nobody_asks_whether_it_can_be_heard(settings: Settings) -> None:
    assert Ear(settings.changed({"practice.asks": "degrees"}), "nothing").told == []


OPEN = PortView(ANSWER, "answer", "open", "our own port")
AWAY = PortView(ANSWER, "synth", "waiting", "not there")
KEYS = PortView("keys in", "keys in", "open", "our own port")


@pytest.mark.parametrize(
    ("sound", "inputs", "outputs", "is_unheard"),
    [
        (False, (KEYS,), (AWAY,), True), (False, (KEYS,), (), True),
        (False, (KEYS,), (OPEN,), False), (True, (KEYS,), (AWAY,), False),
        (False, (), (), False),
    ],
)  # fmt: skip
def test_whether_anything_can_be_heard_is_said_where_it_is_known(
    sound: bool, inputs: tuple[PortView, ...], outputs: tuple[PortView, ...], is_unheard: bool
) -> None:
    picture = Picture(defaults().changed({"sound.on": sound}), inputs=inputs, outputs=outputs)
    assert ("sound.on" in unheard(picture)) == is_unheard
