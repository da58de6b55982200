import dataclasses
import json

from live.notes.config import EngineConfig
from live.notes.facts import changes, fact, silence_messages
from live.notes.form import Form
from live.notes.taste import Taste
from live.theory.keys import parse_key
from live.theory.progressions import parse_progression
from tests.notes.receiver import Receiver
from tests.notes.stage import D_MINOR, on


def test_a_fact_carries_its_detail_as_json():
    record = fact("answer", 5, number=1, reasons=("because",))
    assert (record.at_ns, record.kind, record.port, record.data) == (5, "answer", "", b"")
    assert json.loads(record.detail) == {"number": 1, "reasons": ["because"]}


def test_every_change_a_reader_needs_is_told_once():
    old = EngineConfig(D_MINOR)
    new = dataclasses.replace(
        old,
        key=parse_key("F# dorian"),
        snap="up",
        progression=parse_progression("i VI", D_MINOR),
        form=Form(1, 4, free=True),
        answer=dataclasses.replace(
            old.answer, groove="late-snare", taste=Taste(swing=0.5, leaps=1.0)
        ),
        tempo_bpm=90.0,  # told by the transport, once it is in force
    )
    told = {record.kind: json.loads(record.detail) for record in changes(old, new, 7)}
    assert told == {
        "key": {"key": "F# dorian"},
        "snap": {"snap": "up"},
        "progression": {"progression": "i VI"},
        "groove": {"groove": "late-snare", "swing": 0.5},
        "form": {"call_bars": 1, "answer_bars": 4, "free": True},
    }
    assert changes(new, new, 8) == []
    gone = {r.kind: json.loads(r.detail) for r in changes(new, old, 9)}
    assert gone["progression"] == {"progression": ""}


def test_a_panic_tells_every_channel_pedal_first():
    # MIDI 1.0: all notes off waits for the pedal, so hold (64) comes before 123; then all sound
    # off (120), reset all controllers (121), pitch bend to the middle (0, 64).
    messages = silence_messages()
    assert len(messages) == 80  # a port takes it: bursts beyond 96 get lost (failure studies)
    for channel in range(16):
        own = [m for m in messages if m[0] & 0x0F == channel]
        assert [m[1] for m in own if m[0] & 0xF0 == 0xB0] == [64, 123, 120, 121]
        assert own[-1] == bytes((0xE0 | channel, 0, 64))


def test_a_receiver_that_obeys_falls_silent():
    receiver = Receiver(deaf=False)
    for channel in range(16):
        receiver.hear(fact("out", 0)._replace(port="through", data=on(60, channel=channel)))
    for data in silence_messages():
        receiver.hear(fact("out", 0)._replace(port="through", data=data))
    assert receiver.sounding == set()
