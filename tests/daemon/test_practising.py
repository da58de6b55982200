"""Practice as the supervisor runs it: from records and views, without ports."""

from __future__ import annotations

import dataclasses
import random
from pathlib import Path

import pytest

from live.clock.units import TICKS_PER_BEAT, ticks_to_ns
from live.daemon.commands import read_command
from live.daemon.picture import NOTHING_YET
from live.daemon.practising import KEPT_EVERY, Practising
from live.daemon.settings import Settings, defaults, engine_config
from live.notes.events import ANSWER, THROUGH
from live.notes.record import Record
from live.notes.zones import Zone
from live.takes.practised import Practised
from live.theory.errors import FieldError
from live.theory.keys import parse_key

BAR_TICKS = 4 * TICKS_PER_BEAT
TEMPO_BPM = 168.0


@pytest.fixture
def settings(tmp_path: Path) -> Settings:
    return defaults().changed({"play.key": "D minor", "takes.folder": str(tmp_path)})


def practising(settings: Settings) -> tuple[Practising, list[str]]:
    told: list[str] = []
    one = Practising(settings, told.append, [].append, chance=random.Random(5))
    one.start()
    return one, told


def wanted(one: Practising, key: str = "D minor") -> int:
    """The MIDI note that is asked, read from what faces see."""
    label = one.view().label
    degrees = dict(zip(("1", "2", "b3", "4", "5", "b6", "b7"), (0, 2, 3, 5, 7, 8, 10), strict=True))
    return 60 + (parse_key(key).tonic_pc + degrees[label]) % 12


def heard(note: int, at_ns: int = 0, *, port: str = THROUGH, status: int = 0x90) -> Record:
    return Record(at_ns, "out", port, bytes((status, note, 90)))


def at_bar(bar: float, *, playing: bool = True):
    return NOTHING_YET._replace(
        playing=playing, tempo_bpm=TEMPO_BPM, tick=bar * BAR_TICKS,
        anchor_ns=ticks_to_ns(bar * BAR_TICKS, TEMPO_BPM),
    )  # fmt: skip


def test_a_right_note_counts_and_brings_another_question(settings: Settings) -> None:
    one, _ = practising(settings)
    first = one.view()
    one.follow([heard(wanted(one))])
    view = one.view()
    assert (view.outcome, view.right, view.asked) == ("right", 1, 1)
    assert view.label != first.label


@pytest.mark.parametrize(
    "record",
    [
        heard(61, port=ANSWER),
        heard(61, status=0x99),
        heard(61, status=0x80),
        Record(0, "out", THROUGH, bytes((0x90, 61, 0))),
        Record(0, "in", "keys in", bytes((0x90, 61, 90))),
        Record(0, "out", THROUGH, bytes((0xB0, 64, 127))),
        Record(0, "out", THROUGH, b"\xf8"),
    ],
)
def test_only_notes_of_the_player_are_judged(settings: Settings, record: Record) -> None:
    one, _ = practising(settings)
    before = one.view()
    one.follow([record])
    assert one.view() == before


def test_while_it_runs_nothing_is_snapped_and_nothing_answers(settings: Settings) -> None:
    one, _ = practising(settings)
    zones = (Zone("low", snap="chord", high=47),)
    config = dataclasses.replace(engine_config(settings), zones=zones)
    drilled = one.applied(config)
    assert (drilled.snap, drilled.zones[0].snap, drilled.answer.enabled) == ("off", None, False)
    assert not drilled.start_on_first_note
    white = dataclasses.replace(config, snap="white")
    assert one.applied(white).snap == "white"
    one.stop()
    assert one.applied(config) is config


def test_in_time_a_question_has_its_bars_and_no_more(settings: Settings) -> None:
    one, _ = practising(settings.changed({"practice.bars": 1}))
    one.look(at_bar(0.0))
    first = one.view().label
    one.look(at_bar(0.99))
    assert one.view().label == first
    one.look(at_bar(1.0))
    assert (one.view().outcome, one.view().asked, one.view().right) == ("missed", 1, 0)


def test_a_note_before_the_bar_line_counts_though_its_view_comes_after(settings: Settings) -> None:
    one, _ = practising(settings.changed({"practice.bars": 1}))
    one.look(at_bar(0.0))
    late_ns = ticks_to_ns(BAR_TICKS, TEMPO_BPM) - 1_000_000
    one.follow([heard(wanted(one), late_ns)])
    assert one.view().right == 1


