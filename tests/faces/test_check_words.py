"""The text and the JSON of planted findings: every figure where it belongs."""

from __future__ import annotations

from dataclasses import replace

from live.faces.check_stats import EDGES_MS, NS_PER_MS, summarise
from live.faces.check_verdict import Findings, Flood
from live.faces.check_words import as_json, as_lines, bars, bin_name
from tests.faces.test_check_verdict import CALM, FIT, GOOD, NO_LOSS, SLOW


def test_bars_are_as_long_as_their_bins_are_full_and_gaps_are_kept():
    times = summarise([NS_PER_MS] * 60 + [3 * NS_PER_MS] * 20 + [60 * NS_PER_MS])
    lines = [line.split("  ") for line in bars(times)]
    shown = [(" ".join(line).split("ms")[0].strip(), line[-1].count("█")) for line in lines]
    assert shown[0] == ("1 to 1.5", 30)
    assert shown[3] == ("3 to 4", 10)
    assert shown[-1] == ("50", 1)  # too few for a whole character, and yet seen
    assert [length for _, length in shown] == [30, 0, 0, 10, *[0] * 6, 1]
    assert bars(summarise([])) == []


def test_bins_have_names():
    assert bin_name(0) == "0 to 0.25 ms"
    assert bin_name(EDGES_MS.index(10.0)) == "10 to 15 ms"
    assert bin_name(len(EDGES_MS) - 1) == "50 ms and more"


def test_text():
    answers = summarise([2 * NS_PER_MS, 2 * NS_PER_MS, 11 * NS_PER_MS])
    found = replace(FIT, daemon=SLOW, answers=answers, lost=NO_LOSS | {"answers": 4})
    found = replace(found, floods=CALM | {"daemon": Flood(2000, 5, 2)})
    lines = list(as_lines(found))
    assert lines[1].split() == [
        "through", "Undersong", "100", "8.00", "ms", "14.20", "ms", "20.00", "ms", "0.50", "ms",
    ]  # fmt: skip
    text = "\n".join(lines)
    assert "  10 to 15 ms  1  ███" in text
    assert "Undersong adds 6.00 ms (median)" in text
    assert "lost: 0 through Undersong, 0 bare, 4 answer notes, 0 clock pulses" in text
    assert "flood of 2000 messages through Undersong: 5 lost, 2 out of their order" in text
    assert "runs before other programs (niceness -11)" in text
    assert "Wessel & Wright 2002" in text
    assert "Jack et al. 2018" in text
    assert any(line.startswith("This machine is not fit") for line in lines)
    assert lines[-1].startswith("Only Undersong loses messages in a flood")


def test_text_without_midi_and_with_nothing_heard():
    lines = list(as_lines(Findings(GOOD, problem="No MIDI service.")))
    assert [line.split("  ")[0] for line in lines[:2]] == ["", "wake-ups late by"]
    assert lines[-1].endswith("no verdict.")
    silent = "\n".join(as_lines(replace(FIT, answers=summarise([]))))
    assert "nan" not in silent


def test_json():
    found = as_json(replace(FIT, daemon=SLOW, answers=summarise([11 * NS_PER_MS])))
    assert found["fit"] is False
    assert (found["limit_ms"], found["limit_variation_ms"]) == (10.0, 1.0)
    assert found["through"]["p99_ms"] == 14.2
    assert found["bare"]["median_ms"] == 2.0
    assert found["waits"]["count"] == 100
    assert found["lost"] == NO_LOSS
    assert found["flood"]["daemon"] == {"sent": 100, "lost": 0, "moved": 0}
    assert found["niceness"] == -11
    full = [row for row in found["answers"]["bins"] if row["count"]]
    assert full == [{"from_ms": 10.0, "to_ms": 15.0, "count": 1}]
    nothing = as_json(Findings(GOOD, problem="No MIDI service."))
    assert nothing["fit"] is None
    assert nothing["through"] is None
    assert nothing["advice"] == []
