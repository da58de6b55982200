"""Asking a service from a process of its own."""

from __future__ import annotations

import subprocess
import time

import pytest
import rtmidi

from live.ports import probe
from live.ports.probe import why_not
from tests.jackworld import Player


@pytest.mark.jack
def test_a_server_that_answers_gives_no_reason_against_it(jack_server):
    assert why_not(rtmidi.API_UNIX_JACK, "undersong") == ""


@pytest.mark.jack
def test_a_server_that_stands_still_for_one_who_was_killed_is_waited_for(other_jack, monkeypatch):
    server = other_jack()
    monkeypatch.setenv("JACK_DEFAULT_SERVER", server.name)
    with Player("doomed", server=server.name) as doomed:
        doomed.kill()
        assert why_not(rtmidi.API_UNIX_JACK, "undersong") == ""


def test_without_a_server_the_library_says_why(monkeypatch, capfd):
    monkeypatch.setenv("JACK_DEFAULT_SERVER", "nowhere")
    assert "JACK server not running" in why_not(rtmidi.API_UNIX_JACK, "undersong")
    assert capfd.readouterr() == ("", "")


def test_a_child_that_hangs_is_given_up_in_time(monkeypatch):
    monkeypatch.setattr(probe, "_CHILD", "import time; time.sleep(60)")
    begun_s = time.monotonic()
    assert why_not(rtmidi.API_UNIX_JACK, "undersong", limit_s=0.2) == "no answer within 0.2 s"
    assert time.monotonic() - begun_s < 10


def test_a_child_that_crashes_is_told_by_its_status(monkeypatch):
    monkeypatch.setattr(probe, "_CHILD", "import os; os.abort()")
    assert "ended with status -6" in why_not(rtmidi.API_UNIX_JACK, "undersong")


def test_the_child_sees_nothing_of_our_input(monkeypatch):
    seen = {}

    def run(command, **options):
        seen.update(options)
        return subprocess.CompletedProcess(command, 0, b"")

    monkeypatch.setattr(subprocess, "run", run)
    assert why_not(rtmidi.API_UNIX_JACK, "undersong") == ""
    assert seen["stdin"] == subprocess.DEVNULL