def test_a_note_after_the_bar_line_answers_the_next_question(settings: Settings) -> None:
    one, _ = practising(settings.changed({"practice.bars": 1}))
    one.look(at_bar(0.0))
    note = wanted(one)
    one.follow([heard(note, ticks_to_ns(BAR_TICKS, TEMPO_BPM) + 1_000_000)])
    view = one.view()
    assert (view.right, view.asked) == (0, 2)  # missed the first, and played it to the second


@pytest.mark.parametrize("bars", [0, 1])
def test_without_time_a_question_waits(settings: Settings, bars: int) -> None:
    one, _ = practising(settings.changed({"practice.bars": bars}))
    first = one.view().label
    for bar in range(9):
        one.look(at_bar(float(bar), playing=bars == 0))
    assert (one.view().label, one.view().asked) == (first, 0)


def test_a_transport_that_begins_anew_does_not_end_the_question(settings: Settings) -> None:
    one, _ = practising(settings.changed({"practice.bars": 2}))
    one.look(at_bar(40.0))
    one.look(at_bar(42.0))
    asked = one.view().asked
    one.look(at_bar(0.0))
    one.look(at_bar(1.9))
    assert one.view().asked == asked
    one.look(at_bar(2.0))
    assert one.view().asked == asked + 1


def test_what_was_learned_is_there_the_next_time(settings: Settings, tmp_path: Path) -> None:
    one, _ = practising(settings)
    for _ in range(4):
        one.follow([heard(wanted(one))])
    assert not (tmp_path / "practised.json").exists()
    one.stop()
    drill = Practised(tmp_path).drill(parse_key("D minor"))
    assert sum(t.asked for t in drill.tallies) <= 2  # half of four, rounded down by degree
    assert (tmp_path / "practised.json").exists()


def test_a_long_practice_is_written_down_as_it_goes(settings: Settings, tmp_path: Path) -> None:
    one, _ = practising(settings)
    for _ in range(KEPT_EVERY):
        one.follow([heard(wanted(one))])
    assert (tmp_path / "practised.json").exists()


def test_a_folder_that_cannot_be_written_costs_no_practice(
    settings: Settings, tmp_path: Path
) -> None:
    one, told = practising(settings)
    (tmp_path / "practised.json").mkdir()
    one.follow([heard(wanted(one))])
    one.stop()
    assert "not remembered" in told[0]


def test_without_a_folder_practice_goes_on(settings: Settings, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("no folder", encoding="utf-8")
    one, told = practising(settings.changed({"takes.folder": str(tmp_path / "file" / "in")}))
    assert one.is_on
    assert "not remembered" in told[0]


def test_another_key_begins_anew_and_the_score_with_it(settings: Settings) -> None:
    one, _ = practising(settings)
    one.follow([heard(wanted(one))])
    one.use(settings.changed({"play.key": "F# minor"}))
    assert one.view().asked == 0
    one.follow([heard(wanted(one, "F# minor"))])
    assert one.view().right == 1


def test_other_settings_leave_the_question(settings: Settings) -> None:
    one, _ = practising(settings)
    before = one.view()
    one.use(settings.changed({"time.tempo": 90.0}))
    assert one.view() == before


def test_chord_tones_of_the_progression(settings: Settings) -> None:
    one, _ = practising(
        settings.changed({"play.progression": "i VI iv v", "practice.asks": "chord tones"})
    )
    view = one.view()
    assert view.chord in ("i", "VI", "iv", "v")
    assert view.label in ("R", "b3", "3", "5")


@pytest.mark.parametrize("words", [[], ["sideways"], ["start", "stop"]])
def test_wrong_words_are_refused(words: list[str]) -> None:
    with pytest.raises(FieldError, match="drill"):
        read_command("drill", words)


def test_passing_needs_a_drill(settings: Settings) -> None:
    one, _ = practising(settings)
    first = one.view().label
    one.do("pass")
    assert (one.view().label != first, one.view().asked) == (True, 0)
    one.do("stop")
    with pytest.raises(FieldError, match="none runs"):
        one.do("pass")
