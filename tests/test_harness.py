"""The harness itself: a harness that cannot fail would hide everything else."""

from __future__ import annotations

import logging
import sys
import time

import pytest

from tests.jackworld import Player, connections, ports
from tests.processes import Started, run, wait_until

NOTE_ON = b"\x90\x3c\x40"
NOTE_OFF = b"\x80\x3c\x40"


@pytest.mark.logs("the cable is loose")
def test_an_announced_warning_passes():
    logging.getLogger("live.test").warning("the cable is loose")


def test_a_command_that_hangs_is_killed():
    with pytest.raises(AssertionError, match=r"did not end within 0\.3 s"):
        run([sys.executable, "-c", "print('begun', flush=True)\nwhile True: pass"], timeout_s=0.3)


def test_a_command_is_killed_with_its_children():
    started = Started(["bash", "-c", "sleep 60 & echo $!; wait"], limit_s=30)
    started.wait_for_text("\n")
    child = int(started.out)
    started.close()
    status = run(["bash", "-c", f"sleep 0.1; grep -c sleep /proc/{child}/cmdline"], timeout_s=5)
    assert status.out.strip() in ("", "0")


def test_the_limit_kills_without_anybody_waiting():
    started = Started(["sleep", "60"], limit_s=0.2)
    with pytest.raises(AssertionError, match="killed at its limit"):
        started.wait(5)
    started.close()


@pytest.mark.jack
def test_a_player_hears_what_a_player_sends(player, jack_connect):
    jack_connect(player.port("out"), player.port("in"))
    before_ns = time.monotonic_ns()
    start_ns = player.play([(0.0, NOTE_ON), (0.1, NOTE_OFF), (0.1, b"\xf0\x01\x02")])
    heard = player.wait_for(3)
    assert [one.data for one in heard] == [NOTE_ON, NOTE_OFF, b"\xf0\x01\x02"]
    # JACK's stamps and ours are of one clock: the events leave when they are due, give or take
    # the period (1.3 ms) and a sleepy machine.
    assert before_ns < start_ns <= heard[0].at_ns + 2_000_000
    assert abs((heard[1].at_ns - heard[0].at_ns) - 100_000_000) < 30_000_000
    assert [one.data for one in player.sent()] == [one.data for one in heard]


@pytest.mark.jack
def test_a_second_player_of_the_same_name_knows_its_real_name(jack_server):
    with Player("twin") as first, Player("twin") as second:
        assert first.name == "twin"
        assert second.name == "twin-01"
        assert {"twin:in", "twin-01:in"} <= set(ports())


@pytest.mark.jack
def test_a_killed_player_takes_its_ports_along(other_jack):
    loose = other_jack(in_step=False).name
    with Player("stays", server=loose) as stays, Player("goes", server=loose) as goes:
        goes.connect(goes.port("out"), stays.port("in"))
        assert (goes.port("out"), stays.port("in")) in connections(loose)
        goes.kill()
        wait_until(lambda: goes.port("out") not in ports(loose), "the end of the ports")
        assert stays.port("in") in ports(loose)


@pytest.mark.jack
def test_a_server_of_its_own_can_be_killed_and_started_again(other_jack):
    server = other_jack()
    assert "system:playback_1" in ports(server.name)
    server.kill()
    assert run(["jack_lsp"], timeout_s=10, env=server.env).status != 0
    server.start()
    assert "system:playback_1" in ports(server.name)
    assert "system:playback_1" in ports()
