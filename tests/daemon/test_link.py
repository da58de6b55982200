"""The link: commands and snapshots between the daemon and any number of faces."""

from __future__ import annotations

import json
import socket
import threading
from collections.abc import Iterator
from pathlib import Path
from queue import SimpleQueue

import pytest

from live.daemon import address
from live.daemon.address import LinkError, connect, link_path, listen
from live.daemon.link import LinkClient
from live.daemon.link_server import MAX_LINE_BYTES, LinkServer
from live.daemon.picture import Picture
from live.daemon.settings import defaults
from live.daemon.snapshot import Snapshot, snapshot_from_json
from tests.processes import wait_until


class Daemon:
    """A server that answers every command with what it was asked."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.asked: list[tuple[str, list[str]]] = []
        self.joined = 0
        self.players: list[int] = []
        self.left: list[int] = []
        self.server = LinkServer(path, self._ask, self._join, self.players.append, self.left.append)

    def _join(self) -> None:
        self.joined += 1

    def _ask(self, face: int, command: str, args: list[str]) -> None:
        self.asked.append((command, args))
        if command != "say nothing":
            self.server.reply(face, {"ok": True, "command": command, "args": args})


@pytest.fixture(params=["unix", "loopback"])
def daemon(
    request: pytest.FixtureRequest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Iterator[Daemon]:
    """Both kinds of address are tested here, whichever the system would choose."""
    unix = request.param == "unix"
    for name in ("live.daemon.link", "live.daemon.link_server"):
        verb = "connect" if name.endswith("link") else "listen"
        real = getattr(address, verb)
        monkeypatch.setattr(f"{name}.{verb}", lambda *a, real=real: real(*a, unix=unix))
    one = Daemon(tmp_path / "folder" / "link")
    yield one
    one.server.close()


def snapshot(**changes: object) -> Snapshot:
    return Picture(defaults().changed(changes)).snapshot()


def test_a_command_is_answered(daemon: Daemon) -> None:
    with LinkClient(daemon.path) as client:
        assert client.tell("key", "D minor") == {"ok": True, "command": "key", "args": ["D minor"]}
        assert client.tell("progression", "Ünï 日")["args"] == ["Ünï 日"]
    assert daemon.asked[0] == ("key", ["D minor"])


def test_many_faces_get_their_own_answers(daemon: Daemon) -> None:
    clients = [LinkClient(daemon.path) for _ in range(20)]
    replies = [client.tell("n", str(index)) for index, client in enumerate(clients)]
    assert [reply["args"] for reply in replies] == [[str(index)] for index in range(20)]
    for client in clients:
        client.close()
        client.close()


def test_watchers_see_the_newest_snapshot(daemon: Daemon) -> None:
    client = LinkClient(daemon.path)
    seen: SimpleQueue[Snapshot] = SimpleQueue()
    thread = threading.Thread(target=lambda: [seen.put(s) for s in client.watch()])
    thread.start()
    wait_until(lambda: daemon.joined == 1, "a watcher")
    for key in ("D minor", "E minor"):
        daemon.server.publish(snapshot(**{"play.key": key}).to_json())
    last = seen.get(timeout=30)
    while last.key != "E minor":
        last = seen.get(timeout=30)
    assert last == snapshot(**{"play.key": "E minor"})
    client.close()
    thread.join(2)
    assert not thread.is_alive()
    wait_until(lambda: daemon.server.watchers == 0, "no watcher")


def test_the_end_of_a_face_that_plays_is_told_and_of_others_not(daemon: Daemon) -> None:
    one, other = LinkClient(daemon.path, plays=True), LinkClient(daemon.path, plays=True)
    with LinkClient(daemon.path) as teller, LinkClient(daemon.path) as watcher:
        teller.tell("note", "on", "C4")
        watcher._send({"watch": True})
        wait_until(lambda: daemon.joined == 1, "it watches", step_s=0.01)
        assert daemon.players == []
        for note in ("on", "off"):
            one.tell("note", note, "C4")
            other.tell("note", note, "C4")
    wait_until(lambda: daemon.server.watchers == 0, "the watcher has gone", step_s=0.01)
    first, second = daemon.players
    assert daemon.left == []
    other.close()
    wait_until(lambda: daemon.left == [second], "the other has gone", step_s=0.01)
    one.close()
    wait_until(lambda: daemon.left == [second, first], "both have gone", step_s=0.01)


def test_the_newest_reaches_a_face_that_was_slow_to_read(daemon: Daemon) -> None:
    with LinkClient(daemon.path) as client:
        client._send({"watch": True})
        wait_until(lambda: daemon.joined == 1, "it watches", step_s=0.01)
        server = daemon.server

        def fill() -> bool:
            server.publish("1" * 900_000)
            return any(face.outbox for face in server._faces.values())

        wait_until(fill, "more than the system holds for a socket", step_s=0.05)
        for newer in ("2", "3"):
            server.publish(newer)
            wait_until(server._outgoing.empty, f"{newer} to be taken", step_s=0.01)
        lines = iter(client._reader.readline, b"")  # one that does not come in time raises
        assert any(line == b"3\n" for line in lines)


def test_a_face_that_does_not_read_holds_nobody_up(daemon: Daemon) -> None:
    lazy = LinkClient(daemon.path)
    lazy._send({"watch": True})
    wait_until(lambda: daemon.server.watchers == 1, "a watcher")
    text = snapshot().to_json()
    with LinkClient(daemon.path) as quick:
        for _ in range(3000):
            daemon.server.publish(text)
        assert quick.tell("hello")["ok"]  # within the client's own 3 s
    lazy.close()


@pytest.mark.parametrize(
    "junk",
    [
        b"junk\n",
        b"[]\n",
        b'{"tell": 1, "args": 3}\n',
        b"\xff\xfe\n",
        b"{}\n",
        b"[" * 60_000 + b"\n",
    ],
)
def test_junk_gets_an_error_and_the_next_command_works(daemon: Daemon, junk: bytes) -> None:
    with LinkClient(daemon.path) as client:
        client._socket.sendall(junk)
        assert json.loads(client._line())["ok"] is False
        assert client.tell("still here")["ok"]


def test_a_line_without_end_is_cut_off(daemon: Daemon) -> None:
    with LinkClient(daemon.path) as client:
        client._socket.sendall(b"x" * (MAX_LINE_BYTES + 1))
        with pytest.raises(LinkError):
            client._line()
    with LinkClient(daemon.path) as other:
        assert other.tell("fine")["ok"]


def test_no_answer_in_time_is_told(daemon: Daemon) -> None:
    with LinkClient(daemon.path, timeout_s=0.2) as client, pytest.raises(LinkError, match="answer"):
        client.tell("say nothing")


def test_the_end_of_the_daemon_is_told(daemon: Daemon) -> None:
    client = LinkClient(daemon.path)
    assert client.tell("hello")["ok"]
    daemon.server.close()
    with pytest.raises(LinkError, match="ended"):
        client.tell("hello")
    client.close()
    with pytest.raises(LinkError, match="undersong headless"):
        LinkClient(daemon.path)


def test_two_daemons_cannot_have_one_link(daemon: Daemon) -> None:
    with pytest.raises(LinkError, match="already running"):
        Daemon(daemon.path)


def test_a_link_left_over_by_a_killed_daemon_is_taken_over(tmp_path: Path) -> None:
    path = tmp_path / "link"
    sock = socket.socket(socket.AF_UNIX)
    sock.bind(str(path))
    sock.close()
    Daemon(path).server.close()
    assert not path.exists()


def test_a_wrong_token_gets_nothing(tmp_path: Path) -> None:
    path = tmp_path / "link"
    sock, token = listen(path, unix=False)
    assert token in path.read_text(encoding="ascii")
    sock.close()
    with pytest.raises(LinkError):
        connect(path, 0.2, unix=False)
    path.write_text("no port here", encoding="ascii")
    with pytest.raises(LinkError):
        connect(path, 0.2, unix=False)


def test_a_folder_that_cannot_be_used_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("", encoding="ascii")
    with pytest.raises(LinkError, match="cannot be opened"):
        listen(tmp_path / "file" / "link")


def test_where_the_link_is(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("UNDERSONG_LINK", str(tmp_path / "x"))
    assert link_path() == tmp_path / "x"
    monkeypatch.delenv("UNDERSONG_LINK")
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(tmp_path))
    assert link_path() == tmp_path / "undersong" / "link"
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(tmp_path / "missing"))
    assert link_path().name == "link"


def test_a_snapshot_survives_the_link() -> None:
    one = snapshot(**{"play.key": "F# dorian", "play.progression": "i IV"})
    assert snapshot_from_json(one.to_json()) == one
    extended = json.loads(one.to_json()) | {"something new": 1}
    assert snapshot_from_json(json.dumps(extended)) == one
