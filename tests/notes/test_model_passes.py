"""docs/passes.md, read and held against splitter and engine row by row.

Source of the kinds: MIDI 1.0 Detailed Specification 4.2.1 (MMA 1996), tables I to V.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from live.notes.cues import HIGHEST, Cue, Trigger, Wish
from live.notes.routes import PARTS, Route
from live.notes.split import Cleaner
from tests.notes.stage import CONTINUE, MS, PULSE, SECOND, START, STOP, Stage, bass, off, on

PAGE = Path(__file__).resolve().parents[2] / "docs" / "passes.md"
SOME = (0x00, 0x01, 0x3F, 0x40, 0x7F)
WILD = re.compile(r"^(vv|kk|cc)$")


def tables() -> list[list[list[str]]]:
    """The page's tables as rows of cells, without their heads."""
    found: list[list[list[str]]] = [[]]
    for line in PAGE.read_text(encoding="utf-8").splitlines():
        if line.startswith("|"):
            found[-1].append([cell.strip() for cell in line.strip("|").split("|")])
        elif found[-1]:
            found.append([])
    return [table[2:] for table in found if table]


KEYS, CUES, CLOCK, OWN, ROUTED = tables()


def values(word: str) -> list[int]:
    """The bytes that a word of a pattern stands for."""
    if WILD.match(word):
        return list(SOME) if word != "cc" else list(range(128))
    if word.endswith("n"):
        return [int(word[0], 16) << 4 | channel for channel in range(16)]
    first, _, last = word.partition("-")
    return list(range(int(first, 16), int(last or first, 16) + 1))


def expanded(cell: str) -> list[bytes]:
    """Every message that a row's pattern stands for."""
    words = cell.strip("`").split()
    if "..." in words:
        return [b"\xf0" + bytes(count) + b"\xf7" for count in (0, 1, 5, 16_370)]
    return [bytes(made) for made in itertools.product(*map(values, words))]


def rows(table: list[list[str]]) -> list[tuple[str, list[bytes], str, set[str]]]:
    """(name, messages, outcome, uses); a message belongs to the first row that names it alone."""
    named = [expanded(row[1]) for row in table if " cc " not in row[1]]
    taken = {message for messages in named for message in messages}
    result = []
    for name, cell, outcome, *_, used in table:
        messages = expanded(cell)
        if " cc " in cell:
            messages = [m for m in messages if m not in taken]
        if name == "Note-on":
            messages = [m for m in messages if m[2]]
        uses = {use.strip() for use in used.split(",") if use.strip()}
        result.append((name, messages, outcome, uses))
    return result


ROWS = rows(KEYS)
IDS = [f"{name} {messages[0].hex()[:6]}" for name, messages, _, _ in ROWS]


def quiet(**config) -> Stage:
    return Stage(start_on_first_note=False, **config)


def through(stage: Stage, data: bytes, source: int = 0) -> list[bytes]:
    """What leaves on `through` for a packet, by way of the splitter."""
    left = []
    for message in Cleaner().feed(data):
        left += [r.data for r in stage.midi(message, source) if r.kind == "out"]
    return left


def test_every_status_and_every_controller_has_a_row():
    messages = {message for _, row, _, _ in ROWS for message in row}
    assert {message[0] for message in messages} == set(range(0x80, 0x100))
    assert {message[1] for message in messages if message[0] == 0xB0} == set(range(128))


def test_no_message_is_in_two_rows():
    seen = [message for _, row, _, _ in ROWS for message in row]
    assert len(seen) == len(set(seen))


@pytest.mark.parametrize(("name", "messages", "outcome", "uses"), ROWS, ids=IDS)
def test_what_leaves_is_what_the_row_says(name, messages, outcome, uses):
    stage = quiet(snap="off")
    for data in messages:
        if "notes" in uses:
            stage = quiet(snap="off")  # else the key would be down already
        left = through(stage, data)
        if outcome in ("passed", "moved"):
            assert left == [data]
        else:
            assert left == [], data
            assert outcome in ("absorbed", "dropped")
        cleaner = Cleaner()
        assert (cleaner.feed(data) == ()) == (outcome == "dropped")
        assert cleaner.rejected == (outcome == "dropped")


