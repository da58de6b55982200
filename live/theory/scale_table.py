"""The table of scales: (name, steps in semitones above the tonic, other names).

Sources: common practice for the names; the steps of the families are checked in the tests
against Forte numbers and interval vectors. Messiaen 1944, Technique de mon langage musical, for
the modes of limited transposition.
"""

from __future__ import annotations

Row = tuple[str, tuple[int, ...], tuple[str, ...]]

_DIATONIC: tuple[Row, ...] = (
    ("major", (0, 2, 4, 5, 7, 9, 11), ("ionian", "maj")),
    ("dorian", (0, 2, 3, 5, 7, 9, 10), ()),
    ("phrygian", (0, 1, 3, 5, 7, 8, 10), ()),
    ("lydian", (0, 2, 4, 6, 7, 9, 11), ()),
    ("mixolydian", (0, 2, 4, 5, 7, 9, 10), ()),
    ("minor", (0, 2, 3, 5, 7, 8, 10), ("aeolian", "natural minor", "min", "m")),
    ("locrian", (0, 1, 3, 5, 6, 8, 10), ()),
)

_HARMONIC_MINOR: tuple[Row, ...] = (
    ("harmonic minor", (0, 2, 3, 5, 7, 8, 11), ("harm minor",)),
    ("locrian natural 6", (0, 1, 3, 5, 6, 9, 10), ("locrian #6",)),
    ("ionian augmented", (0, 2, 4, 5, 8, 9, 11), ("ionian #5", "augmented major")),
    ("dorian #4", (0, 2, 3, 6, 7, 9, 10), ("ukrainian dorian", "romanian minor", "altered dorian")),
    ("phrygian dominant", (0, 1, 4, 5, 7, 8, 10), ("phrygian major", "spanish phrygian")),
    ("lydian #2", (0, 3, 4, 6, 7, 9, 11), ("lydian #9",)),
    ("ultralocrian", (0, 1, 3, 4, 6, 8, 9), ("super locrian bb7", "altered diminished")),
)

_MELODIC_MINOR: tuple[Row, ...] = (
    ("melodic minor", (0, 2, 3, 5, 7, 9, 11), ("jazz minor", "melodic minor ascending")),
    ("dorian b2", (0, 1, 3, 5, 7, 9, 10), ("phrygian natural 6", "phrygian #6")),
    ("lydian augmented", (0, 2, 4, 6, 8, 9, 11), ("lydian #5",)),
    ("lydian dominant", (0, 2, 4, 6, 7, 9, 10), ("lydian b7", "acoustic", "overtone")),
    ("mixolydian b6", (0, 2, 4, 5, 7, 8, 10), ("aeolian dominant", "melodic major")),
    ("locrian natural 2", (0, 2, 3, 5, 6, 8, 10), ("locrian #2", "half diminished", "aeolian b5")),
    ("altered", (0, 1, 3, 4, 6, 8, 10), ("super locrian", "superlocrian", "altered dominant")),
)

_HARMONIC_MAJOR: tuple[Row, ...] = (
    ("harmonic major", (0, 2, 4, 5, 7, 8, 11), ("ionian b6",)),
    ("dorian b5", (0, 2, 3, 5, 6, 9, 10), ("locrian natural 2 natural 6",)),
    ("phrygian b4", (0, 1, 3, 4, 7, 8, 10), ("altered natural 5",)),
    ("lydian b3", (0, 2, 3, 6, 7, 9, 11), ("lydian diminished", "melodic minor #4")),
    ("mixolydian b2", (0, 1, 4, 5, 7, 9, 10), ("mixolydian b9",)),
    ("lydian augmented #2", (0, 3, 4, 6, 8, 9, 11), ()),
    ("locrian bb7", (0, 1, 3, 5, 6, 8, 9), ()),
)

