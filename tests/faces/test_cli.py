"""The command as a whole: exit codes, one-line errors, and never a traceback."""

from __future__ import annotations

import random
import re
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import live
from live.faces import cli as cli_module
from live.faces.cli import main
from live.faces.output import Failed

ROOT = Path(__file__).resolve().parents[2]
COMMANDS = [
    "headless", "demo", "ports", "check", "tell", "snap", "degrees", "key", "answer", "takes",
    "drill", "render",
]  # fmt: skip
"""Every command of the design's contract."""

HEAVY = ("numpy", "PyQt6", "rtmidi", "mido", "sounddevice", "sqlite3", "platformdirs", "asyncio")


def test_help_names_every_command_and_loads_nothing_heavy(shell):
    program = (
        "import sys; from live.faces.cli import main; code = main(['--help']);"
        "print(sorted({m.split('.')[0] for m in sys.modules}), file=sys.stderr); sys.exit(code)"
    )
    ended = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, cwd=ROOT, check=False
    )
    assert ended.returncode == 0
    for command in COMMANDS:
        assert re.search(rf"^    {command} ", ended.stdout, re.MULTILINE)
    loaded = ended.stderr
    assert "'argparse'" in loaded
    assert not [name for name in HEAVY if f"'{name}'" in loaded]


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_has_help(cli, command):
    spoken = cli(command, "--help")
    assert spoken.code == 0
    assert f"usage: undersong {command}" in spoken.out


def test_offline_commands_need_no_ports_or_window(home, call_mid):
    program = (
        "import sys; from live.faces.cli import main;"
        f"code = main(['degrees', {str(call_mid)!r}]);"
        "print([m for m in ('rtmidi', 'PyQt6', 'sounddevice', 'numpy') if m in sys.modules],"
        " file=sys.stderr); sys.exit(code)"
    )
    ended = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, cwd=ROOT, check=False
    )
    assert (ended.returncode, ended.stderr.strip()) == (0, "[]")


def test_version(cli):
    assert cli("--version") == (0, f"undersong {live.__version__}\n", "")


def test_module_and_command_are_the_same(shell):
    assert shell("--version").out.strip() == f"undersong {live.__version__}"


@pytest.mark.parametrize(
    "argv",
    [
        ["--bogus"],
        ["bogus"],
        ["key"],
        ["takes", "burn"],
        ["snap", "a.mid"],
        ["answer", "a.mid"],
        ["tell"],
        ["key", "a.mid", "--jso"],
    ],
)
def test_a_mistake_in_the_words_is_one_line_and_2(cli, argv):
    code, out, err = cli(*argv)
    assert (code, out) == (2, "")
    assert re.fullmatch(r"undersong: .+ \(see 'undersong.* --help'\)\n", err)


