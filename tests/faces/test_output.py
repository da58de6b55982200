from __future__ import annotations

import io
import json
import sys

from live.faces.output import aside, columns, complain, emit_json, plural, say


def test_columns_align_left_and_right():
    lines = columns([("bar", "note"), ("1", "F4"), ("12", "B♭3")], right=(0,), indent=1)
    assert lines == [" bar  note", "   1  F4", "  12  B♭3"]


def test_columns_take_ragged_rows_and_none():
    assert columns([("a", "b", "c"), ("aa",)]) == ["a   b  c", "aa"]
    assert columns([]) == []


def test_json_is_one_ascii_object(capsys):
    emit_json({"key": "B♭ major", "notes": 3})
    out = capsys.readouterr().out
    assert out.isascii()
    assert json.loads(out) == {"key": "B♭ major", "notes": 3}


def test_accidentals_survive_a_terminal_that_cannot_show_them(monkeypatch):
    for encoding in ("ascii", "cp1252", "latin-1"):
        raw = io.BytesIO()
        monkeypatch.setattr(sys, "stdout", io.TextIOWrapper(raw, encoding=encoding))
        say("♭3 ─── F♯ 日")
        sys.stdout.flush()
        assert raw.getvalue().decode(encoding).strip() == "b3 --- F# ?"


def test_complaints_are_one_line_on_standard_error(capsys):
    complain("something\nwent  wrong")
    aside("a line of its own")
    captured = capsys.readouterr()
    assert captured.out == ""
    assert captured.err == "undersong: something went wrong\na line of its own\n"


def test_plural():
    assert [plural(n, "note") for n in (0, 1, 2)] == ["0 notes", "1 note", "2 notes"]