@pytest.mark.parametrize(("name", "messages", "outcome", "uses"), ROWS, ids=IDS)
def test_only_rows_that_say_moved_are_moved(name, messages, outcome, uses):
    moved, stage = False, quiet(snap="white")
    for data in messages:
        is_on = data[0] & 0xF0 == 0x90 and data[2] > 0
        if outcome == "moved":
            stage = quiet(snap="white")
            if not is_on:
                through(stage, on(data[1], channel=data[0] & 0x0F))
        left = through(stage, data)
        moved |= bool(left) and left != [data]
        if outcome == "moved":
            assert [(one[0], one[2]) for one in left] in ([], [(data[0], data[2])])
    assert moved == (outcome == "moved")


def gestures(channel: int) -> dict[bytes, bytes]:
    """What is held, and the message that ends it (RP-015, from memory)."""
    return {
        bytes((0xB0 | channel, 64, 127)): bytes((0xB0 | channel, 64, 0)),
        bytes((0xB0 | channel, 66, 127)): bytes((0xB0 | channel, 66, 0)),
        bytes((0xB0 | channel, 1, 90)): bytes((0xB0 | channel, 1, 0)),
        bytes((0xD0 | channel, 90)): bytes((0xD0 | channel, 0)),
        bytes((0xE0 | channel, 5, 90)): bytes((0xE0 | channel, 0, 64)),
    }


def held(data: bytes) -> Stage:
    """A stage where the message's channel has a note and every gesture held."""
    stage = quiet(snap="off")
    channel = data[0] & 0x0F if data[0] < 0xF0 else 0
    stage.midi(on(90, channel=channel))
    for message in gestures(channel):
        stage.midi(message)
    return stage


def uses_notes(data: bytes) -> bool:
    """It puts a key down, or lets one up."""
    if data[0] & 0xF0 not in (0x80, 0x90, 0xA0, 0xE0):
        return False  # it names no key
    fresh, down = quiet(snap="off"), quiet(snap="off")
    through(fresh, data)
    through(down, on(data[1], channel=data[0] & 0x0F))
    through(down, data)
    return fresh.engine.ledger.down(100) != [] or down.engine.ledger.down(100) == []


def ends_notes(data: bytes) -> bool:
    """A note of the channel gets its note-off before the message."""
    stage = held(data)
    channel = data[0] & 0x0F if data[0] < 0xF0 else 0
    left = through(stage, data)
    return left[-1:] == [data] and off(90, channel=channel) in left[:-1]


def ends_gestures(data: bytes) -> bool:
    """What the channel holds ends before the message."""
    stage = held(data)
    channel = data[0] & 0x0F if data[0] < 0xF0 else 0
    return set(gestures(channel).values()) <= set(through(stage, data)[:-1])


def remembers_gestures(data: bytes) -> bool:
    """A lost input's gesture ends."""
    stage = quiet()
    through(stage, data)
    ends = set(gestures(data[0] & 0x0F).values())
    return any(r.data in ends for r in stage.lose(0) if r.kind == "out")


def is_watched(data: bytes) -> bool:
    """After it, silence lets the input's keys go."""
    stage = quiet(snap="off")
    through(stage, data)
    stage.midi(on(62, channel=4))
    stage.to(stage.now_ns + SECOND)
    return off(62, channel=4) in [r.data for r in stage.out("through")]


USES = {
    "ends notes": ends_notes,
    "ends gestures": ends_gestures,
    "gestures": remembers_gestures,
    "watch": is_watched,
}


