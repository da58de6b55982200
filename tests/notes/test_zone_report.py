"""The report's words against every note there is: 16 channels, 128 notes, 127 velocities."""

from __future__ import annotations

import re

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from live.notes.zone_report import note_span, zone_report
from live.notes.zones import Zone
from live.theory.pitch import parse_note

INPUTS = range(4)
"""Sources that zones may name, and one that they do not."""


def named(*zones: Zone) -> list[Zone]:
    return list(zones)


def covered(zone: Zone) -> np.ndarray:
    """Which notes a zone covers: [source, channel, note, velocity]."""
    grid = np.zeros((len(INPUTS), 16, 128, 128), dtype=bool)
    for source in INPUTS:
        for channel in range(16):
            on_input = not zone.sources or source in zone.sources
            # General MIDI System Level 1: channel 10 is percussion.
            on_channel = (
                channel in zone.channels if zone.channels else channel != 9 or zone.role == "drums"
            )
            if on_input and on_channel:
                rows = slice(zone.low, zone.high + 1)
                grid[source, channel, rows, zone.min_velocity : zone.max_velocity + 1] = True
    return grid


@st.composite
def zone_lists(draw):
    made = []
    for name in "abcd"[: draw(st.integers(0, 4))]:
        low, high = sorted(draw(st.tuples(*[st.sampled_from((0, 36, 59, 60, 127))] * 2)))
        soft, loud = sorted(draw(st.tuples(*[st.sampled_from((1, 60, 61, 127))] * 2)))
        made.append(
            Zone(
                name,
                draw(st.sampled_from(("call", "drums", "control"))),
                channels=draw(st.sampled_from((frozenset(), frozenset({0}), frozenset({9, 2})))),
                low=low,
                high=high,
                min_velocity=soft,
                max_velocity=loud,
                sources=draw(st.frozensets(st.integers(0, 2), max_size=2)),
            )
        )
    return made


@settings(max_examples=150, deadline=None)
@example(named(Zone("a"), Zone("b")))
@example(named(Zone("a", high=59), Zone("b", low=60), Zone("c", channels=frozenset({3}))))
@example(named(Zone("a", max_velocity=60), Zone("b", min_velocity=61), Zone("c", "drums")))
@example(named(Zone("a", sources=frozenset({1})), Zone("b", sources=frozenset({2})), Zone("c")))
@given(zone_lists())
def test_the_words_agree_with_every_note_there_is(zones):
    grids = {zone.name: covered(zone) for zone in zones}
    gets, free = {}, np.ones((len(INPUTS), 16, 128, 128), dtype=bool)
    for zone in zones:
        gets[zone.name] = grids[zone.name] & free
        free &= ~grids[zone.name]
    wanted_never, wanted_overlaps = {}, set()
    for place, zone in enumerate(zones):
        takers = [z.name for z in zones[:place] if (gets[z.name] & grids[zone.name]).any()]
        if not gets[zone.name].any():
            wanted_never[zone.name] = takers
        else:
            wanted_overlaps |= {(taker, zone.name) for taker in takers}

    never, overlaps = {}, set()
    for sentence in zone_report(zones):
        names = re.findall(r"'(\w)'", sentence)
        if "never reached" in sentence:
            never[names[0]] = names[1:]
            continue
        first, second, used = names
        assert used == first
        overlaps.add((first, second))
        where = re.search(r" on (\S+?)(?:, velocity (\d+)(?: to (\d+))?)?: '", sentence)
        low, _, high = where[1].partition(":")
        notes = slice(parse_note(low), parse_note(high or low) + 1)
        velocities = slice(int(where[2] or 1), int(where[3] or where[2] or 127) + 1)
        both = grids[first] & grids[second]
        beyond = both.copy()
        beyond[:, :, notes, velocities] = False
        assert not beyond.any()  # they overlap nowhere else
        assert both[:, :, notes, velocities].any(axis=(0, 1)).all()  # and everywhere there
    assert never == wanted_never
    assert overlaps == wanted_overlaps


def test_the_sentences():
    left = Zone("left hand", low=21, high=47)
    right = Zone("right hand", low=48, high=52)
    told = zone_report([left, Zone("pads", low=30, high=40), right, Zone("a", low=48, high=60)])
    assert told == (
        "zone 'pads' is never reached: 'left hand' takes all its notes",
        "'right hand' and 'a' overlap on C3:E3: 'right hand' is used",
    )
    both = [Zone("low", high=59), Zone("high", low=60), Zone("lead", min_velocity=90)]
    assert zone_report(both) == (
        "zone 'lead' is never reached: 'low' and 'high' take all its notes",
    )
    soft = [Zone("soft", max_velocity=80), Zone("loud", min_velocity=80)]
    assert zone_report(soft) == (
        "'soft' and 'loud' overlap on C-1:G9, velocity 80: 'soft' is used",
    )
    assert zone_report([]) == ()


@pytest.mark.parametrize("note", range(128))
def test_a_note_is_written_as_it_is_read(note):
    # C4 = 60, as the settings read notes.
    assert parse_note(note_span(note, note)) == note
    assert note_span(0, 127) == "C-1:G9"
