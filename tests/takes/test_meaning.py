import pytest

from live.notes.record import DICTATED, Record
from live.takes.meaning import detail_of, metre_of, note_edge, part_of, tempo_of, track_of


# MIDI 1.0 Detailed Specification: 8n note-off, 9n note-on, a note-on with velocity 0 is an off.
@pytest.mark.parametrize(
    ("data", "edge"),
    [
        (b"\x90\x3c\x64", (0, 60, 100)),
        (b"\x9f\x3c\x01", (15, 60, 1)),
        (b"\x90\x3c\x00", (0, 60, 0)),
        (b"\x83\x3c\x40", (3, 60, 0)),
        (b"\xa0\x3c\x40", None),
        (b"\xb0\x40\x7f", None),
        (b"\xe0\x00\x40", None),
        (b"\xf0\x00\xf7", None),
        (b"\xc0\x05", None),
        (b"", None),
    ],
)
def test_note_edges(data, edge):
    assert note_edge(data) == edge


@pytest.mark.parametrize(
    ("kind", "port", "part"),
    [
        ("in", "keys in", "played"),
        ("in", "clock in", None),
        ("out", "through", "through"),
        ("out", "answer", "answer"),
        ("out", "lights", None),
        ("key", "", None),
    ],
)
def test_parts(kind, port, part):
    assert part_of(Record(0, kind, port)) == part


@pytest.mark.parametrize("port", ["answer", "through", "synth"])
def test_what_is_dictated_is_no_part_and_on_no_track(port):
    assert part_of(Record(0, "out", port, b"\x90\x26\x46", DICTATED)) is None
    assert track_of(Record(0, "out", port, b"\x90\x26\x46", DICTATED)) is None


@pytest.mark.parametrize("text", ["", "{", "[1]", "null", "3", "\\"])
def test_a_detail_that_cannot_be_read_is_empty(text):
    assert detail_of(Record(0, "key", detail=text)) == {}


@pytest.mark.parametrize("tempo", [None, "168", 0, -1, 1e9, float("nan"), float("inf"), [168]])
def test_a_tempo_out_of_range_is_none(tempo):
    assert tempo_of({"tempo": tempo}) is None


def test_tempo_and_metre_are_read():
    assert tempo_of({"tempo": 168}) == 168.0
    assert str(metre_of({"metre": "7/8"})) == "7/8"
    assert metre_of({"metre": "7/9"}) is None
    assert metre_of({"metre": 4}) is None
    assert metre_of({}) is None