@pytest.mark.parametrize(("name", "messages", "outcome", "uses"), ROWS, ids=IDS)
def test_each_message_is_used_for_what_the_row_says_and_for_nothing_else(
    name, messages, outcome, uses
):
    few = messages[:: max(1, len(messages) // 200)]
    assert uses <= {*USES, "notes"}
    for use, shown in USES.items():
        if use == "gestures":
            assert any(map(shown, few)) == (use in uses), use
        elif not (use == "ends notes" and "notes" in uses):
            assert {shown(data) for data in few} == {use in uses}, use
    assert ({uses_notes(data) for data in few} == {True}) == ("notes" in uses)


def cued() -> Stage:
    """A stage where all that can be a cue is one."""
    triggers = [Trigger(kind, 0, highest) for kind, highest in HIGHEST.items()]
    return quiet(snap="off", cues=tuple(Cue(trigger, Wish("tap")) for trigger in triggers))


def back(data: bytes) -> bytes:
    """What makes room for a cue's message: its note up, its controller down."""
    if data[0] & 0xF0 == 0x90:
        return off(data[1], channel=data[0] & 0x0F)
    return bytes((data[0], data[1], 0)) if data[0] & 0xF0 == 0xB0 else data


@pytest.mark.parametrize(("name", "cell", "outcome", "when"), CUES, ids=[row[0] for row in CUES])
def test_a_cue_takes_what_the_rows_say_and_gives_its_command_when_they_say(
    name, cell, outcome, when
):
    assert outcome == "absorbed"
    rises, stage = 0, cued()
    for data in expanded(cell):
        if name == "Note-on" and not data[2]:
            continue
        stage.midi(on(data[1], channel=data[0] & 0x0F) if "that" in name else back(data))
        stage.records.clear()
        assert through(stage, data) == []
        gave = len(stage.facts("cue"))
        rises += gave
        assert gave == (when == "each time" or ("64" in when and data[2] >= 64)), data
        assert [r for r in stage.records if r.kind == "in"] == []
    assert bool(rises) == bool(when)


@pytest.mark.parametrize(("name", "messages", "outcome", "uses"), ROWS, ids=IDS)
def test_where_all_is_a_cue_the_rest_passes_as_it_does_without(name, messages, outcome, uses):
    taken = {message for _, cell, _, _ in CUES for message in expanded(cell)}
    rest, stage = [data for data in messages if data not in taken], cued()
    for data in rest[:: max(1, len(rest) // 200)]:
        assert through(stage, data) == through(quiet(snap="off"), data)


def by_clock(*, with_message: bytes | None, place: str) -> tuple[object, ...]:
    """What the engine makes of an outside clock, with or without a message at a place."""
    stage = quiet()

    def message() -> None:
        if with_message is not None:
            stage.clock(with_message)

    if place == "alone":
        for _ in range(48):
            message()
            stage.to(stage.now_ns + 15 * MS)
    else:
        stage.pulses(48, 15 * MS)
        stage.clock(START)
        stage.pulses(48, 15 * MS)
        if place != "playing":
            stage.clock(STOP)
            stage.pulses(8, 15 * MS)
        message()
        if place == "before continue":
            stage.clock(CONTINUE)
        stage.pulses(24, 15 * MS)
    engine = stage.engine
    assert stage.out("through") == stage.out("answer") == []
    kinds = [r.kind for r in stage.records if r.kind != "in"]
    place_now = engine.transport.tick_at(stage.now_ns)
    return engine.transport.following, engine.transport.playing, place_now, kinds


@pytest.mark.parametrize("status", range(0x80, 0x100))
def test_on_the_clock_input_exactly_the_named_messages_are_used_and_nothing_passes(status):
    used = {expanded(cell)[0][0] for _, cell, what in CLOCK if what == "used"}
    assert [what for _, cell, what in CLOCK if not cell] == ["absorbed"]
    sample = {0xF2: b"\xf2\x20\x00", 0xF0: b"\xf0\x7d\xf7"}.get(status)
    if sample is None:
        lengths = {0xC0: 2, 0xD0: 2, 0xF0: 1}
        sample = bytes((status, 60, 64))[: lengths.get(status & 0xF0, 3)]
        sample = bytes((status, 1)) if status in (0xF1, 0xF3) else sample
    seen = any(
        by_clock(with_message=sample, place=place) != by_clock(with_message=None, place=place)
        for place in ("alone", "playing", "stopped", "before continue")
    )
    assert seen == (status in used)


def test_clock_that_is_not_followed_is_absorbed():
    stage = Stage(follow_clock=False)
    stage.clock(START)
    stage.pulses(48, 15 * MS)
    assert not stage.engine.transport.playing
    assert stage.records == []


def own_messages() -> dict[str, set[bytes]]:
    """What each output says where nothing passes: a song, its answers, a panic, a clock to lead."""
    stage = quiet(compose=bass, lead_clock=True, snap="off")
    stage.do("start")
    for pitch in (62, 65, 69):
        stage.play(pitch, 300 * MS)
    stage.to(stage.now_ns + 8 * SECOND)
    stage.do("stop")
    stage.do("continue", 3)
    stage.to(stage.now_ns + SECOND)
    for data in (on(62), *gestures(0)):
        stage.midi(data)
    before = len(stage.records)
    stage.lose(0)
    stage.do("panic")
    stage.do("release")
    kept = [r for r in stage.records if r.port != "through"] + stage.records[before:]
    found: dict[str, set[bytes]] = {"through": set(), "answer": set(), "clock out": set()}
    for record in kept:
        if record.kind in ("out", "pulse"):
            found[record.port].add(record.data)
    return found


def fits(data: bytes, cell: str) -> bool:
    words = cell.strip("`").split()
    if len(words) != len(data):
        return False
    return all(
        WILD.match(word) or byte in values(word) for word, byte in zip(words, data, strict=True)
    )


def test_our_outputs_say_exactly_what_the_table_says():
    found = own_messages()
    table = [(port.strip("`"), cell) for port, cell, _ in OWN]
    assert PULSE in found["clock out"]
    for port, messages in found.items():
        for data in messages:
            assert any(at == port and fits(data, cell) for at, cell in table), (port, data)
    for port, cell in table:
        assert any(fits(data, cell) for data in found[port]), (port, cell)


COPIED = [(*row, cells[3]) for row, cells in zip(rows(ROUTED), ROUTED, strict=True)]
COPIED_IDS = [f"{name} {messages[0].hex()[:6]}" for name, messages, *_ in COPIED]


def routed(messages: list[bytes], *before: bytes, **route) -> Iterator[tuple[bytes, list[bytes]]]:
    """Each message, and what it makes leave along a route; a fresh stage where notes are held."""
    for data in messages:
        stage = quiet(
            routes=(Route("one", "synth", sources=frozenset({1}), **route),), outputs=("synth",)
        )
        for one in before:
            channel = data[0] & 0x0F if data[0] < 0xF0 else 0
            stage.midi(bytes((one[0] | channel, *one[1:])), 1)
        made = stage.midi(data, 1)
        assert [r for r in made if r.kind == "out" and r.port != "synth"] == []
        yield data, [r.data for r in made if r.kind == "out"]


def test_every_message_of_midi_has_a_row_for_routes_too():
    whole = {message for _, row, outcome, _ in ROWS for message in row if outcome != "dropped"}
    assert {message for _, row, *_ in COPIED for message in row} == whole


@pytest.mark.parametrize(("name", "messages", "outcome", "uses", "part"), COPIED, ids=COPIED_IDS)
def test_a_route_copies_what_its_row_says(name, messages, outcome, uses, part):
    some = messages[:: max(1, len(messages) // 300)]
    for data, left in routed(some):
        assert left == ([data] if outcome == "copied" else []), data
    for data, left in routed(some, out_channel=5):
        moved = bytes((data[0] & 0xF0 | 5,)) + data[1:] if data[0] < 0xF0 else data
        assert left == ([moved] if outcome == "copied" else []), data
    few = messages[:: max(1, len(messages) // 20)]
    for only in PARTS:
        for data, left in routed(few, only=frozenset({only})):
            assert left == ([data] if only == part else []), (only, data)
    for data, left in routed(few, channels=frozenset({15})):
        heard = data[0] >= 0xF0 or data[0] & 0x0F == 15
        assert left == ([data] if heard and outcome == "copied" else []), data


@pytest.mark.parametrize(("name", "messages", "outcome", "uses", "part"), COPIED, ids=COPIED_IDS)
def test_a_route_uses_what_its_row_says(name, messages, outcome, uses, part):
    few = messages[:: max(1, len(messages) // 40)]
    for data, left in routed(few, on(90), *gestures(0)):
        channel = data[0] & 0x0F if data[0] < 0xF0 else 0
        if "notes" not in uses:
            assert (off(90, channel=channel) in left[:-1]) == ("ends notes" in uses), data
        ends = set(gestures(channel).values())
        assert (ends <= set(left[:-1])) == ("ends gestures" in uses), data


def test_a_panic_says_the_same_on_every_further_output():
    stage = quiet(outputs=("bass", "synth"))
    stage.do("panic")
    told = {port: [r.data for r in stage.out(port)] for port in ("through", "bass", "synth")}
    assert told["through"]
    assert told["bass"] == told["synth"] == told["through"]