@pytest.mark.parametrize(
    ("argv", "field"),
    [
        (["snap", "{call}", "{out}", "--key", "H minor"], "key"),
        (["snap", "{call}", "{out}", "--key", "D wobbly"], "key"),
        (["snap", "{call}", "{out}", "--key", "D minor", "--snap", "sideways"], "snap"),
        (["snap", "{call}", "{out}", "--key", "D minor", "--seed", "x"], "seed"),
        (["snap", "{call}", "{out}", "--key", "D minor", "--progression", "i XX"], "chord"),
        (["snap", "{missing}", "{out}", "--key", "D minor"], "file"),
        (["snap", "{call}", "{missing}/x/y.mid", "--key", "D minor"], "file"),
        (["snap", "{empty}", "{out}", "--key", "D minor"], "file"),
        (["degrees", "{call}", "--key", ""], "key"),
        (["degrees", "{folder}"], "file"),
        (["degrees", "{junk}"], "file"),
        (["key", "{empty}"], "file"),
        (["key", "{silent}"], "file"),
        (["answer", "{call}", "--key", "D minor", "--bars", "0"], "bars"),
        (["answer", "{call}", "--key", "D minor", "--bars", "17"], "bars"),
        (["answer", "{call}", "--key", "D minor", "--choices", "9"], "choices"),
        (["answer", "{call}", "--key", "D minor", "--range", "E1"], "range"),
        (["answer", "{call}", "--key", "D minor", "--range", "E1:F1"], "range"),
        (["answer", "{call}", "--key", "D minor", "--groove", "polka"], "groove"),
        (["answer", "{call}", "--key", "D minor", "--groove", "waltz"], "groove"),
        (["answer", "{call}", "--key", "D minor", "--groove", "kick x..."], "groove"),
        (["answer", "{call}", "--key", "D minor", "--groove", "{silent}"], "groove"),
        (["answer", "{call}", "--key", "D minor", "--groove", "{missing}.mid"], "file"),
        (["answer", "{call}", "--key", "D minor", "--groove", "{junk}"], "file"),
        (["answer", "{call}", "--key", "D minor", "--progression", "i:0"], "length"),
        (["render", "{missing}", "{out}"], "file"),
        (["takes", "import", "{junk}"], "file"),
        (["takes", "export", "7"], "take"),
        (["takes", "export", "x"], "take"),
        (["takes", "export"], "take"),
        (["takes", "export", "last", "1"], "take"),
        (["drill", "--typed", "--key", "Q"], "key"),
        (["drill", "--typed", "--rounds", "0"], "rounds"),
        (["drill", "--typed", "--seed", "half"], "seed"),
        (["headless", "--for", "nan"], "for"),
        (["headless", "--for", "1", "--config", "{missing}"], "settings file"),
        (["headless", "--for", "1", "--config", "{junk}"], "settings file"),
        (["check", "--seconds", "-1"], "seconds"),
    ],
)
def test_a_bad_value_names_field_value_and_what_is_allowed(cli, tmp_path, call_mid, argv, field):
    (tmp_path / "empty.mid").write_bytes(b"")
    (tmp_path / "junk.mid").write_bytes(b"MThd\x00\x00\x00\x06\x00\x01\xff\xff not a song")
    # A whole file without a note: header and one track that only ends (RP-001).
    header = b"MThd\x00\x00\x00\x06\x00\x00\x00\x01\x01\xe0"
    (tmp_path / "silent.mid").write_bytes(header + b"MTrk\x00\x00\x00\x04\x00\xff\x2f\x00")
    names = {
        "call": call_mid,
        "out": tmp_path / "out.mid",
        "missing": tmp_path / "missing.mid",
        "empty": tmp_path / "empty.mid",
        "junk": tmp_path / "junk.mid",
        "silent": tmp_path / "silent.mid",
        "folder": tmp_path,
    }
    code, out, err = cli(*(word.format(**names) for word in argv))
    assert (code, out) == (2, "")
    assert re.match(rf"undersong: {field}( \([^)]*\))?: got .*; allowed: .+\n$", err), err
    assert err.count("\n") == 1
    assert not (tmp_path / "out.mid").exists()


def test_a_folder_that_cannot_be_made(cli, tmp_path, call_mid):
    (tmp_path / "file").write_text("in the way")
    code, out, err = cli("answer", call_mid, "--key", "D minor", "--out", tmp_path / "file" / "x")
    assert (code, out) == (2, "")
    assert err.startswith("undersong: folder: got ")
    assert err.count("\n") == 1


@pytest.mark.parametrize(
    ("error", "code", "line"),
    [
        (Failed("It broke."), 1, "undersong: It broke.\n"),
        (PermissionError(13, "Not allowed", "x.mid"), 1, "undersong: x.mid: Not allowed\n"),
        (OSError("odd"), 1, "undersong: odd\n"),
        (KeyboardInterrupt(), 130, ""),
    ],
)  # fmt: skip
def test_how_errors_end(monkeypatch, capsys, error, code, line):
    def fail(_args):
        raise error

    monkeypatch.setattr(cli_module, "_dispatch", fail)
    assert main(["ports"]) == code
    assert capsys.readouterr().err == line


