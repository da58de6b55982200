"""How keys and scales are related: modes, relatives, parallels."""

from __future__ import annotations

from live.theory.keys import Key
from live.theory.scales import Scale, find_scale, scale_of_steps

_TONIC_ACCIDENTALS = 1


def modes_of(scale: Scale) -> tuple[Scale, ...]:
    """The scales on each note of a scale, from its own first.

    Returns: as many scales as it has notes; one that has no name of its own is called by its place,
        `mode 3 of hirajoshi`. A symmetrical scale comes back before the end, as itself.
    """
    return tuple(_mode(scale, place) for place in range(len(scale.steps)))


def _mode(scale: Scale, place: int) -> Scale:
    start = scale.steps[place]
    steps = tuple(sorted((step - start) % 12 for step in scale.steps))
    if steps == scale.steps:
        return scale
    return scale_of_steps(steps) or Scale(f"mode {place + 1} of {scale.name}", steps)


def relatives(key: Key) -> tuple[Key, ...]:
    """The keys with the same notes, one on each note of the key, the key itself first.

    Tonics are spelled as in the key, or plainer where that needs a double accidental: the relative
    major of G flat minor is A major.
    """
    tonics = (key.tonic, *(key.spell(key.tonic_pc + step) for step in key.scale.steps[1:]))
    return tuple(
        Key(tonic.enharmonic(_TONIC_ACCIDENTALS, _TONIC_ACCIDENTALS), mode)
        for tonic, mode in zip(tonics, modes_of(key.scale), strict=True)
    )


def relative(key: Key) -> Key | None:
    """The relative minor of a major key, or the relative major of any other key with its notes.

    Returns: None when no major key has the notes of the key, as in harmonic minor.
    """
    major, minor = find_scale("major"), find_scale("minor")
    wanted = minor if key.scale == major else major
    return next((other for other in relatives(key) if other.scale == wanted), None)


def parallel(key: Key) -> Key:
    """Minor on the same tonic for a key nearer to major, major for one nearer to minor."""
    return Key(key.tonic, find_scale("major" if key.scale.is_minor else "minor"))
