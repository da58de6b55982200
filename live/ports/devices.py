"""Which sound device is meant. Takes the sounddevice module, or a stand-in, as a value."""

from __future__ import annotations

from dataclasses import dataclass
from types import ModuleType

from live.ports.api import PortError
from live.ports.match import match_port


class SoundError(RuntimeError):
    """There is no sound, and why: one sentence for people."""


@dataclass(frozen=True, slots=True)
class Device:
    """A sound device with outputs.

    Args:
        index: PortAudio's number for it, good until the list is made anew.
        name: its own name and that of the driver family, such as `Speakers, Windows WASAPI`.
        rate_hz: the sample rate it works at by itself.
        channels: outputs we use, 1 or 2.
    """

    index: int
    name: str
    rate_hz: int
    channels: int


def list_devices(library: ModuleType) -> list[Device]:
    """Every device that can play, in the library's order. Raises SoundError."""
    try:
        rows = list(library.query_devices())
        families = [family["name"] for family in library.query_hostapis()]
    except library.PortAudioError as error:
        raise SoundError(f"The sound devices cannot be listed: {error}.") from error
    return [
        Device(
            index=index,
            name=f"{row['name']}, {families[row['hostapi']]}",
            rate_hz=round(row["default_samplerate"]),
            channels=min(2, row["max_output_channels"]),
        )
        for index, row in enumerate(rows)
        if row["max_output_channels"] > 0
    ]


def find_device(library: ModuleType, wanted: str | None) -> Device:
    """The one device that `wanted` means, by its name or a part of it; None is the default one.

    Raises: SoundError if there is none, or more than one fits: nothing is guessed.
    """
    devices = list_devices(library)
    if not devices:
        raise SoundError("There is no sound because no sound device was found.")
    listed = ", ".join(f"'{device.name}'" for device in devices)
    if wanted is None:
        default = library.query_hostapis(library.default.hostapi)["default_output_device"]
        found = [device for device in devices if device.index == default]
        return found[0] if found else devices[0]
    try:
        name = match_port(wanted, [device.name for device in devices])
    except PortError as error:
        raise SoundError(
            f"Not exactly one sound device fits '{wanted}'; there are: {listed}."
        ) from error
    return next(device for device in devices if device.name == name)
