"""`tell` against a link served in this process, and against nobody."""

from __future__ import annotations

import json
import os
from pathlib import Path

import pytest

from live.daemon.link_server import LinkServer
from live.notes.phrase import PhraseNote
from live.ports.files import TrackOut, write_song

STATUS = {"ok": True, "key": "D minor", "snap": "nearest", "tempo": 168.0, "playing": False}


@pytest.fixture
def daemon(home):
    """A daemon that knows `status` and `tempo`, and notes what it is told."""
    told: list[tuple[str, list[str]]] = []

    def ask(face: int, command: str, args: list[str]) -> None:
        told.append((command, args))
        if command == "status":
            server.reply(face, STATUS)
        elif command == "tempo" and args == ["168"]:
            server.reply(face, {"ok": True})
        elif command == "start":
            server.reply(face, {"ok": False, "error": "the engine is being started again"})
        else:
            error = "tempo: got 'fast'; allowed: 20 to 400"
            server.reply(face, {"ok": False, "error": error, "bad_input": True})

    server = LinkServer(Path(os.environ["UNDERSONG_LINK"]), ask)
    yield told
    server.close()


def test_status_as_json_is_the_reply(cli, daemon):
    spoken = cli("tell", "status", "--json")
    assert spoken.code == 0
    assert spoken.json == STATUS


def test_status_as_text(cli, daemon):
    lines = cli("tell", "status").out.splitlines()
    assert lines[0] == "key       D minor   snap nearest"
    assert lines[1] == "time      168 BPM   stopped"


def test_a_command_with_words(cli, daemon):
    assert cli("tell", "tempo", "168") == (0, "done\n", "")
    assert cli("tell", "tempo", "168", "--json").json == {"ok": True}
    assert daemon == [("tempo", ["168"])] * 2


def test_words_that_look_like_options_reach_the_daemon(cli, daemon):
    assert cli("tell", "tempo", "-5").code == 2
    assert daemon == [("tempo", ["-5"])]


def test_a_refused_value_is_the_daemons_sentence_and_2(cli, daemon):
    code, out, err = cli("tell", "tempo", "fast")
    assert (code, out) == (2, "")
    assert err == "undersong: tempo: got 'fast'; allowed: 20 to 400\n"
    spoken = cli("tell", "tempo", "fast", "--json")
    assert spoken.code == 2
    assert json.loads(spoken.out)["ok"] is False


def test_what_cannot_be_done_now_is_1(cli, daemon):
    code, _, err = cli("tell", "start")
    assert (code, err) == (1, "undersong: the engine is being started again\n")


def test_without_a_daemon_one_sentence_and_1(cli):
    for words in (["status"], ["status", "--json"], ["key", "D minor"]):
        code, out, err = cli("tell", *words)
        assert (code, out) == (1, "")
        assert err.startswith("undersong: no Undersong is running here")
        assert err.count("\n") == 1


def test_a_groove_is_learned_here_from_a_file_and_told_written_out(cli, daemon, tmp_path):
    # Kick on 1 and the 'and' of 3, snare on 2 and 4, for four bars on channel 10.
    notes = tuple(
        PhraseNote(bar * 3840 + step * 240, 100, key, 100)
        for bar in range(4)
        for step, key in ((0, 36), (4, 38), (10, 36), (12, 38))
    )
    write_song(tmp_path / "drums.mid", [TrackOut("drums", 9, notes)])
    cli("tell", "groove", tmp_path / "drums.mid")
    cli("tell", "groove", "half-time")
    assert daemon == [
        ("groove", ["kick x.........x..... snare ....x.......x..."]),
        ("groove", ["half-time"]),
    ]


def test_a_groove_from_a_file_that_is_not_there_is_bad_input(cli, daemon, tmp_path):
    spoken = cli("tell", "groove", tmp_path / "none.mid")
    assert (spoken.code, spoken.out) == (2, "")
    assert "none.mid" in spoken.err
    assert daemon == []


def test_without_a_command_only_that_is_missed(cli):
    code, out, err = cli("tell")
    assert (code, out) == (2, "")
    assert "arguments are required: COMMAND (see" in err