def test_a_fault_of_ours_is_one_line_unless_a_traceback_is_wanted(monkeypatch, capsys):
    def fail(_args):
        raise ZeroDivisionError("a bug")

    monkeypatch.setattr(cli_module, "_dispatch", fail)
    monkeypatch.delenv("UNDERSONG_TRACE", raising=False)
    assert main(["ports"]) == 1
    line = capsys.readouterr().err
    assert line.startswith("undersong: a fault in Undersong itself: ZeroDivisionError('a bug')")
    assert line.count("\n") == 1
    monkeypatch.setenv("UNDERSONG_TRACE", "1")
    with pytest.raises(ZeroDivisionError):
        main(["ports"])


def test_a_reader_that_leaves_early_is_no_error(home, call_mid):
    command = [sys.executable, "-m", "live", "degrees", str(call_mid)]
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=ROOT
    ) as process:
        process.stdout.close()
        assert process.stderr.read() == b""
        assert process.wait(20) == 1


def test_a_full_disk_is_one_sentence(home, call_mid):
    if not Path("/dev/full").exists():
        pytest.fail("this test needs /dev/full (Linux)")
    with Path("/dev/full").open("w") as full:
        ended = subprocess.run(
            [sys.executable, "-m", "live", "degrees", str(call_mid)],
            stdout=full, stderr=subprocess.PIPE, text=True, cwd=ROOT, check=False,
        )  # fmt: skip
    assert ended.returncode == 1
    assert ended.stderr == "undersong: No space left on device\n"


def test_closed_output_is_no_traceback(home, call_mid):
    line = f"exec {sys.executable} -m live degrees {call_mid} >&-"
    ended = subprocess.run(
        ["bash", "-c", line], stderr=subprocess.PIPE, text=True, cwd=ROOT, check=False
    )
    assert ended.returncode in (0, 1)
    assert "Traceback" not in ended.stderr


WORDS = st.sampled_from(
    ["snap", "degrees", "key", "answer", "takes", "tell", "render", "drill", "list", "export",
     "import", "last", "1", "--key", "D minor", "--json", "--progression", "i VI", "--bars", "2",
     "--choices", "--seed", "--range", "E1:G3", "--typed", "--rounds", "3", "{call}", "{out}",
     "{junk}", "--out", "{folder}", "--snap", "chord", "status", "-", "--", "-1", "--version"]
) | st.text(max_size=6)  # fmt: skip


@settings(
    max_examples=250, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(st.sampled_from(["snap", "degrees", "key", "answer", "takes", "tell", "render"]),
       st.lists(WORDS, max_size=8))  # fmt: skip
def test_no_words_lead_to_a_traceback(home, call_mid, first, words):
    (home / "junk.mid").write_bytes(bytes(range(200)))
    names = {"call": call_mid, "out": "out.mid", "junk": "junk.mid", "folder": "there"}
    argv = [names.get(word.strip("{}"), word) if word[:1] == "{" else word for word in words]
    assert main([first, *map(str, argv)]) in (0, 1, 2)


@pytest.mark.parametrize("command", ["degrees", "key", "answer", "snap", "render", "import"])
def test_no_file_leads_to_a_traceback(cli, tmp_path, call_mid, command):
    chance = random.Random(command)
    whole = call_mid.read_bytes()
    path, out = tmp_path / "bent.mid", tmp_path / "bent-out"
    tails = {
        "answer": ["--key", "D minor"],
        "snap": [out, "--key", "D minor", "--snap", "chord", "--progression", "i iv"],
        "render": [out],
    }
    head = ["takes", "import"] if command == "import" else [command]
    codes = set()
    for _ in range(12 if command == "render" else 60):
        bent = bytearray(whole[: chance.randrange(len(whole) + 1)])
        for _ in range(chance.randrange(6)):
            if bent:
                bent[chance.randrange(len(bent))] = chance.randrange(256)
        path.write_bytes(bent)
        spoken = cli(*head, path, *tails.get(command, []))
        codes.add(spoken.code)
        assert spoken.code in (0, 2), spoken.err
        assert spoken.err.count("\n") == (1 if spoken.code else 0)
    assert 2 in codes
