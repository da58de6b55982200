"""Commands that faces may give."""

from __future__ import annotations

import pytest

from live.answer.grooves import find_groove
from live.daemon.command_list import COMMANDS
from live.daemon.commands import BY_HAND, read_command
from live.daemon.fields import BY_NAME
from live.notes.events import SCREEN_SOURCE, Do, Jump, MidiIn
from live.theory.errors import FieldError


@pytest.mark.parametrize(
    ("words", "changes"),
    [
        ("key D minor", {"play.key": "D minor"}),
        ("snap chord", {"play.snap": "chord"}),
        ("progression i VI iv v", {"play.progression": "i VI iv v"}),
        ("progression none", {"play.progression": ""}),
        ("tempo 171.3", {"time.tempo": 171.3}),
        ("labels plain", {"play.labels": "plain"}),
        ("groove two-step", {"answer.groove": "two-step"}),
        ("form 4 2", {"form.call_bars": 4, "form.answer_bars": 2, "form.free": False}),
        ("form 2 + 2", {"form.call_bars": 2, "form.answer_bars": 2, "form.free": False}),
        ("form free", {"form.free": True}),
        ("set answer.seed 7", {"answer.seed": 7}),
    ],
)
def test_commands_that_change_settings(words: str, changes: dict[str, object]) -> None:
    command, *args = words.split()
    order = read_command(command, args)
    assert order.changes == changes
    assert order.event is None
    assert order.special == ""


@pytest.mark.parametrize("wish", ["start", "stop", "again", "more", "keep", "hold", "panic"])
def test_wishes_go_to_the_engine(wish: str) -> None:
    assert read_command(wish, []).event == Do(0, wish)


def test_choices_and_notes_go_to_the_engine() -> None:
    assert read_command("choose", ["2"]).event == Do(0, "choose", 2)
    assert read_command("note", ["on", "C4"]).event == MidiIn(0, SCREEN_SOURCE, b"\x90\x3c\x5a")
    assert read_command("note", ["on", "60", "1"]).event == MidiIn(
        0, SCREEN_SOURCE, b"\x90\x3c\x01"
    )
    assert read_command("note", ["off", "C4"]).event == MidiIn(0, SCREEN_SOURCE, b"\x80\x3c\x40")


def test_continue_takes_a_bar() -> None:
    assert read_command("continue", []).event == Do(0, "continue", 0)
    assert read_command("continue", ["17"]).event == Do(0, "continue", 17)


@pytest.mark.parametrize("special", ["status", "reload", "quit", "tap"])
def test_what_the_supervisor_does_itself(special: str) -> None:
    assert read_command(special, []).special == special


@pytest.mark.parametrize(
    ("words", "field"),
    [
        ("dance", "command"),
        ("key H minor", "key"),
        ("key", "key"),
        ("snap sideways", "snap"),
        ("progression", "progression"),
        ("tempo fast", "tempo"),
        ("tempo nan", "tempo"),
        ("tempo 401", "tempo"),
        ("form 3 3", "form"),
        ("form 2", "form"),
        ("choose", "choose"),
        ("choose one", "choose"),
        (f"choose {'9' * 5000}", "choose"),
        ("note on C4 loud", "note velocity"),
        (f"note on C4 {'9' * 5000}", "note velocity"),
        ("note up C4", "note"),
        ("note on C4 0", "note velocity"),
        ("note on", "note"),
        ("note on X4", "note"),
        ("status please", "status"),
        ("start now", "start"),
        ("tap twice", "tap"),
        ("continue 0", "continue"),
        ("continue -1", "continue"),
        ("continue here", "continue"),
        ("continue 1 2", "continue"),
        ("continue 16385", "continue"),
        ("continue 999999", "continue"),
        ("set", "set"),
        ("set play.colour red", "setting"),
        ("set ports.client me", "ports.client"),
    ],
)
def test_what_cannot_be_understood_is_told_by_field(words: str, field: str) -> None:
    command, *args = words.split()
    with pytest.raises(FieldError) as caught:
        read_command(command, args)
    assert caught.value.field == field


def test_every_command_says_what_it_does() -> None:
    assert all(COMMANDS.values())
    with pytest.raises(FieldError) as caught:
        read_command("", [])
    assert all(command in caught.value.allowed for command in COMMANDS)


def test_what_is_heard_can_be_taken() -> None:
    def heard(what: str) -> str:
        return {"key": "F# minor", "groove": "kick x......x........ snare ....x.......x..."}[what]

    assert read_command("key", ["heard"], heard=heard).changes == {"play.key": "F# minor"}
    groove = read_command("groove", ["heard"], heard=heard).changes["answer.groove"]
    assert find_groove(groove).kick == (0, 7)
    for command in ("key", "groove"):
        with pytest.raises(FieldError, match=f"once a {command} has been heard"):
            read_command(command, ["heard"])


def test_what_to_forget_is_said_in_a_word() -> None:
    assert (read_command("forget", ["last"]).special, read_command("forget", ["ab12"]).what) == (
        "forget",
        "ab12",
    )
    for words in ([], ["a", "b"]):
        with pytest.raises(FieldError, match="last, all, or the id"):
            read_command("forget", words)


@pytest.mark.parametrize("name", ["next", "back", "Quiet water"])
def test_a_section_is_gone_to_by_its_name(name: str) -> None:
    assert read_command("section", name.split()).event == Jump(0, name)


def test_what_is_to_be_learned_is_a_command_of_its_own() -> None:
    order = read_command("learn", ["key", "F", "major"])
    assert (order.special, order.what) == ("learn", "key F major")


@pytest.mark.parametrize("command", ["section", "learn"])
def test_they_need_a_word(command: str) -> None:
    with pytest.raises(FieldError) as caught:
        read_command(command, [])
    assert caught.value.field == command


def test_every_setting_that_a_section_may_have_counts_as_set_by_hand() -> None:
    values = {"key", "progression", "groove", "tempo", "form"}
    assert set(BY_HAND.values()) == values
    assert set(BY_HAND) <= set(BY_NAME)
