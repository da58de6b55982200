"""`check`: what it prints, its verdict, and real measurements on a JACK server."""

from __future__ import annotations

import pytest

from live.faces import check
from live.faces.check import Findings, verdict
from live.faces.check_stats import Times
from live.ports.api import PortError

GOOD = Times(count=100, median_ms=2.0, p99_ms=3.0, max_ms=4.0, variation_ms=0.5)
SLOW = Times(count=100, median_ms=8.0, p99_ms=14.2, max_ms=20.0, variation_ms=0.5)
NO_LOSS = {"daemon": 0, "bare": 0}


def test_verdicts_in_words():
    assert verdict(Findings(GOOD, GOOD, GOOD, NO_LOSS)) == "This machine is fit for live playing."
    slow = verdict(Findings(GOOD, SLOW, GOOD, NO_LOSS))
    assert slow.startswith("This machine is not fit for live playing yet: 1 note in 100 takes")
    assert "14.2 ms" in slow
    lossy = verdict(Findings(GOOD, GOOD, GOOD, {"daemon": 2, "bare": 0}))
    assert "2 of the messages were lost" in lossy
    assert "no verdict" in verdict(Findings(GOOD, problem="No MIDI service."))


def test_a_bare_forwarder_that_loses_is_not_held_against_the_daemon():
    assert Findings(GOOD, GOOD, GOOD, {"daemon": 0, "bare": 3}).faults == []


def test_json_and_text(cli, monkeypatch):
    monkeypatch.setattr(check, "measure", lambda _s: Findings(GOOD, SLOW, GOOD, NO_LOSS))
    found = cli("check", "--json").json
    assert found["fit"] is False
    assert found["limit_ms"] == 10.0
    assert found["through"]["p99_ms"] == 14.2
    assert found["bare"]["median_ms"] == 2.0
    assert found["waits"]["count"] == 100
    assert found["lost"] == NO_LOSS
    lines = cli("check").out.splitlines()
    assert lines[1].split() == [
        "through", "Undersong", "100", "8.00", "ms", "14.20", "ms", "20.00", "ms", "0.50", "ms",
    ]  # fmt: skip
    assert "Undersong adds 6.00 ms (median)" in lines[4]
    assert lines[-1].startswith("This machine is not fit")


def test_without_midi_the_waiting_is_still_measured(cli, monkeypatch):
    def refuse(_length_s):
        raise PortError("No MIDI service can be reached (none).")

    monkeypatch.setattr(check, "_through", refuse)
    code, out, err = cli("check", "--seconds", "0.5")
    assert code == 1
    assert err == "undersong: No MIDI service can be reached (none).\n"
    assert "late wake-ups" in out
    spoken = cli("check", "--seconds", "0.5", "--json")
    assert spoken.code == 1
    assert spoken.json["fit"] is None
    assert spoken.json["through"] is None
    assert 60 <= spoken.json["waits"]["count"] <= 72  # one every 7 ms for half a second


def test_a_measurement_that_breaks_is_one_sentence(monkeypatch):
    with pytest.raises(PortError, match=r"live\.faces\.check_player failed"):
        check._ask("live.faces.check_player", "no json", 1.0)


@pytest.mark.jack
def test_real_measurements_side_by_side(cli, jack_server):
    spoken = cli("check", "--seconds", "2", "--json")
    assert spoken.code == 0
    found = spoken.json
    assert found["lost"] == NO_LOSS
    # Two hops through a server with 64-frame periods cannot be faster than no time at all, and
    # both ways carry the same notes; how fast they are is for the bench to say.
    for way in ("through", "bare"):
        assert found[way]["count"] > 30
        assert 0.0 < found[way]["median_ms"] <= found[way]["p99_ms"] <= found[way]["max_ms"]
    assert abs(found["through"]["count"] - found["bare"]["count"]) <= 1
    assert found["fit"] in (True, False)
