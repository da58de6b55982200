"""`[[section]]` tables: read, checked, and made into a song plan whose values are all read."""

from __future__ import annotations

import pytest

from live.daemon.section_table import MAX_SECTIONS, SectionRow
from live.daemon.settings import defaults, engine_config, read_toml
from live.notes.form import Form
from live.notes.song import NO_CHORDS, Song
from live.theory.errors import FieldError
from live.theory.keys import parse_key
from live.theory.progressions import parse_progression

BASE = '[play]\nkey = "D minor"\nprogression = "i VI"\n'
ONE = '[[section]]\nname = "Quay"\nbars = 8\n'


def song_in(text: str) -> Song:
    song = engine_config(read_toml(BASE + text, defaults())).song
    assert song is not None
    return song


def test_without_tables_there_is_no_plan() -> None:
    assert engine_config(read_toml(BASE, defaults())).song is None


def test_a_whole_table() -> None:
    table = """
    [[section]]
    name = "Swell"
    bars = 4
    key = "F major"
    progression = "I V"
    groove = "half-time"
    call_bars = 1
    answer_bars = 4
    tempo = 174
    """
    (section,) = song_in(table).sections
    f_major, d_minor = parse_key("F major"), parse_key("D minor")
    assert (section.name, section.bars, section.key) == ("Swell", 4, f_major)
    assert section.progression == parse_progression("I V", f_major)
    assert section.progression_by_hand == parse_progression("I V", d_minor)
    assert (section.groove, section.form, section.tempo_bpm) == ("half-time", Form(1, 4), 174.0)


def test_what_is_left_out_is_as_the_settings_stand() -> None:
    (section,) = song_in(ONE).sections
    assert (section.key, section.progression, section.groove) == (None, None, None)
    assert (section.form, section.tempo_bpm) == (None, None)


def test_the_settings_chords_are_read_in_the_section_s_key() -> None:
    (section,) = song_in(ONE + 'key = "G minor"\n').sections
    assert section.progression == parse_progression("i VI", parse_key("G minor"))
    assert section.progression_by_hand is None  # the settings' own, when a key is set by hand


@pytest.mark.parametrize("text", ["none", ""])
def test_a_section_may_have_no_chords(text: str) -> None:
    (section,) = song_in(ONE + f'progression = "{text}"\n').sections
    assert section.progression == NO_CHORDS


def test_half_a_form_takes_the_other_half_from_the_settings() -> None:
    (section,) = song_in("[form]\nanswer_bars = 4\n" + ONE + "call_bars = 1\n").sections
    assert section.form == Form(1, 4)


def test_the_plan_follows_the_settings() -> None:
    settings = read_toml(BASE + ONE + 'call_bars = 1\nprogression = "i iv"\n', defaults())
    changed = engine_config(settings.changed({"play.key": "E minor", "form.answer_bars": 8}))
    assert changed.song is not None
    (section,) = changed.song.sections
    assert section.progression == parse_progression("i iv", parse_key("E minor"))
    assert section.form == Form(1, 8)


def test_sections_may_use_the_player_s_own_scales() -> None:
    scale = '[[scale]]\nname = "fog"\nsteps = [0, 1, 5, 7, 8]\n'
    (section,) = song_in(ONE + 'key = "D fog"\n' + scale).sections
    assert section.key is not None
    assert section.key.scale.steps == (0, 1, 5, 7, 8)


@pytest.mark.parametrize("repeats", [True, False])
def test_what_comes_after_the_last_section_is_a_setting(repeats: bool) -> None:
    assert song_in(f"[song]\nrepeat = {str(repeats).lower()}\n" + ONE).repeats == repeats


@pytest.mark.parametrize(
    ("text", "field", "got"),
    [
        ("[[section]]\nbars = 8\n", "section.name", "None"),
        ('[[section]]\nname = "Next"\nbars = 8\n', "section.name", "'Next'"),
        ("[[section]]\nname = 5\nbars = 8\n", "section.name", "5"),
        (f'[[section]]\nname = "{"x" * 41}"\nbars = 8\n', "section.name", "xxx"),
        ('[[section]]\nname = "Quay"\n', "section.bars", "None"),
        ('[[section]]\nname = "Quay"\nbars = 0\n', "section.bars", "0"),
        ('[[section]]\nname = "Quay"\nbars = 1025\n', "section.bars", "1025"),
        ('[[section]]\nname = "Quay"\nbars = 2.5\n', "section.bars", "2.5"),
        (ONE + 'key = "H minor"\n', "section.key", "'H minor'"),
        (ONE + "key = 5\n", "section.key", "5"),
        (ONE + 'progression = "i XX"\n', "section.progression", "XX"),
        (ONE + 'groove = "polka"\n', "section.groove", "'polka'"),
        (ONE + "call_bars = 3\n", "section.call_bars", "3"),
        (ONE + "answer_bars = true\n", "section.answer_bars", "True"),
        (ONE + "tempo = 401\n", "section.tempo", "401"),
        (ONE + "tempo = 19\n", "section.tempo", "19"),
        (ONE + "metre = 5\n", "section.metre", "5"),
    ],
)
def test_errors_say_field_what_is_allowed_value_and_line(text: str, field: str, got: str) -> None:
    with pytest.raises(FieldError) as caught:
        read_toml(BASE + ONE + text, defaults())
    message = str(caught.value)
    assert message.startswith(f"{field} (section at line ")
    assert got in message.split("got ")[1]
    assert "allowed: " in message


def test_the_line_is_that_of_the_table_at_fault() -> None:
    with pytest.raises(FieldError, match="section at line 7"):
        read_toml(BASE + ONE + '[[section]]\nname = "Swell"\n', defaults())


def test_chords_that_cannot_be_read_in_another_key_are_refused_when_that_key_is_asked_for() -> None:
    with pytest.raises(FieldError):
        read_toml('[play]\nkey = "D minor"\n' + ONE + 'progression = "i ("\n', defaults())


@pytest.mark.parametrize("tables", ["section = 3\n", '[section]\nname = "Quay"\n'])
def test_what_is_no_list_of_tables_is_refused(tables: str) -> None:
    with pytest.raises(FieldError, match=r"\[\[section\]\]"):
        read_toml(tables, defaults())


def test_a_plan_has_an_end() -> None:
    read_toml(ONE * MAX_SECTIONS, defaults())
    with pytest.raises(FieldError, match=f"at most {MAX_SECTIONS}"):
        read_toml(ONE * (MAX_SECTIONS + 1), defaults())


def test_rows_are_plain_values() -> None:
    assert read_toml(ONE, defaults()).sections == (SectionRow("Quay", 8),)
