"""`takes` on a journal of its own."""

from __future__ import annotations

import json
import time
from contextlib import closing

import mido
import pretty_midi
import pytest

from live.daemon.settings import journal_path
from live.notes.record import Record
from live.takes.journal import Journal

BAR_NS = round(4 * 60e9 / 168)


@pytest.fixture
def played(home):
    """A journal with one take: two bars, a snapped slip, an answer."""

    def fact(kind, at_ns, **detail):
        return Record(at_ns, kind, "", b"", json.dumps(detail))

    def note(kind, port, at_ns, pitch):
        return [
            Record(at_ns, kind, port, bytes((0x90, pitch, 80))),
            Record(at_ns + BAR_NS // 4, kind, port, bytes((0x80, pitch, 64))),
        ]

    records = [
        fact("key", 0, key="D minor"),
        fact("groove", 0, groove="two-step", swing=0.0),
        fact("start", 0, bar=0, beat=0.0, tempo=168.0, metre="4/4"),
        *note("in", "keys in", 0, 61),
        *note("out", "through", 0, 62),
        fact("call", 0, number=1, bar=0),
        fact("answer", BAR_NS, number=1, bar=1, choice=1, reasons=["because"]),
        *note("out", "answer", BAR_NS, 38),
        fact("stop", 2 * BAR_NS),
    ]
    with closing(Journal(journal_path())) as journal:
        journal.begin_run(time.time_ns(), 0)
        journal.write(sorted(records, key=lambda r: r.at_ns))


def test_nothing_yet(cli):
    assert cli("takes", "list").out == "no takes yet\n"
    assert cli("takes", "list", "--json").json == {"takes": []}


def test_list(cli, played):
    takes = cli("takes", "list", "--json").json["takes"]
    assert len(takes) == 1
    take = takes[0]
    assert (take["id"], take["notes"], take["calls"], take["answers"]) == (1, 1, 1, 1)
    assert (take["key"], take["tempo"]) == ("D minor", 168.0)
    assert take["length_s"] == pytest.approx(2 * BAR_NS / 1e9)
    lines = cli("takes", "list").out.splitlines()
    assert lines[0].split() == [
        "take", "started", "length", "notes", "calls", "answers", "key", "tempo",
    ]  # fmt: skip
    assert lines[1].split()[0] == "1"
    assert lines[1].split()[3:] == ["0:03", "1", "1", "1", "D", "minor", "168"]
    assert lines[2] == "1 take"


@pytest.mark.parametrize("words", [[], ["last"], ["1"], ["1", "1"]])
def test_export(cli, played, tmp_path, words):
    files = cli("takes", "export", *words, "--out", tmp_path / "out", "--json").json["files"]
    assert len(files) == 1
    parts = {i.name: i.notes for i in pretty_midi.PrettyMIDI(files[0]).instruments}
    assert [n.pitch for n in parts["played"]] == [61]
    assert [n.pitch for n in parts["through"]] == [62]
    assert [n.pitch for n in parts["answer"]] == [38]
    assert parts["answer"][0].start == pytest.approx(BAR_NS / 1e9, abs=0.001)


def test_export_with_the_groove(cli, played, tmp_path):
    said = cli("takes", "export", "--drums", "--out", tmp_path).out
    assert said.rstrip().endswith(".mid: played, through, answer, drums")
    (path,) = tmp_path.glob("*.mid")
    (drums,) = [i for i in pretty_midi.PrettyMIDI(str(path)).instruments if i.is_drum]
    kicks = [n.start for n in drums.notes if n.pitch == 36]
    beat_s = 60 / 168
    assert kicks == pytest.approx([0, 2.5 * beat_s, 4 * beat_s, 6.5 * beat_s], abs=1e-3)


def test_export_says_why_there_are_no_drums(cli, call_mid, tmp_path):
    cli("takes", "import", call_mid)
    said = cli("takes", "export", "--drums", "--out", tmp_path).out
    assert said.splitlines()[1] == "  no drums: the transport did not run, or no groove was noted"


def test_export_never_overwrites(cli, played, tmp_path):
    said = [cli("takes", "export", "--out", tmp_path).out for _ in range(2)]
    assert said[0] != said[1]
    assert len(list(tmp_path.glob("take-*.mid"))) == 2


def test_export_of_what_is_not_there(cli, played):
    code, out, err = cli("takes", "export", "2")
    assert (code, out) == (2, "")
    assert err == "undersong: take: got 2; allowed: 1 to 1\n"


def test_import_makes_a_take_that_exports_again(cli, call_mid, tmp_path):
    assert cli("takes", "import", call_mid, "--json").json == {
        "id": 1,
        "file": str(call_mid),
        "unplayable_tempos": [],
    }
    assert cli("takes", "import", call_mid).out == f"{call_mid} is now take 2\n"
    takes = cli("takes", "list", "--json").json["takes"]
    assert [take["origin"] for take in takes] == ["call.mid", "call.mid"]
    assert "from call.mid" in cli("takes", "list").out
    files = cli("takes", "export", "1", "2", "--out", tmp_path / "out", "--json").json["files"]
    assert len(files) == 2
    pitched = [n for i in pretty_midi.PrettyMIDI(files[0]).instruments for n in i.notes]
    assert {n.pitch for n in pitched} >= {62, 65, 66, 69}


def test_a_journal_that_is_none_is_one_sentence(cli):
    journal_path().parent.mkdir(parents=True)
    journal_path().write_bytes(b"this is no database, " * 100)
    code, out, err = cli("takes", "list")
    assert (code, out) == (1, "")
    assert err.startswith("undersong: ")
    assert err.count("\n") == 1


def test_the_folder_of_the_settings_is_used(cli, home, call_mid):
    from live.daemon.settings import settings_path

    settings_path().parent.mkdir(parents=True, exist_ok=True)
    settings_path().write_text(f'[takes]\nfolder = "{home / "elsewhere"}"\n')
    assert cli("takes", "import", call_mid).code == 0
    assert (home / "elsewhere" / "journal.sqlite").exists()


def test_the_folder_of_a_settings_file_that_is_named(cli, home, call_mid):
    (home / "show.toml").write_text(f'[takes]\nfolder = "{home / "show"}"\n')
    assert cli("takes", "import", call_mid, "--config", home / "show.toml").code == 0
    assert "1 take" in cli("takes", "list", "--config", home / "show.toml").out
    assert cli("takes", "list").out == "no takes yet\n"


def test_what_undersong_cannot_run_at_is_kept_and_told(cli, tmp_path):
    song = mido.MidiFile(ticks_per_beat=96)
    beats_us = (0xFFFFFF, 500_000, 100_000, 90_000, 80_000, 70_000)
    track = [mido.MetaMessage("set_tempo", tempo=us, time=96) for us in beats_us]
    song.tracks.append(mido.MidiTrack([*track, mido.Message("note_on", note=60)]))
    song.tracks[0].append(mido.Message("note_off", note=60, time=96))
    song.save(tmp_path / "slow.mid")
    said = cli("takes", "import", tmp_path / "slow.mid")
    told = "kept, but Undersong itself runs at 20 to 400 BPM only: 3.57628, 600, 666.67, 750"
    assert (said.code, said.out.splitlines()[1]) == (0, f"  {told} and 1 more")
    cli("takes", "export", "1", "--out", tmp_path / "out")
    (written,) = (tmp_path / "out").iterdir()
    tempos = [m.tempo for m in mido.MidiFile(written).tracks[0] if m.type == "set_tempo"]
    assert tempos == [500_000, *beats_us]  # 120 before the first (RP-001)


def test_takes_alone_lists_them(cli, call_mid):
    assert cli("takes").out == "no takes yet\n"
    cli("takes", "import", call_mid)
    assert cli("takes").out == cli("takes", "list").out
    assert cli("takes").out.endswith("1 take\n")
