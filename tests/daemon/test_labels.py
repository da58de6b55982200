"""Names of inputs and outputs, and the source numbers behind them."""

from __future__ import annotations

import pytest

from live.daemon.labels import MOST_INPUTS, read_labels
from live.daemon.port_plan import port_plan, wanted_ports
from live.daemon.settings import defaults, read_toml
from live.notes.events import FACE_SOURCES, RETURN_SOURCE
from live.theory.errors import FieldError


def labels(**ports: object):
    return read_labels({**defaults().values, **{f"ports.{n}": v for n, v in ports.items()}})


def test_by_default_there_are_keys_in_the_return_and_what_is_found() -> None:
    found = labels()
    assert found.inputs["keys in"] == {0}
    assert found.inputs["auto"] == set(range(1, FACE_SOURCES.start))
    assert found.inputs["return"] == {RETURN_SOURCE}
    assert found.outputs == ("through",)


def test_every_input_has_numbers_of_its_own_and_they_are_those_of_the_ports() -> None:
    settings = read_toml(
        """
        [ports]
        keyboards = ["grand", "auto", "pads"]
        own_inputs = ["left", "right"]
        own_outputs = ["bass"]
        outputs = ["Deep Synth"]
        [[route]]
        input = "return"
        output = "Deep Synth"
        """,
        defaults(),
    )
    found = read_labels(settings.values)
    numbers = [number for sources in found.inputs.values() for number in sources]
    assert len(numbers) == len(set(numbers))
    wanted = wanted_ports(port_plan(settings), has_virtual=True)
    opened = {(w.name or w.role): w.source for w in wanted if w.is_input}
    del opened["clock in"]
    assert {name: {number} for name, number in opened.items()} == {
        name: sources for name, sources in found.inputs.items() if name != "auto"
    }
    assert found.inputs["auto"] == set(range(5, FACE_SOURCES.start))
    outputs = [(w.role, w.name) for w in wanted if not w.is_input]
    assert outputs == [
        ("through", ""), ("answer", ""), ("bass", ""), ("Deep Synth", "Deep Synth"),
    ]  # fmt: skip
    assert found.outputs == ("through", "bass", "Deep Synth")
    assert found.others == ("Deep Synth",)


def test_the_return_is_offered_only_when_a_route_names_it() -> None:
    roles = [w.role for w in wanted_ports(port_plan(defaults()), has_virtual=True)]
    assert "return" not in roles


@pytest.mark.parametrize(
    ("ports", "field"),
    [
        ({"own_inputs": ["keys in"]}, "ports.own_inputs"),
        ({"own_inputs": ["Return"]}, "ports.own_inputs"),
        ({"own_inputs": ["a", "A"]}, "ports.own_inputs"),
        ({"own_inputs": ["grand"], "keyboards": ["grand"]}, "ports.own_inputs"),
        ({"own_inputs": [""]}, "ports.own_inputs"),
        ({"own_inputs": ["a:b"]}, "ports.own_inputs"),
        ({"own_inputs": ["x" * 33]}, "ports.own_inputs"),
        ({"own_inputs": ["left"], "own_outputs": ["left"]}, "ports.own_outputs"),
        ({"own_outputs": ["through"]}, "ports.own_outputs"),
        ({"own_outputs": ["auto"]}, "ports.own_outputs"),
        ({"own_outputs": ["b"], "outputs": ["B"]}, "ports.outputs"),
        ({"outputs": ["answer"]}, "ports.outputs"),
        ({"outputs": [" "]}, "ports.outputs"),
        ({"outputs": ["synth", "synth"]}, "ports.outputs"),
        ({"outputs": ["synth"], "through": "Synth"}, "ports.outputs"),
        ({"keyboards": ["return"]}, "ports.keyboards"),
        ({"keyboards": ["grand", "grand"]}, "ports.keyboards"),
        ({"own_inputs": [f"in {n}" for n in range(MOST_INPUTS + 1)]}, "ports.own_inputs"),
    ],
)
def test_a_name_that_cannot_be_told_from_another_is_refused(
    ports: dict[str, object], field: str
) -> None:
    with pytest.raises(FieldError) as refused:
        labels(**ports)
    assert refused.value.field == field
    with pytest.raises(FieldError):  # and so when the settings are read
        defaults().changed({f"ports.{name}": value for name, value in ports.items()})


def test_the_longest_name_fits_the_service() -> None:
    from live.ports.match import client_name

    assert labels(own_inputs=["x" * 32]).inputs["x" * 32] == {1}
    assert client_name("undersong", "x" * 32)
