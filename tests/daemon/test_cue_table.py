"""`[[cue]]` tables: read and checked when the settings are, so that nothing fails later."""

from __future__ import annotations

import pytest

from live.daemon.cue_table import COMMANDS_OF_CUES, read_cue, read_wish
from live.daemon.settings import defaults, engine_config, read_toml
from live.notes.cues import Cue, Trigger, Wish
from live.notes.form import Form
from live.theory.errors import FieldError
from live.theory.keys import parse_key

PLAN = '[[section]]\nname = "Swell"\nbars = 4\n[[section]]\nname = "Quiet water"\nbars = 4\n'


def cue(on: str = "note C0", does: str = "panic", channel: int | None = None) -> Cue:
    table = {"on": on, "does": does, **({"channel": channel} if channel is not None else {})}
    return read_cue(table, (), read_toml(PLAN, defaults()).sections)


@pytest.mark.parametrize(
    ("text", "trigger"),
    [
        ("note C0", Trigger("note", 12, 12)),
        ("note 12", Trigger("note", 12, 12)),
        ("notes C0:B0", Trigger("note", 12, 23)),
        ("controller 0", Trigger("controller", 0, 0)),
        ("controller 119", Trigger("controller", 119, 119)),
        ("program 127", Trigger("program", 127, 127)),
        (" pedal ", Trigger("controller", 64, 64)),
    ],
)
def test_messages(text: str, trigger: Trigger) -> None:
    assert cue(text).trigger == trigger
    assert cue(str(trigger)).trigger == trigger


def test_a_channel() -> None:
    assert cue(channel=16).trigger == Trigger("note", 12, 12, 15)


@pytest.mark.parametrize(
    ("does", "wish"),
    [
        ("key F major", Wish("key F major", changes=(("key", parse_key("F major")),))),
        ("snap chord", Wish("snap chord", changes=(("snap", "chord"),))),
        ("tempo 174", Wish("tempo 174", changes=(("tempo_bpm", 174.0),))),
        ("groove half-time", Wish("groove half-time", changes=(("groove", "half-time"),))),
        ("form 1 4", Wish("form 1 4", changes=(("form", Form(1, 4)),))),
        ("form free", Wish("form free")),
        ("progression  i VI", Wish("progression i VI")),
        ("progression none", Wish("progression none")),
        ("set answer.max_velocity 80", Wish("set answer.max_velocity 80")),
        ("tap", Wish("tap")),
        ("tonic", Wish("tonic", tonic=True)),
        ("section next", Wish("section next", section="next")),
        ("section swell", Wish("section swell", section="swell")),
        ("section Quiet water", Wish("section Quiet water", section="Quiet water")),
        ("continue 9", Wish("continue 9", action="continue", value=9)),
        ("choose 2", Wish("choose 2", action="choose", value=2)),
        *((word, Wish(word, action=word)) for word in
          ("again", "more", "keep", "hold", "panic", "start", "stop")),
    ],
)  # fmt: skip
def test_what_a_cue_does_is_read_beforehand(does: str, wish: Wish) -> None:
    assert cue(does=does).wish == wish


def test_every_command_of_a_cue_has_been_tried() -> None:
    tried = {
        str(word).split()[0]
        for word in ("key", "section", "groove", "snap", "progression", "tempo", "form", "again",
                     "more", "keep", "hold", "choose", "panic", "start", "stop", "continue", "tap",
                     "set")
    }  # fmt: skip
    assert tried == set(COMMANDS_OF_CUES)


@pytest.mark.parametrize(
    ("table", "field"),
    [
        ({"does": "panic"}, "cue.on"),
        ({"on": "note C0"}, "cue.does"),
        ({"on": "note H0", "does": "panic"}, "cue.on"),
        ({"on": "notes C0", "does": "panic"}, "cue.on"),
        ({"on": "notes B0:C0", "does": "panic"}, "cue.on"),
        ({"on": "controller 120", "does": "panic"}, "cue.on"),
        ({"on": "controller x", "does": "panic"}, "cue.on"),
        ({"on": "program 128", "does": "panic"}, "cue.on"),
        ({"on": "pedal 3", "does": "panic"}, "cue.on"),
        ({"on": "bend", "does": "panic"}, "cue.on"),
        ({"on": 5, "does": "panic"}, "cue.on"),
        ({"on": "note C0", "does": "dance"}, "cue.does"),
        ({"on": "note C0", "does": "status"}, "cue.does"),
        ({"on": "note C0", "does": "quit"}, "cue.does"),
        ({"on": "note C0", "does": "panic now"}, "cue.does"),
        ({"on": "note C0", "does": "key H minor"}, "cue.does"),
        ({"on": "note C0", "does": "key heard"}, "cue.does"),
        ({"on": "note C0", "does": "progression i XX"}, "cue.does"),
        ({"on": "note C0", "does": "tempo 1000"}, "cue.does"),
        ({"on": "note C0", "does": "section Harbour"}, "cue.does"),
        ({"on": "note C0", "does": "section"}, "cue.does"),
        ({"on": "note C0", "does": "set ports.client x"}, "cue.does"),
        ({"on": "pedal", "does": "tonic"}, "cue.does"),
        ({"on": "note C0", "does": "panic", "channel": 0}, "cue.channel"),
        ({"on": "note C0", "does": "panic", "channel": 17}, "cue.channel"),
        ({"on": "note C0", "does": "panic", "velocity": 3}, "cue.velocity"),
    ],
)
def test_bad_cues_are_refused_with_the_field(table: dict[str, object], field: str) -> None:
    with pytest.raises(FieldError) as caught:
        read_cue(table, (), read_toml(PLAN, defaults()).sections)
    assert caught.value.field == field
    assert caught.value.allowed


def test_a_section_needs_a_plan() -> None:
    with pytest.raises(FieldError, match=r"\[\[section\]\]"):
        read_wish("section next", (), ())


def test_cues_of_a_file_reach_the_engine_and_learned_ones_come_first() -> None:
    text = '[[cue]]\non = "pedal"\ndoes = "section next"\n' + PLAN
    settings = read_toml(text, defaults())
    (own,) = engine_config(settings).cues
    assert own.wish.section == "next"
    learned = cue("program 3")
    assert engine_config(settings.with_learned((learned,))).cues == (learned, own)
    assert engine_config(settings.with_learned(()).changed({"play.snap": "up"})).cues == (own,)


def test_cues_may_use_the_player_s_own_scales() -> None:
    text = (
        '[[cue]]\non = "note 5"\ndoes = "key D fog"\n'
        '[[scale]]\nname = "fog"\nsteps = [0, 1, 5, 7, 8]\n'
    )
    (one,) = engine_config(read_toml(text, defaults())).cues
    assert dict(one.wish.changes)["key"].scale.steps == (0, 1, 5, 7, 8)


def test_the_line_of_a_bad_cue_is_told() -> None:
    with pytest.raises(FieldError, match="cue at line 4"):
        read_toml('[[cue]]\non = "pedal"\ndoes = "panic"\n[[cue]]\non = "x"\n', defaults())
