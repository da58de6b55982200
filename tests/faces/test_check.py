"""`check`: what it prints, how it fails, and real measurements on a JACK server."""

from __future__ import annotations

from dataclasses import replace

import pytest
from PyQt6.QtGui import QImage

from live.faces import check
from live.ports.api import PortError
from tests.faces.test_check_verdict import FIT, GOOD, SLOW


def test_json_and_text(cli, monkeypatch):
    monkeypatch.setattr(check, "measure", lambda _s: replace(FIT, daemon=SLOW))
    found = cli("check", "--json")
    assert (found.code, found.json["fit"]) == (0, False)
    lines = cli("check").out.splitlines()
    assert "through Undersong" in lines[1]
    assert any(line.startswith("This machine is not fit") for line in lines)


@pytest.mark.parametrize("length", ["0.4", "3601", "ten", "nan"])
def test_a_length_that_cannot_be_is_refused(cli, length):
    spoken = cli("check", "--seconds", length)
    assert spoken.code == 2
    assert "0.5 to 3600" in spoken.err
    assert length in spoken.err


def test_a_picture_of_every_histogram(cli, monkeypatch, tmp_path):
    times = replace(GOOD, bins=(0, 0, 5, 95, *[0] * 10))
    found = replace(FIT, daemon=times, bare=times, answers=replace(times, count=0))
    monkeypatch.setattr(check, "measure", lambda _s: found)
    path = tmp_path / "check.png"
    assert cli("check", "--picture", path).code == 0
    four = QImage(str(path))
    monkeypatch.setattr(check, "measure", lambda _s: replace(found, answers=times))
    assert cli("check", "--picture", path, "--json").json["fit"]
    five = QImage(str(path))
    assert five.width() == four.width()
    assert five.height() > four.height() > 100


def test_a_picture_that_cannot_be_written_is_one_sentence(cli, monkeypatch, tmp_path):
    monkeypatch.setattr(check, "measure", lambda _s: FIT)
    spoken = cli("check", "--picture", tmp_path / "nowhere" / "check.png")
    assert spoken.code == 1
    assert "cannot write the picture" in spoken.err
    assert "fit for live playing" in spoken.out  # what was measured is not lost


def test_without_midi_the_waiting_is_still_measured(cli, monkeypatch):
    def refuse():
        raise PortError("No MIDI service can be reached (none).")

    monkeypatch.setattr(check, "_reach_service", refuse)
    code, out, err = cli("check", "--seconds", "0.5")
    assert code == 1
    assert err == "undersong: No MIDI service can be reached (none).\n"
    assert "wake-ups late by" in out
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
    spoken = cli("check", "--seconds", "4", "--json")
    assert spoken.code == 0
    found = spoken.json
    assert found["lost"] == {"daemon": 0, "bare": 0, "answers": 0, "clock": 0}
    # Two hops through a server with 64-frame periods cannot be faster than no time at all, and
    # both ways carry the same notes; how fast they are is for the bench to say.
    for way in ("through", "bare"):
        assert found[way]["count"] > 30
        assert 0.0 < found[way]["median_ms"] <= found[way]["p99_ms"] <= found[way]["max_ms"]
    assert abs(found["through"]["count"] - found["bare"]["count"]) <= 1
    assert found["fit"] in (True, False)
    # At 170 BPM a bar lasts 1.41 s. After the call's bar follow two bars or so of sixteenths, each
    # with its end; pulses come 24 to the beat (MIDI 1.0) from the first note on.
    assert 2 * 16 < found["answers"]["count"] <= 4 * 2 * 16
    assert found["answers"]["max_ms"] > 0.0
    assert 200 < found["clock"]["count"] <= 170 / 60 * 24 * 6
    for name in ("through", "bare", "answers", "clock", "waits"):
        bins = found[name]["bins"]
        assert sum(row["count"] for row in bins) == found[name]["count"]
    assert found["flood"]["daemon"] == {"sent": 16_000, "lost": 0, "moved": 0}
    assert found["flood"]["bare"]["sent"] == 16_000
