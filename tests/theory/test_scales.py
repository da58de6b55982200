from __future__ import annotations

import pickle

import pytest

from live.theory.errors import FieldError
from live.theory.scales import MAJOR_STEPS, SCALES, Scale, find_scale, plain_name


def test_the_library_is_wide_and_names_are_unique():
    assert len(SCALES) >= 45
    assert len({scale.steps for scale in SCALES}) == len(SCALES)
    names = [plain_name(name) for scale in SCALES for name in (scale.name, *scale.aliases)]
    assert len(names) == len(set(names))


@pytest.mark.parametrize("scale", SCALES, ids=lambda scale: scale.name)
def test_every_name_and_alias_finds_its_scale(scale):
    for name in (scale.name, *scale.aliases):
        assert find_scale(name) is scale
        assert find_scale(f"  {name.upper().replace(' ', '-')} ") is scale


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("Ionian", "major"),
        ("aeolian", "minor"),
        ("dorian ♭2", "dorian b2"),
        ("LYDIAN ♯5", "lydian augmented"),
        ("locrian ♮6", "locrian natural 6"),
        ("whole-tone", "whole tone"),
        ("in_sen", "insen"),
    ],
)
def test_names_as_typed(text, name):
    assert find_scale(text).name == name


def test_an_unknown_scale_gets_near_names():
    with pytest.raises(FieldError, match="did you mean dorian"):
        find_scale("doriann")
    with pytest.raises(FieldError, match="a scale name such as"):
        find_scale("xyzzy")


@pytest.mark.parametrize("steps", [(), (1, 3), (0, 2, 2), (0, 5, 3), (0, 12), (0, 3, 13)])
def test_steps_must_rise_from_nought(steps):
    with pytest.raises(FieldError, match="scale steps"):
        Scale("odd", steps)


@pytest.mark.parametrize("scale", SCALES, ids=lambda scale: scale.name)
def test_the_formula_says_the_steps(scale):
    assert len(scale.formula) == len(scale.steps)
    for step, (number, alter) in zip(scale.steps, scale.formula, strict=True):
        assert (MAJOR_STEPS[number - 1] + alter) % 12 == step
        assert abs(alter) <= 2
    if len(scale.steps) == 7:
        assert [number for number, _ in scale.formula] == [1, 2, 3, 4, 5, 6, 7]


def shown(scale):
    return " ".join(("#" * a if a > 0 else "b" * -a) + str(n) for n, a in scale.formula)


@pytest.mark.parametrize(
    ("name", "formula"),
    # Common practice, no source: degree formulas as players say them.
    [
        ("dorian", "1 2 b3 4 5 6 b7"),
        ("phrygian dominant", "1 b2 3 4 5 b6 b7"),
        ("lydian dominant", "1 2 3 #4 5 6 b7"),
        ("ultralocrian", "1 b2 b3 b4 b5 b6 bb7"),
        ("hungarian minor", "1 2 b3 #4 5 b6 7"),
        ("minor pentatonic", "1 b3 4 5 b7"),
        ("blues", "1 b3 4 b5 5 b7"),
        ("whole tone", "1 2 3 #4 #5 b7"),
        ("octatonic half whole", "1 b2 b3 3 #4 5 6 b7"),
        ("octatonic whole half", "1 2 b3 4 b5 b6 6 7"),
        ("man gong", "1 b3 4 b6 b7"),
        ("bebop dominant", "1 2 3 4 5 6 b7 7"),
        ("chromatic", "1 b2 2 b3 3 4 #4 5 b6 6 b7 7"),
    ],
)
def test_formulas_of_the_trade(name, formula):
    assert shown(find_scale(name)) == formula


def test_seven_notes_too_far_from_the_letters_are_numbered_as_the_chromatic_scale():
    crowded = Scale("crowded", (0, 1, 2, 3, 4, 5, 6))
    assert shown(crowded) == "1 b2 2 b3 3 4 #4"


@pytest.mark.parametrize(
    ("parent", "degree", "mode"),
    # Each family is one set of notes started on its degrees (common practice; the parents are
    # checked against Forte numbers in tests/oracle).
    [
        *[("major", 1 + at, name) for at, name in enumerate(
            ["major", "dorian", "phrygian", "lydian", "mixolydian", "minor", "locrian"])],
        *[("harmonic minor", 1 + at, name) for at, name in enumerate(
            ["harmonic minor", "locrian natural 6", "ionian augmented", "dorian #4",
             "phrygian dominant", "lydian #2", "ultralocrian"])],
        *[("melodic minor", 1 + at, name) for at, name in enumerate(
            ["melodic minor", "dorian b2", "lydian augmented", "lydian dominant",
             "mixolydian b6", "locrian natural 2", "altered"])],
        *[("harmonic major", 1 + at, name) for at, name in enumerate(
            ["harmonic major", "dorian b5", "phrygian b4", "lydian b3", "mixolydian b2",
             "lydian augmented #2", "locrian bb7"])],
        ("double harmonic", 4, "hungarian minor"),
        ("major pentatonic", 2, "suspended pentatonic"),
        ("major pentatonic", 3, "man gong"),
        ("major pentatonic", 4, "ritusen"),
        ("major pentatonic", 5, "minor pentatonic"),
        ("octatonic half whole", 2, "octatonic whole half"),
        ("blues", 2, "major blues"),
    ],
)  # fmt: skip
def test_modes_of_one_parent(parent, degree, mode):
    steps = find_scale(parent).steps
    root = steps[degree - 1]
    assert find_scale(mode).steps == tuple(sorted((step - root) % 12 for step in steps))


@pytest.mark.parametrize(
    ("name", "transpositions"),
    # Messiaen 1944, Technique de mon langage musical: how often each mode can be transposed before
    # it meets itself (from memory; the counts follow from the symmetry).
    [("messiaen mode 1", 2), ("messiaen mode 2", 3), ("messiaen mode 3", 4)]
    + [(f"messiaen mode {number}", 6) for number in (4, 5, 6, 7)],
)
def test_modes_of_limited_transposition(name, transpositions):
    steps = find_scale(name).steps
    moved = {frozenset((step + shift) % 12 for step in steps) for shift in range(12)}
    assert len(moved) == transpositions


@pytest.mark.parametrize(
    ("name", "minor"),
    [
        ("major", False),
        ("minor", True),
        ("dorian", True),
        ("mixolydian", False),
        ("altered", False),
        ("suspended pentatonic", True),
        ("ritusen", False),
        ("in", True),
        ("locrian", True),
    ],
)
def test_nearer_mode(name, minor):
    assert find_scale(name).is_minor is minor


def test_scales_compare_by_name_and_steps_and_travel():
    dorian = find_scale("dorian")
    assert Scale("dorian", dorian.steps, ("other",)) == dorian
    assert hash(Scale("dorian", dorian.steps, ("other",))) == hash(dorian)
    assert pickle.loads(pickle.dumps(dorian)) == dorian
