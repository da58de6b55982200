"""`render`: a WAV file of the right length, with sound where the notes are."""

from __future__ import annotations

import wave

import numpy as np


def test_the_call_as_sound(cli, call_mid, tmp_path):
    out = tmp_path / "out.wav"
    found = cli("render", call_mid, out, "--json").json
    assert (found["file"], found["notes"], found["sample_rate_hz"]) == (str(out), 14, 48000)
    with wave.open(str(out)) as sound:
        frames = sound.getnframes()
        samples = np.frombuffer(sound.readframes(frames), "<i2").reshape(-1, 2) / 32768
    assert abs(frames / 48000 - found["length_s"]) < 0.001
    # The last note of the call ends after 12 half beats and 400 ticks at 168 BPM.
    end_s = (12 * 480 + 400) / 960 * 60 / 168
    assert end_s < found["length_s"] < end_s + 5
    loudness = [
        np.abs(samples[round(i * 0.5 * 60 / 168 * 48000) :][:9600]).max() for i in range(13)
    ]
    assert min(loudness) > 0.005
    assert np.abs(samples).max() <= 10 ** (-12 / 20) + 1 / 32768


def test_text(cli, call_mid, tmp_path):
    out = tmp_path / "out.wav"
    said = cli("render", call_mid, out).out
    assert said.startswith(f"{out}: ")
    assert said.endswith("s, 14 notes\n")


def test_a_place_that_cannot_be_written(cli, call_mid, tmp_path):
    code, out, err = cli("render", call_mid, tmp_path / "no" / "where.wav")
    assert (code, out) == (2, "")
    assert err.startswith("undersong: file: got ")
    assert err.count("\n") == 1
