"""The daemon's status in a few lines that can be read at a glance."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from live.faces.output import columns, plural
from live.theory.chords import parse_chord
from live.theory.errors import FieldError
from live.theory.keys import Key, parse_key
from live.theory.pitch import pretty


def status_lines(status: Mapping[str, Any]) -> list[str]:
    """Lines for people from the reply to `tell status`; a missing field leaves its place out."""
    key = _key_of(status)
    hearing = status.get("hearing") or {}
    rows = [
        ("key", _joined(_key_text(status, key), _with("snap", status.get("snap")))),
        ("time", _time_text(status)),
        *([("song", _song_text(status))] if status.get("section") else []),
        ("harmony", _joined(_chord_text(status), _text(status, "progression"))),
        ("held", _joined(_notes_text(status.get("held") or (), key), _held_chord(hearing))),
        ("sounding", _notes_text(status.get("sounding") or (), key)),
        ("low end", _low_end_text(hearing)),
        ("heard", _heard_text(hearing)),
        ("answer", _answer_text(status)),
        *_drill_rows(status.get("drill") or {}),
        *_ports_rows("inputs", status.get("inputs") or ()),
        *_ports_rows("outputs", status.get("outputs") or ()),
        ("health", _health_text(status)),
    ]
    lines = columns(rows)
    notice = status.get("notice")
    return [*lines, f"! {notice}"] if notice else lines


def _joined(*parts: str) -> str:
    return "   ".join(part for part in parts if part)


def _with(word: str, value: object) -> str:
    return f"{word} {value}" if value else ""


def _answer_text(status: Mapping[str, Any]) -> str:
    kept = f"{plural(int(status['kept']), 'phrase')} kept" if status.get("kept") else ""
    return _joined(_text(status, "answer_state"), _with("over", status.get("groove")), kept)


def _text(status: Mapping[str, Any], field: str) -> str:
    return pretty(str(status.get(field) or ""))


def _chord_text(status: Mapping[str, Any]) -> str:
    text = str(status.get("chord") or "")
    try:
        return parse_chord(text).pretty
    except FieldError:
        return text


def _key_of(status: Mapping[str, Any]) -> Key | None:
    try:
        return parse_key(str(status.get("key", "")))
    except FieldError:
        return None


def _key_text(status: Mapping[str, Any], key: Key | None) -> str:
    return key.pretty if key is not None else str(status.get("key", ""))


def _time_text(status: Mapping[str, Any]) -> str:
    tempo = f"{status['tempo']:g} BPM" if "tempo" in status else ""
    clock = {"internal": "own clock", "following": "follows clock"}.get(status.get("clock", ""), "")
    if not status.get("playing"):
        return _joined(tempo, clock, "stopped")
    return _joined(tempo, clock, f"bar {status.get('bar')} beat {status.get('beat', 0):g}")


def _song_text(status: Mapping[str, Any]) -> str:
    """The section, the place in it, and what comes after."""
    place, bars = int(status.get("section_bar", 0)), int(status.get("section_bars", 0))
    after = _with("then", status.get("next_section"))
    if not after:
        return _joined(str(status["section"]), f"bar {place}", "the last section stays")
    turn = "after the last section the plan begins again" if status.get("song_repeats") else ""
    return _joined(str(status["section"]), f"bar {place} of {bars}", after, turn)


def _name(note: int, key: Key | None) -> str:
    return pretty(key.note_name(note)) if key is not None else str(note)


def _notes_text(notes: Sequence[int], key: Key | None) -> str:
    return " ".join(_name(note, key) for note in notes) or "nothing"


def _held_chord(hearing: Mapping[str, Any]) -> str:
    return pretty(" ".join(str(hearing.get(field) or "") for field in ("chord", "numeral")).strip())


def _low_end_text(hearing: Mapping[str, Any]) -> str:
    parts = (str(hearing.get(f) or "") for f in ("low_end", "low_end_reason", "low_end_advice"))
    return pretty(_joined(*parts)) or "no chord"


def _heard_text(hearing: Mapping[str, Any]) -> str:
    keys = "   ".join(f"{name} {100 * chance:.0f} %" for name, chance in hearing.get("keys") or ())
    proposed = hearing.get("proposed_key")
    offer = "(take it: undersong tell key heard)" if proposed else ""
    return pretty(_joined(keys, offer)) or "nothing yet"


def _drill_rows(drill: Mapping[str, Any]) -> list[tuple[str, str]]:
    if not drill.get("on"):
        return []
    chord = f"of {drill['chord']}" if drill.get("chord") else ""
    asked = f"play {drill.get('label', '')} {chord}".strip()
    if not drill.get("name") and drill.get("asks"):
        asked = f"a degree {drill['asks']}"
    score = f"{drill.get('right', 0)} of {drill.get('asked', 0)} right"
    return [("drill", pretty(_joined(asked, score, str(drill.get("words") or ""))))]


def _ports_rows(title: str, ports: Sequence[Mapping[str, Any]]) -> list[tuple[str, str]]:
    """A row for each port: narrow terminals would break a long one."""
    texts = [_port_text(port) for port in ports] or ["none yet"]
    return [(title if index == 0 else "", text) for index, text in enumerate(texts)]


def _port_text(port: Mapping[str, Any]) -> str:
    reason = f" ({port['reason']})" if port.get("reason") else ""
    return f"{port.get('role', '')}: {port.get('state', '')}{reason}"


def _health_text(status: Mapping[str, Any]) -> str:
    late = status.get("late_ms_p99")
    return _joined(
        plural(int(status.get("lost", 0)), "message") + " lost",
        f"late by {late:.2f} ms at most in 99 of 100" if late is not None else "",
    )
