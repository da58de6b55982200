"""Every fault in one run, with a line for each: `make faults`.

Run: tests/own-world.sh python -m tests.faults   (exit status 1 if something did not hold)
"""

from __future__ import annotations

import sys
import time
from pathlib import Path
from typing import Final, NamedTuple

import pytest

ROOT: Final = Path(__file__).resolve().parent.parent


class Fault(NamedTuple):
    """What is done, what must hold, and the test that does it."""

    done: str
    holds: str
    test: str


_DEAD: Final = "tests/ports/test_rt.py::test_a_dead_server_is_noticed_and_the_ports_come_back"
_FAULTS: Final = "tests/daemon/test_faults.py::test_"
_TRAFFIC: Final = "tests/daemon/test_faults_under_traffic.py::test_"

FAULTS: Final = (
    Fault("engine killed (signal 9)", "a new one, same port names, notes released first",
          f"{_FAULTS}a_killed_engine_comes_back_and_what_sounded_is_released"),
    Fault("engine stopped (hangs)", "noticed and replaced within seconds",
          f"{_FAULTS}an_engine_that_hangs_is_replaced_within_seconds"),
    Fault("supervisor killed (signal 9)", "notes released, engine ends, take kept",
          f"{_FAULTS}a_killed_supervisor_takes_the_engine_with_it_and_nothing_sounds_on"),
    Fault("composer killed (signal 9)", "notes flow on, a new one",
          f"{_FAULTS}a_killed_composer_comes_back_and_notes_flow_meanwhile"),
    Fault("sound killed (signal 9)", "notes flow on, a new one",
          f"{_TRAFFIC}a_killed_sound_process_comes_back_and_notes_flow_meanwhile"),
    Fault("journal killed in mid-write", "at most the last 0.1 s is lost",
          "tests/takes/test_writer.py::"
          "test_a_killed_process_loses_at_most_the_last_tenth_of_a_second"),
    Fault("MIDI service killed, started again", "daemon answers, ports come back",
          f"{_FAULTS}a_midi_service_that_dies_and_comes_back_gets_its_ports_back"),
    Fault("MIDI service ended and killed in turn", "no hang, no crash, nothing left behind", _DEAD),
    Fault("MIDI service stopped for 3 s", "same engine, nothing lost, nothing left sounding",
          f"{_TRAFFIC}a_server_that_stands_still_for_seconds_costs_nothing_but_the_time"),
    Fault("no MIDI service at all", "runs, says so, tries again",
          f"{_FAULTS}without_a_midi_service_it_runs_and_says_so"),
    Fault("whole daemon suspended for 3 s", "same engine, no burst, no note left",
          f"{_TRAFFIC}a_daemon_that_was_suspended_goes_on_and_plays_no_burst"),
    Fault("keyboard killed in mid-flood", "its notes end, its pedal comes up",
          f"{_TRAFFIC}a_keyboard_that_goes_in_mid_flood_leaves_no_note_and_no_pedal"),
    Fault("port closed under a flood, 20 times", "never hangs",
          "tests/ports/test_rt.py::test_closing_under_a_flood_does_not_hang"),
    Fault("port opened under a flood", "never hangs, loses nothing",
          "tests/ports/test_rt.py::test_opening_under_a_flood_does_not_hang_and_loses_nothing"),
    Fault("4 inputs, 4,000 messages a second", "none lost, doubled, reordered or stuck",
          f"{_TRAFFIC}a_flood_on_four_inputs_loses_doubles_and_reorders_nothing"),
    Fault("an output wired to an input", "cut within a second, told, playing goes on",
          f"{_TRAFFIC}an_output_wired_to_an_input_is_cut_and_playing_goes_on"),
    Fault("a system exclusive that never ends", "the input is free again within seconds",
          "tests/ports/test_rt.py::"
          "test_an_unended_sysex_mutes_an_input_only_until_the_pulse_ends_it"),
    Fault("junk from a player", "whole messages or nothing, counted",
          "tests/ports/test_rt.py::test_what_a_player_packs_wrongly_is_cleaned"),
    Fault("a signal while ten notes are held", "none is left sounding",
          "tests/daemon/test_playing.py::test_a_signal_while_ten_notes_are_held_leaves_none"),
)  # fmt: skip


class Watcher:
    """Collects how each test ended; a test with several parameters must hold with each."""

    def __init__(self) -> None:
        self.outcomes: dict[str, list[str]] = {}
        self.took_s: dict[str, float] = {}
        self.texts: list[str] = []

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """One phase of one test."""
        name = report.nodeid.partition("[")[0]
        self.took_s[name] = self.took_s.get(name, 0.0) + report.duration
        if report.when == "call" or report.failed:
            self.outcomes.setdefault(name, []).append(report.outcome)
        if report.failed:
            self.texts.append(f"{report.nodeid}\n{report.longreprtext}")


def main() -> int:
    """Run them all; print what was done, what had to hold, and whether it did."""
    watcher, began_s = Watcher(), time.monotonic()
    tests = [str(ROOT / fault.test) for fault in FAULTS]
    quiet = ["-q", "--no-header", "--no-summary", "-p", "no:cacheprovider", f"--rootdir={ROOT}"]
    pytest.main([*quiet, *tests], plugins=[watcher])
    print("\n\n" + "\n\n".join(watcher.texts) if watcher.texts else "\n")
    held = 0
    for fault in FAULTS:
        outcomes = watcher.outcomes.get(fault.test, [])
        good = bool(outcomes) and set(outcomes) == {"passed"}
        held += good
        word = "held" if good else "NOT HELD" if outcomes else "NOT RUN"
        took_s = watcher.took_s.get(fault.test, 0.0)
        print(f"{word:8}  {fault.done:38}  {fault.holds:50}  {took_s:5.1f} s")
    print(f"{held} of {len(FAULTS)} held, {time.monotonic() - began_s:.0f} s")
    return 0 if held == len(FAULTS) else 1


if __name__ == "__main__":
    sys.exit(main())