_OTHER_SEVEN: tuple[Row, ...] = (
    ("double harmonic", (0, 1, 4, 5, 7, 8, 11), ("double harmonic major", "byzantine", "bhairav")),
    ("hungarian minor", (0, 2, 3, 6, 7, 8, 11), ("double harmonic minor",)),
    ("hungarian major", (0, 3, 4, 6, 7, 9, 10), ()),
    ("neapolitan minor", (0, 1, 3, 5, 7, 8, 11), ()),
    ("neapolitan major", (0, 1, 3, 5, 7, 9, 11), ()),
    ("persian", (0, 1, 4, 5, 6, 8, 11), ()),
    ("oriental", (0, 1, 4, 5, 6, 9, 10), ()),
    ("enigmatic", (0, 1, 4, 6, 8, 10, 11), ("scala enigmatica",)),
    ("major locrian", (0, 2, 4, 5, 6, 8, 10), ()),
    ("leading whole tone", (0, 2, 4, 6, 8, 10, 11), ()),
)

_FIVE_AND_SIX: tuple[Row, ...] = (
    ("major pentatonic", (0, 2, 4, 7, 9), ("pentatonic", "pentatonic major")),
    ("minor pentatonic", (0, 3, 5, 7, 10), ("pentatonic minor",)),
    ("suspended pentatonic", (0, 2, 5, 7, 10), ("egyptian",)),
    ("man gong", (0, 3, 5, 8, 10), ("blues minor pentatonic",)),
    ("ritusen", (0, 2, 5, 7, 9), ("blues major pentatonic", "yo")),
    ("blues", (0, 3, 5, 6, 7, 10), ("minor blues", "blues minor", "blues hexatonic minor")),
    ("major blues", (0, 2, 3, 4, 7, 9), ("blues major", "blues hexatonic major")),
    ("hirajoshi", (0, 2, 3, 7, 8), ()),
    ("kumoi", (0, 2, 3, 7, 9), ("dorian pentatonic",)),
    ("iwato", (0, 1, 5, 6, 10), ()),
    ("in", (0, 1, 5, 7, 8), ("miyako bushi", "sakura")),
    ("insen", (0, 1, 5, 7, 10), ("in sen",)),
    ("pelog", (0, 1, 3, 7, 8), ()),
    ("whole tone", (0, 2, 4, 6, 8, 10), ("messiaen mode 1",)),
    ("hexatonic", (0, 3, 4, 7, 8, 11), ("augmented", "augmented scale")),
    ("tritone scale", (0, 1, 4, 6, 7, 10), ("petrushka",)),
    ("prometheus", (0, 2, 4, 6, 9, 10), ("mystic",)),
)

_EIGHT_AND_MORE: tuple[Row, ...] = (
    (
        "octatonic half whole",
        (0, 1, 3, 4, 6, 7, 9, 10),
        ("half whole", "octatonic hw", "dominant diminished", "messiaen mode 2"),
    ),
    (
        "octatonic whole half",
        (0, 2, 3, 5, 6, 8, 9, 11),
        ("whole half", "octatonic wh", "diminished", "octatonic"),
    ),
    ("bebop dominant", (0, 2, 4, 5, 7, 9, 10, 11), ("bebop",)),
    ("bebop major", (0, 2, 4, 5, 7, 8, 9, 11), ()),
    ("bebop dorian", (0, 2, 3, 4, 5, 7, 9, 10), ("bebop minor",)),
    ("bebop melodic minor", (0, 2, 3, 5, 7, 8, 9, 11), ()),
    ("messiaen mode 3", (0, 2, 3, 4, 6, 7, 8, 10, 11), ()),
    ("messiaen mode 4", (0, 1, 2, 5, 6, 7, 8, 11), ()),
    ("messiaen mode 5", (0, 1, 5, 6, 7, 11), ()),
    ("messiaen mode 6", (0, 2, 4, 5, 6, 8, 10, 11), ()),
    ("messiaen mode 7", (0, 1, 2, 3, 5, 6, 7, 8, 9, 11), ()),
    ("chromatic", (0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11), ("twelve tone",)),
)

ROWS: tuple[Row, ...] = (
    _DIATONIC
    + _HARMONIC_MINOR
    + _MELODIC_MINOR
    + _HARMONIC_MAJOR
    + _OTHER_SEVEN
    + _FIVE_AND_SIX
    + _EIGHT_AND_MORE
)
