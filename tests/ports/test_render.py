"""Songs as sound: the voices of a file's tracks, its tempo, and the same samples as live."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.io import wavfile

from live.clock.metre import Metre
from live.ports.files import FileNote, SongFile
from live.ports.render import BulkSynth, render_song, voice_for, write_wav
from live.ports.synth import VOICES, Synth
from live.theory.errors import FieldError
from tests import sounds

RATE_HZ = 48_000


def onset(sound, part_of_peak=0.02):
    """First frame that is louder than a part of the peak."""
    mono = np.abs(sound[:, 0])
    return int(np.argmax(mono > part_of_peak * mono.max()))


def note(onset_beats, length_beats, pitch, channel=0, track=0):
    ticks = (round(960 * beats) for beats in (onset_beats, length_beats))
    return FileNote(*ticks, pitch, 100, channel, track)


def song(*notes, tempo_bpm=120.0, tracks=("keys",), tempos=()):
    return SongFile(notes, tempo_bpm, Metre(), None, tracks, tempos)


@pytest.mark.parametrize(
    ("channel", "name", "voice"),
    [
        (9, "bass", "drums"),  # General MIDI Level 1: channel 10 is percussion
        (0, "Answer", "bass"),
        (0, "Sub Bass", "bass"),
        (0, "through", "keys"),
        (0, "", "keys"),
    ],
)
def test_the_voice_of_a_note(channel, name, voice):
    assert voice_for(note(0, 1, 60, channel), (name,)) == voice


def test_the_voice_of_a_note_without_a_track_name():
    assert voice_for(note(0, 1, 60, 0, 3), ("bass",)) == "keys"


def test_a_song_sounds_in_its_tempo():
    # 168 quarter notes a minute: beat 4 is at 4 * 60 / 168 = 1.4286 s.
    sound = render_song(song(note(4, 1, 36, channel=9), tempo_bpm=168.0))
    assert onset(sound) / RATE_HZ == pytest.approx(1.42857, abs=0.002)


def test_a_song_follows_its_tempo_changes():
    # Standard MIDI Files 1.0: 120 until the first tempo event. Two beats at 120 (1 s), two at 60
    # (2 s), one at 240 (0.25 s).
    changes = ((2 * 960, 60.0), (4 * 960, 240.0))
    sound = render_song(song(note(5, 1, 36, channel=9), tempo_bpm=60.0, tempos=changes))
    assert onset(sound) / RATE_HZ == pytest.approx(3.25, abs=0.002)


def test_a_song_ends_when_its_last_note_has_faded():
    sound = render_song(song(note(0, 2, 57), tempo_bpm=120.0))
    assert 1.0 < len(sound) / RATE_HZ < 1.6
    assert sounds.peak(sound[:RATE_HZ]) > 0.01
    assert sounds.peak(sound[-50:]) < 1e-4


def test_each_part_of_a_song_is_heard():
    tracks = ("drums", "answer", "through")
    parts = (note(0, 2, 36, 9, 0), note(0, 2, 33, 0, 1), note(0, 2, 76, 0, 2))
    sound = render_song(song(*parts, tracks=tracks))[: RATE_HZ // 2, 0]
    silent = render_song(song(*parts[:1], tracks=tracks))[: RATE_HZ // 2, 0]
    for pitch in (33, 76):
        hz = sounds.equal_temperament_hz(pitch)
        assert sounds.partial(sound, RATE_HZ, hz) > 5 * sounds.partial(silent, RATE_HZ, hz)


def test_an_empty_song_is_a_short_silence():
    sound = render_song(song())
    assert len(sound) < RATE_HZ
    assert not sound.any()


def test_a_song_of_hours_is_refused():
    with pytest.raises(FieldError, match="song length"):
        render_song(song(note(0, 1, 60), note(20_000, 1, 60)))


def test_another_reader_reads_the_same_samples(tmp_path):
    # Reference library: scipy.io.wavfile.
    sound = render_song(song(note(0, 1, 60), tempo_bpm=168.0), sample_rate_hz=44_100)
    path = tmp_path / "song.wav"
    write_wav(path, sound, 44_100)
    rate_hz, read = wavfile.read(path)
    assert (rate_hz, read.dtype, read.shape) == (44_100, np.int16, sound.shape)
    np.testing.assert_allclose(read / 32767, sound, atol=0.5001 / 32767)
    assert [p.name for p in tmp_path.iterdir()] == ["song.wav"]


def test_a_wav_file_is_cut_at_full_scale_and_takes_no_nan(tmp_path):
    path = tmp_path / "x.wav"
    write_wav(path, np.array([[2.0, -2.0], [np.nan, np.inf]], np.float32), 48_000)
    _, read = wavfile.read(path)
    assert read.tolist() == [[32767, -32767], [0, 32767]]


def test_bad_shapes_and_places_are_named(tmp_path):
    with pytest.raises(FieldError, match="frames by 2"):
        write_wav(tmp_path / "x.wav", np.zeros(10, np.float32), 48_000)
    with pytest.raises(FieldError, match="file"):
        write_wav(tmp_path / "no" / "x.wav", np.zeros((10, 2), np.float32), 48_000)
    assert list(tmp_path.iterdir()) == []


def events(seed, count, length):
    """Random presses of all three voices, some on neighbouring frames, each with its release."""
    chance = np.random.default_rng(seed)
    found = []
    for frame in sorted(chance.integers(0, length, count).tolist()):
        for pitch in chance.integers(34, 90, int(chance.integers(1, 5))).tolist():
            voice = VOICES[int(chance.integers(3))]
            held = int(chance.integers(1, 40_000))
            played = 36 + pitch % 16 if voice == "drums" else pitch
            found.append((frame, voice, bytes((0x90, played, int(chance.integers(1, 128))))))
            found.append((frame + held, voice, bytes((0x80, played, 64))))
    return sorted(found, key=lambda event: event[0])


def in_blocks(synth, played, blocks, block=1024):
    """Feeds a synth block by block; yields before each."""
    waiting = list(played)
    for index in range(blocks):
        while waiting and waiting[0][0] < (index + 1) * block:
            frame, voice, data = waiting.pop(0)
            synth.event(voice, data, frame - index * block)
        yield block
    assert not waiting


@pytest.mark.parametrize("level_db", [-24.0, -12.0])
@pytest.mark.parametrize(("seed", "count", "gather_every"), [(1, 60, 7), (2, 400, 256), (3, 9, 1)])
def test_much_at_once_sounds_as_a_block_at_a_time_does(level_db, seed, count, gather_every):
    """To the last bit of the file; full scale less 150 dB before that, where single frames add up
    in another order."""
    played = events(seed, count, 300_000)
    live, bulk = Synth(RATE_HZ, level_db), BulkSynth(RATE_HZ, level_db)
    expected = [live.render(frames) for frames in in_blocks(live, played, 360)]
    found = []
    for index, frames in enumerate(in_blocks(bulk, played, 360)):
        bulk.advance(frames)
        if index % gather_every == gather_every - 1:
            found.append(bulk.gather())
    found.append(bulk.gather())
    one, other = np.concatenate(expected), np.concatenate(found)
    assert one.shape == other.shape
    assert np.abs(one).max() > 0.01
    assert np.abs(one - other).max() < 10 ** (-150 / 20)
    np.testing.assert_array_equal(np.rint(one * 32767), np.rint(other * 32767))
    assert (live.sounding, live.refused) == (bulk.sounding, bulk.refused)
