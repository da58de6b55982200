"""Runs an engine without real time: from what comes in, in order, to all that leaves."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from live.notes.engine import Engine
from live.notes.events import Compose, Composed, Event, Output, Tick
from live.notes.phrase import Brief, Choice


def run(
    events: Iterable[Event], engine: Engine, compose: Callable[[Brief], tuple[Choice, ...]]
) -> list[Output]:
    """Feed events to an engine, and let it do what falls due between them at its very time.

    Args:
        events: in the order of their times, none earlier than what the engine has seen.
        engine: keeps its state, so that a run may be cut in two.
        compose: called at once for every request; its answer comes back in no time.
    Returns: all outputs, in order.
    Raises: FieldError when the player asks for what cannot be done.
    """
    outputs: list[Output] = []
    for event in events:
        while (due_ns := engine.next_due_ns()) is not None and due_ns < event.at_ns:
            _step(engine, Tick(due_ns), compose, outputs)
        _step(engine, event, compose, outputs)
    return outputs


def _step(
    engine: Engine,
    event: Event,
    compose: Callable[[Brief], tuple[Choice, ...]],
    outputs: list[Output],
) -> None:
    """One step, and the steps in which what it asked of the composer comes back."""
    made = engine.step(event)
    outputs.extend(made)
    for output in made:
        if isinstance(output, Compose):
            back = Composed(event.at_ns, output.request, compose(output.brief))
            _step(engine, back, compose, outputs)
