"""Grooves on the command line: by name, written out, or learned from the drums of a MIDI file."""

from __future__ import annotations

from live.answer.groove_learning import learn_groove
from live.answer.grooves import Groove, Stroke, check_suits, find_groove, groove_for, strokes
from live.answer.swing import Swing
from live.clock.metre import Metre
from live.clock.units import TICKS_PER_SIXTEENTH
from live.notes.midi import DRUM_CHANNEL
from live.notes.phrase import PhraseNote
from live.ports.files import TrackOut, read_song
from live.theory.errors import FieldError

MIDI_ENDINGS = (".mid", ".midi")


def read_groove(text: str | None, metre: Metre) -> Groove:
    """The groove that is asked for, or the one that is usual in `metre`.

    Args:
        text: a groove's name, rows of steps, or a MIDI file with drums on channel 10.
        metre: of the call; the groove must fit it.
    Raises: FieldError.
    """
    if text is None:
        return groove_for(metre)
    if is_midi_file(text):
        return check_suits(groove_of_file(text), metre)
    return check_suits(find_groove(text), metre)


def is_midi_file(text: str) -> bool:
    """Whether the text names a MIDI file, there or not."""
    return text.lower().endswith(MIDI_ENDINGS)


def groove_of_file(path: str) -> Groove:
    """The groove that a file's drums play most.

    Raises: FieldError when it cannot be read, or has no drums on channel 10.
    """
    song = read_song(path)
    played = [
        Stroke(n.onset_ticks, n.pitch, n.velocity) for n in song.notes if n.channel == DRUM_CHANNEL
    ]
    try:
        return learn_groove(played, song.metre, song.tempo_bpm)
    except FieldError as error:
        raise FieldError(error.field, error.allowed, error.got, path) from None


def drum_track(groove: Groove, bars: int, metre: Metre, swing: Swing | None = None) -> TrackOut:
    """The groove as a track of channel 10, from the first bar line on.

    `swing` says where its strokes are played; None = as they are written.
    """
    notes = tuple(
        PhraseNote(onset, TICKS_PER_SIXTEENTH, key, velocity)
        for onset, key, velocity in strokes(groove, bars, metre, swing)
    )
    return TrackOut("drums", DRUM_CHANNEL, notes)
