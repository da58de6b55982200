"""What was left sounding is ended twice, unless it is meant to sound by then."""

from __future__ import annotations

from live.daemon.loose_ends import AGAIN_NS, LooseEnds

OFF, LIFT = ("synth", b"\x80\x3c\x40"), ("synth", b"\xb0\x40\x00")
OTHER = ("through", b"\x80\x3e\x40")


def test_an_end_waits_for_its_port_and_goes_out_twice() -> None:
    ends = LooseEnds(lambda _port, _data: False)
    ends.add([OFF, OTHER, LIFT])
    assert ends.take(0, {"through"}) == [OTHER]
    assert ends.take(1, {"through", "synth"}) == [OFF, LIFT]
    assert ends.take(AGAIN_NS - 1, {"through", "synth"}) == []
    assert ends.take(AGAIN_NS, {"through", "synth"}) == [OTHER]
    assert ends.take(AGAIN_NS + 1, {"through", "synth"}) == [OFF, LIFT]
    assert ends.take(9 * AGAIN_NS, {"through", "synth"}) == []


def test_what_is_played_by_then_is_left_alone() -> None:
    playing = set()
    ends = LooseEnds(lambda port, data: (port, data) in playing)
    ends.add([OFF, LIFT])
    playing.add(OFF)  # struck before the first time: the old note and the new are one to a receiver
    assert ends.take(0, {"synth"}) == [OFF, LIFT]
    assert ends.take(AGAIN_NS, {"synth"}) == [LIFT]


def test_a_port_that_has_gone_again_is_not_sent_to() -> None:
    ends = LooseEnds(lambda _port, _data: False)
    ends.add([OFF])
    assert ends.take(0, {"synth"}) == [OFF]
    assert ends.take(AGAIN_NS, set()) == []
