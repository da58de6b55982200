"""What every test may rely on: no surprise in the log, real ports, processes that always end."""

from __future__ import annotations

import faulthandler
import logging
import os
from collections.abc import Callable, Generator, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path

import hypothesis
import pytest

from live.clock.manual import ManualClock
from tests import jackworld
from tests.processes import Ended, Started, run
from tests.running import Running

ROOT = Path(__file__).resolve().parent.parent
HANG_LIMIT_S = 150.0
"""Longer than anything that is waited for: this ends the whole run."""

# A machine that is busy with other work is no reason to fail a law.
hypothesis.settings.register_profile("undersong", deadline=None)
hypothesis.settings.load_profile("undersong")

_real_stderr = pytest.StashKey[int]()


def pytest_configure(config: pytest.Config) -> None:
    config.addinivalue_line(
        "markers", "logs(text): the test must log a warning or error that contains `text`"
    )
    capture = config.pluginmanager.getplugin("capturemanager")
    with capture.global_and_fixture_disabled():
        config.stash[_real_stderr] = os.dup(2)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """`tests/all.sh` takes the tests that need ports or a screen by their marks."""
    for item in items:
        for fixture, mark in (("_jack_world", "jack"), ("screen", "window")):
            if fixture in getattr(item, "fixturenames", ()) and not item.get_closest_marker(mark):
                raise pytest.UsageError(f"{item.nodeid} wants the mark '{mark}'")


class _Seen(logging.Handler):
    """Keeps every record from WARNING up."""

    def __init__(self) -> None:
        super().__init__(logging.WARNING)
        self.texts: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        self.texts.append(f"{record.name} {record.levelname}: {record.getMessage()}")


@contextmanager
def _watched_log() -> Iterator[_Seen]:
    seen = _Seen()
    logging.getLogger().addHandler(seen)
    try:
        yield seen
    finally:
        logging.getLogger().removeHandler(seen)


@pytest.hookimpl(wrapper=True)
def pytest_runtest_call(item: pytest.Item) -> Generator[None, object, object]:
    """A warning in the log that the test does not announce fails it, and the other way round."""
    expected = [mark.args[0] for mark in item.iter_markers("logs")]
    with _watched_log() as seen:
        result = yield
    surprises = [text for text in seen.texts if not any(part in text for part in expected)]
    missing = [part for part in expected if not any(part in text for text in seen.texts)]
    if surprises:
        pytest.fail(f"unexpected in the log: {surprises}", pytrace=False)
    if missing:
        pytest.fail(f"expected in the log and not seen: {missing}", pytrace=False)
    return result


@pytest.fixture
def clock() -> ManualClock:
    """A clock driven by hand; starts away from 0 so that a forgotten stamp shows."""
    return ManualClock(start_ns=1_000_000_000_000)


@pytest.fixture(scope="session")
def _jack_world() -> None:
    if "jack" not in os.environ.get("UNDERSONG_TEST_WORLD", "").split(","):
        pytest.fail(
            "Real ports are tested in a world of their own: "
            "run `tests/own-world.sh --screen python -m pytest` (or `make test`).",
            pytrace=False,
        )
    if run(["jack_lsp"], timeout_s=10).status != 0:
        pytest.fail("The world's JACK server does not answer.", pytrace=False)


@pytest.fixture
def jack_server(_jack_world: None, request: pytest.FixtureRequest) -> Iterator[None]:
    """The world's JACK server; a test that hangs is killed with a trace of every thread."""
    stderr = request.config.stash[_real_stderr]
    faulthandler.dump_traceback_later(HANG_LIMIT_S, exit=True, file=stderr)
    yield
    faulthandler.cancel_dump_traceback_later()


@pytest.fixture
def jack_connect(jack_server: None) -> Callable[[str, str], None]:
    """Joins two ports of the world's server: jack_connect(source, sink)."""
    return jackworld.connect


@pytest.fixture
def player(jack_server: None) -> Iterator[jackworld.Player]:
    """A player on the world's server, with ports `in` and `out`."""
    with jackworld.Player() as one:
        yield one


@pytest.fixture
def running(jack_server: None, tmp_path: Path, request: pytest.FixtureRequest) -> Iterator[Running]:
    """A whole Undersong on the world's server, with the SETTINGS of the test's module."""
    with Running(tmp_path, request.module.SETTINGS) as one:
        yield one


@pytest.fixture(scope="module")
def shared(
    _jack_world: None, tmp_path_factory: pytest.TempPathFactory, request: pytest.FixtureRequest
) -> Iterator[Running]:
    """The same for all tests of a module, each of which leaves it as it was."""
    with Running(tmp_path_factory.mktemp("shared"), request.module.SETTINGS, limit_s=600) as one:
        yield one


@pytest.fixture
def other_jack(_jack_world: None) -> Iterator[Callable[..., jackworld.JackServer]]:
    """Starts further servers that a test may stop or kill: other_jack().

    They have the same names in every test: a server that is killed keeps its place in JACK's
    registry, of which there are eight, until one of its name takes it over.
    """
    servers: list[jackworld.JackServer] = []

    def start(period_frames: int = 64, *, in_step: bool = True) -> jackworld.JackServer:
        name = f"other-{len(servers)}"
        servers.append(jackworld.JackServer(name, period_frames, in_step=in_step))
        servers[-1].start()
        return servers[-1]

    yield start
    for server in servers:
        server.close()


@pytest.fixture
def screen() -> str:
    """The world's X display, such as `:0`."""
    if "screen" not in os.environ.get("UNDERSONG_TEST_WORLD", "").split(","):
        pytest.fail(
            "The window is tested on a screen of its own: "
            "run `tests/own-world.sh --screen python -m pytest` (or `make test`).",
            pytrace=False,
        )
    return os.environ["DISPLAY"]


@pytest.fixture
def run_command() -> Callable[..., Ended]:
    """Runs a command to its end: run_command(argv, timeout_s=30, env={}, cwd=None) -> Ended."""
    return run


@pytest.fixture
def start_command() -> Iterator[Callable[..., Started]]:
    """Starts a command: start_command(argv, limit_s=120, env={}, cwd=None) -> Started.

    Whatever still runs at the end of the test is killed, with its children.
    """
    started: list[Started] = []

    def start(
        command: Sequence[str],
        *,
        limit_s: float = 120.0,
        env: Mapping[str, str | None] | None = None,
        cwd: str | None = None,
    ) -> Started:
        started.append(Started(command, limit_s=limit_s, env=env, cwd=cwd))
        return started[-1]

    yield start
    for one in started:
        one.close()
