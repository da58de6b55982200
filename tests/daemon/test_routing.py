"""The routing in words, from settings."""

from __future__ import annotations

import dataclasses
from pathlib import Path

from live.daemon.picture import Picture
from live.daemon.routing import routing_notes, routing_rows
from live.daemon.settings import defaults, read_toml
from live.daemon.snapshot import RoutingRow, snapshot_from_json

FERRY = """
[ports]
keyboards = ["grand"]
own_outputs = ["low"]
outputs = ["Deep Synth"]
[[zone]]
name = "left hand"
input = "grand"
role = "plain"
range = "A0:B2"
snap = "chord"
transpose = -12
output = "low"
out_channel = 2
[[zone]]
name = "switches"
role = "control"
channels = [16]
velocity = [1, 90]
[[route]]
input = "return"
output = "Deep Synth"
channels = [3, 4]
only = ["notes", "bend"]
"""


def cells(row: RoutingRow) -> tuple[object, ...]:
    return (row.kind, row.input, row.takes, row.does, row.output, row.channel)


def test_by_default_all_goes_through_and_the_bass_answers() -> None:
    assert [cells(row) for row in routing_rows(defaults())] == [
        ("zone", "any input", "channel 10", "drums, untouched", "through", 0),
        ("zone", "any input", "all", "the call, snap as set", "through", 0),
        ("answer", "the bass", "E1:G3", "answers", "answer", 1),
    ]
    assert routing_notes(defaults()) == ()


def test_zones_and_routes_in_their_order() -> None:
    rows = routing_rows(read_toml(FERRY, defaults()))
    assert [row.name for row in rows[:2]] == ["left hand", "switches"]
    assert [cells(row) for row in (*rows[:2], *rows[3:5])] == [
        ("zone", "grand", "A0:B2", "played along, snap chord, -12 semitones", "low", 2),
        ("zone", "any input", "channel 16, velocity 1 to 90", "control, silent", "", 0),
        ("zone", "any input", "all the rest", "the call, snap as set", "through", 0),
        ("route", "return", "channels 3 4, notes, bend", "copied untouched", "Deep Synth", 0),
    ]


def test_what_is_worth_knowing_is_told() -> None:
    text = """
    [[zone]]
    name = "a"
    input = "keys in"
    [[zone]]
    name = "b"
    input = "keys in"
    range = "C3:E3"
    [[route]]
    input = "keys in"
    output = "through"
    """
    assert routing_notes(read_toml(text, defaults())) == (
        "zone 'b' is never reached: 'a' takes all its notes",
        "'keys in' goes to 'through' by its zones and by route 1 too",
    )


def test_the_snapshot_carries_it_over_the_link() -> None:
    settings = read_toml(FERRY, defaults())
    snapshot = Picture(settings).snapshot()
    assert snapshot.routing == routing_rows(settings)
    assert snapshot_from_json(snapshot.to_json()) == snapshot
    assert dataclasses.asdict(snapshot)["routing"][0]["output"] == "low"


def test_a_picture_follows_the_settings() -> None:
    picture = Picture(defaults())
    picture.use(read_toml(FERRY, defaults()))
    assert picture.snapshot().routing[0].name == "left hand"
    assert picture.status()["routing"][0]["name"] == "left hand"


def test_the_page_s_example_is_what_its_picture_shows() -> None:
    page = (Path(__file__).parents[2] / "docs" / "routing.md").read_text(encoding="utf-8")
    settings = read_toml(page.split("```toml")[1].split("```")[0], defaults())
    assert routing_notes(settings) == ()
    rows = [(row.input, row.takes, row.output) for row in routing_rows(settings)]
    assert rows == [
        ("grand", "A0:B2", "low"),
        ("grand", "C3:C8", "through"),
        ("pads", "channel 10", "through"),
        ("pads", "all", ""),
        ("any input", "channel 10", "through"),
        ("any input", "all the rest", "through"),
        ("return", "all", "Deep Synth"),
        ("the bass", "E1:G3", "answer"),
    ]
