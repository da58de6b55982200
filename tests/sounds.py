"""Measures of recorded or rendered sound, made without any part of the program."""

from __future__ import annotations

import math

import numpy as np

CEILING = 10 ** (-12 / 20)
STEP = 0.05


def equal_temperament_hz(note: int) -> float:
    """Source: ISO 16:1975 (A4 = 440 Hz) and the twelfth root of two; MIDI note 69 is A4."""
    return 440.0 * 2 ** ((note - 69) / 12)


def cents(measured_hz: float, wanted_hz: float) -> float:
    return 1200 * math.log2(measured_hz / wanted_hz)


def spectrum(sound, rate_hz: int):
    """Frequencies in hertz and amplitudes, Hann window, padded to an eighth of a bin."""
    sound = np.asarray(sound, float)
    size = 8 * 2 ** math.ceil(math.log2(len(sound)))
    amplitudes = np.abs(np.fft.rfft(sound * np.hanning(len(sound)), size)) / (len(sound) / 4)
    return np.fft.rfftfreq(size, 1 / rate_hz), amplitudes


def strongest_hz(sound, rate_hz: int, low_hz: float = 20.0, high_hz: float = 8000.0) -> float:
    """Frequency of the strongest partial, by a parabola through the logarithms of three bins."""
    hz, amplitudes = spectrum(sound, rate_hz)
    inside = np.flatnonzero((hz >= low_hz) & (hz <= high_hz))
    top = inside[np.argmax(amplitudes[inside])]
    left, middle, right = np.log(amplitudes[top - 1 : top + 2])
    return float(hz[1] * (top + 0.5 * (left - right) / (left - 2 * middle + right)))


def partial(sound, rate_hz: int, wanted_hz: float) -> float:
    """Amplitude of the partial within 3 % of a frequency."""
    hz, amplitudes = spectrum(sound, rate_hz)
    return float(amplitudes[(hz > wanted_hz * 0.97) & (hz < wanted_hz * 1.03)].max())


def peak(sound) -> float:
    return float(np.abs(sound).max())


def largest_step(sound) -> float:
    """Largest difference between neighbouring samples."""
    return float(np.abs(np.diff(np.asarray(sound, float), axis=0)).max())


def loudness_db(sound) -> float:
    return 10 * math.log10(float(np.mean(np.square(np.asarray(sound, float)))) + 1e-20)
