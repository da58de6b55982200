"""Zones and routes in the settings file: labels, ways that lead back, lines of what is wrong."""

from __future__ import annotations

import pytest

from live.daemon.settings import Settings, defaults, engine_config, read_toml
from live.notes.events import FACE_SOURCES, RETURN_SOURCE
from live.theory.errors import FieldError

PORTS = """
[ports]
keyboards = ["grand", "Midi Through Port-0", "auto"]
own_inputs = ["left"]
own_outputs = ["bass"]
outputs = ["Deep Synth", "Midi Through", "loopMIDI 2"]
"""


def read(*tables: str) -> Settings:
    return read_toml(PORTS + "\n".join(tables), defaults())


def route(source: str, output: str, more: str = "") -> str:
    return f'[[route]]\ninput = "{source}"\noutput = "{output}"\n{more}\n'


def zone(more: str) -> str:
    return f'[[zone]]\nname = "z"\n{more}\n'


def refusal(*tables: str) -> FieldError:
    with pytest.raises(FieldError) as refused:
        read(*tables)
    return refused.value


def test_a_route_is_read_whole() -> None:
    settings = read(
        route("left", "Deep Synth", 'channels = [1, 10]\nout_channel = 3\nonly = ["notes"]')
    )
    [made] = engine_config(settings).routes
    assert (made.input, made.output) == ("left", "Deep Synth")
    assert made.sources == {3}
    assert made.channels == {0, 9}
    assert made.out_channel == 2
    assert made.only == {"notes"}
    assert settings.routes[0].sources == frozenset()  # numbers are for the engine


@pytest.mark.parametrize(
    ("label", "sources"),
    [
        ("keys in", {0}),
        ("grand", {1}),
        ("left", {3}),
        ("auto", set(range(4, FACE_SOURCES.start))),
    ],
)
def test_labels_become_source_numbers(label: str, sources: set[int]) -> None:
    config = engine_config(read(zone(f'input = "{label}"'), route(label, "bass")))
    assert config.zones[0].sources == config.routes[0].sources == sources
    assert config.outputs == ("bass", "Deep Synth", "Midi Through", "loopMIDI 2")


def test_the_return_leads_to_outputs_of_others_only() -> None:
    assert engine_config(read(route("return", "Deep Synth"))).routes[0].sources == {RETURN_SOURCE}
    for output in ("through", "bass"):
        error = refusal(route("return", output))
        assert (error.field, error.got, error.where) == ("route.output", output, "route 1")
        assert "lead back to the DAW" in error.allowed
    assert refusal(route("return", "answer")).field == "route.output"
    error = refusal(zone('input = "return"'))
    assert (error.field, error.where) == ("zone.input", "zone 1, 'z'")


@pytest.mark.parametrize(
    "tables",
    [
        # A port that returns what it gets, back into the same input, by a route and by a zone.
        (route("Midi Through Port-0", "Midi Through"),),
        (zone('input = "Midi Through Port-0"\noutput = "Midi Through"'),),
        (zone('output = "Midi Through"'),),
        # return -> loopback -> through -> DAW -> return
        (route("return", "Midi Through"),),
        # The same in two routes, whichever comes first.
        (route("return", "Midi Through"), route("Midi Through Port-0", "bass")),
        (route("Midi Through Port-0", "bass"), route("return", "Midi Through")),
    ],
)
def test_a_way_that_leads_back_is_refused_and_told(tables: tuple[str, ...]) -> None:
    error = refusal(*tables)
    assert error.field in ("route.output", "zone.output")
    assert " -> " in error.allowed
    way = error.allowed.split("goes ")[1].rstrip(")").split(" -> ")
    assert way[0] == way[-1]


@pytest.mark.parametrize(
    "tables",
    [
        (route("grand", "Deep Synth"), route("grand", "through"), route("left", "bass")),
        (route("grand", "Midi Through"),),
        (route("Midi Through Port-0", "Deep Synth"), route("grand", "Midi Through")),
        (route("Midi Through Port-0", "loopMIDI 2"),),
        (zone('input = "grand"\noutput = "Midi Through"'),),
        (route("return", "Deep Synth"), zone('input = "grand"\noutput = "bass"')),
        (route("return", "Midi Through"), route("Midi Through Port-0", "Deep Synth")),
    ],
)
def test_a_way_that_ends_is_allowed(tables: tuple[str, ...]) -> None:
    assert engine_config(read(*tables))


@pytest.mark.parametrize(
    ("table", "field"),
    [
        (route("nowhere", "bass"), "route.input"),
        (route("left", "nowhere"), "route.output"),
        (route("left", "answer"), "route.output"),
        (route("left", "bass", "only = ['melody']"), "route.only"),
        (route("left", "bass", "only = 'notes'"), "route.only"),
        (route("left", "bass", "channels = [0]"), "route.channels"),
        (route("left", "bass", "out_channel = 17"), "route.out_channel"),
        (route("left", "bass", "velocity = 3"), "route.velocity"),
        ('[[route]]\ninput = "left"', "route.output"),
        ('[[route]]\noutput = "bass"', "route.input"),
        ('[[route]]\ninput = 3\noutput = "bass"', "route.input"),
        ('[route]\ninput = "left"', "route"),
        (zone('input = "nowhere"'), "zone.input"),
        (zone('output = "answer"'), "zone.output"),
        (zone("output = 1"), "zone.output"),
        (zone('role = "lead"'), "zone.role"),
    ],
)
def test_what_cannot_be_is_refused_by_name_and_place(table: str, field: str) -> None:
    error = refusal(table)
    assert error.field == field
    assert error.allowed
    if field != "route":
        assert error.where


def test_zones_without_a_name_are_numbered() -> None:
    assert [z.name for z in read("[[zone]]\n", "[[zone]]\n").zones] == ["zone 1", "zone 2"]


def test_settings_are_refused_that_need_other_ports_than_are_open() -> None:
    from live.daemon.labels import read_labels

    running = read_labels(defaults().values)
    engine_config(defaults(), running)
    with pytest.raises(FieldError) as refused:
        engine_config(read(zone('input = "grand"')), running)
    assert refused.value.field == "zone.input"
