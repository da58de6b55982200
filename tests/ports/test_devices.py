from __future__ import annotations

import pytest

from live.ports.devices import SoundError, find_device, list_devices


class PortAudioError(Exception):
    pass


class Library:
    """Answers as the sounddevice module does (python-sounddevice documentation, query_devices)."""

    PortAudioError = PortAudioError

    def __init__(self, *devices, default=-1, fails=False):
        self.rows = [
            {"name": n, "hostapi": h, "max_output_channels": c, "default_samplerate": 44100.0}
            for n, h, c in devices
        ]
        self.fails = fails
        self.default = type("Default", (), {"hostapi": 0})
        self.family = {"name": "ALSA", "default_output_device": default}

    def query_devices(self):
        if self.fails:
            raise PortAudioError("PortAudio not initialized")
        return self.rows

    def query_hostapis(self, index=None):
        families = (self.family, {"name": "JACK", "default_output_device": -1})
        return families if index is None else families[index]


STUDIO = (("Mic", 0, 0), ("Speakers", 0, 2), ("Speakers", 1, 8), ("USB Out", 0, 1))


def test_only_devices_with_outputs_are_listed_by_name_and_driver_family():
    found = list_devices(Library(*STUDIO))
    assert [(d.index, d.name, d.channels) for d in found] == [
        (1, "Speakers, ALSA", 2),
        (2, "Speakers, JACK", 2),
        (3, "USB Out, ALSA", 1),
    ]
    assert {d.rate_hz for d in found} == {44_100}


def test_without_a_wish_the_system_chooses():
    assert find_device(Library(*STUDIO, default=3), None).name == "USB Out, ALSA"


def test_without_a_default_the_first_device_is_taken():
    assert find_device(Library(*STUDIO), None).name == "Speakers, ALSA"


@pytest.mark.parametrize("wanted", ["Speakers, JACK", "jack", "Speakers, J"])
def test_a_part_of_a_name_that_fits_one_device_is_enough(wanted):
    assert find_device(Library(*STUDIO, default=1), wanted).index == 2


@pytest.mark.parametrize("wanted", ["Speakers", "Headset", ""])
def test_nothing_is_guessed(wanted):
    with pytest.raises(SoundError, match=r"Not exactly one.*'USB Out, ALSA'"):
        find_device(Library(*STUDIO, default=1), wanted)


@pytest.mark.parametrize("wanted", [None, "Speakers"])
def test_no_device_is_one_sentence(wanted):
    with pytest.raises(SoundError) as caught:
        find_device(Library(("Mic", 0, 0)), wanted)
    assert str(caught.value) == "There is no sound because no sound device was found."


def test_a_library_in_trouble_is_one_sentence():
    with pytest.raises(SoundError, match=r"cannot be listed: PortAudio not initialized\.$"):
        list_devices(Library(fails=True))
