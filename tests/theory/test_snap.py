"""Laws over the whole domain: 128 notes, 12 tonics, every scale, every policy, both directions."""

from __future__ import annotations

import pickle
from functools import cache
from itertools import pairwise

import pytest

from live.theory.chord_table import QUALITIES
from live.theory.chords import chord_on, parse_chord
from live.theory.errors import FieldError
from live.theory.keys import Key, parse_key
from live.theory.pitch import Spelling
from live.theory.scales import SCALES
from live.theory.snap import POLICIES, SILENT, find_policy, snap_map, why_moved

NOTES = range(128)
DIATONIC_MODES = ("major", "dorian", "phrygian", "lydian", "mixolydian", "minor", "locrian")
TONICS = range(-5, 7)
WHITE = [note for note in NOTES if note % 12 in {0, 2, 4, 5, 7, 9, 11}]
EVERY_SCALE = pytest.mark.parametrize("scale", SCALES, ids=lambda scale: scale.name)


def keys_of(scale):
    return [Key(Spelling(fifths), scale) for fifths in TONICS]


def both(key, policy, chord=None):
    made = snap_map(key, policy, chord)
    return made.rising, made.falling


@cache
def distances_to(pitch_classes):
    members = [note for note in NOTES if note % 12 in pitch_classes]
    return [min(abs(member - note) for member in members) for note in NOTES]


def test_the_policies():
    assert POLICIES == ("nearest", "up", "down", "chord", "white", "order", "mute", "off")
    assert [find_policy(f" {policy.upper()} ") for policy in POLICIES] == list(POLICIES)
    with pytest.raises(FieldError, match=r"snap: got 'sideways'; allowed: nearest, up"):
        find_policy("sideways")
    with pytest.raises(FieldError, match=r"snap"):
        snap_map(parse_key("D minor"), "sideways")


@EVERY_SCALE
@pytest.mark.parametrize("policy", POLICIES)
def test_every_entry_is_a_note_of_the_key_or_silence(scale, policy):
    for key in keys_of(scale):
        for entries in both(key, policy):
            assert len(entries) == 128
            for note in NOTES:
                sounding = entries[note]
                assert sounding == SILENT or 0 <= sounding <= 127
                if policy == "off":
                    assert sounding == note
                elif sounding == SILENT:
                    outside = not key.contains(note)
                    assert (policy == "mute" and outside) or (
                        policy == "white" and note not in WHITE
                    )
                else:
                    assert key.contains(sounding)


@EVERY_SCALE
@pytest.mark.parametrize("policy", ["nearest", "up", "down", "mute", "off"])
def test_snapping_twice_is_snapping_once(scale, policy):
    for key in keys_of(scale):
        for entries in both(key, policy):
            for sounding in entries:
                assert sounding == SILENT or entries[sounding] == sounding


@EVERY_SCALE
def test_nearest_moves_at_most_the_nearest_distance(scale):
    for key in keys_of(scale):
        for entries in both(key, "nearest"):
            moves = [abs(entries[note] - note) for note in NOTES]
            assert moves == distances_to(key.pitch_classes)


@EVERY_SCALE
def test_a_tie_goes_the_way_the_player_moves(scale):
    ties = 0
    for key in keys_of(scale):
        rising, falling = both(key, "nearest")
        members = {note for note in NOTES if key.contains(note)}
        for note, gap in enumerate(distances_to(key.pitch_classes)):
            below, above = note - gap, note + gap
            if gap and {below, above} <= members:
                ties += 1
                assert (rising[note], falling[note]) == (above, below)
            else:
                assert rising[note] == falling[note]
    # A tie needs two scale notes an even number of semitones apart with nothing between.
    gaps = [high - low for low, high in pairwise((*scale.steps, 12))]
    assert bool(ties) == any(gap % 2 == 0 for gap in gaps)


@pytest.mark.parametrize(
    ("name", "ties"),
    # Pitch classes above the tonic that lie exactly between two scale notes, computed
    # independently from the scales: all five in every seven-note diatonic mode.
    [
        *[(name, None) for name in DIATONIC_MODES],
        ("minor pentatonic", {4, 6, 11}),
        ("harmonic minor", {1, 4, 6}),
        ("octatonic half whole", {2, 5, 8, 11}),
        ("whole tone", {1, 3, 5, 7, 9, 11}),
    ],
)
def test_where_the_ties_lie(name, ties):
    key = parse_key(f"C {name}")
    made = snap_map(key, "nearest")
    found = {note % 12 for note in range(24, 96) if made.rising[note] != made.falling[note]}
    assert found == (set(range(12)) - set(key.scale.steps) if ties is None else ties)


def test_direction_is_from_the_key_pressed_before():
    made = snap_map(parse_key("D minor"), "nearest")
    assert made.snap(61, 60) == 62
    assert made.snap(61, 0) == 62
    assert made.snap(61, 62) == 60
    assert made.snap(61, 61) == 60
    assert made.snap(61, None) == 60


@EVERY_SCALE
def test_up_and_down_take_the_next_note_that_way(scale):
    for key in keys_of(scale):
        members = [note for note in NOTES if key.contains(note)]
        up, down = snap_map(key, "up").rising, snap_map(key, "down").rising
        for note in NOTES:
            # At the ends of the range there may be none left: the nearest one inside is taken.
            assert up[note] == next((m for m in members if m >= note), members[-1])
            assert down[note] == next((m for m in reversed(members) if m <= note), members[0])


@EVERY_SCALE
@pytest.mark.parametrize("policy", ["nearest", "up", "down", "mute", "off"])
def test_transposing_commutes_away_from_the_ends(scale, policy):
    home = both(Key(Spelling(0), scale), policy)
    for fifths in TONICS:
        key = Key(Spelling(fifths), scale)
        shift = key.tonic_pc
        for entries, moved in zip(home, both(key, policy), strict=True):
            for note in range(12, 104):
                expected = SILENT if entries[note] == SILENT else entries[note] + shift
                assert moved[note + shift] == expected


@pytest.mark.parametrize("suffix", QUALITIES)
def test_chord_takes_the_nearest_chord_tone_with_the_same_tie_rule(suffix):
    key = parse_key("D minor")
    for fifths in TONICS:
        chord = chord_on(Spelling(fifths), suffix)
        rising, falling = both(key, "chord", chord)
        for note, gap in enumerate(distances_to(chord.pitch_classes)):
            near = [n for n in (note - gap, note + gap) if n in NOTES and chord.role(n)]
            assert (rising[note], falling[note]) == (max(near), min(near))
            assert rising[rising[note]] == rising[note]


def test_without_a_chord_the_policy_chord_is_nearest():
    for scale in SCALES:
        key = Key(Spelling(2), scale)
        assert snap_map(key, "chord") == snap_map(key, "nearest")


def test_only_the_policy_chord_looks_at_the_chord():
    key, chord = parse_key("D minor"), parse_chord("C#maj7")
    for policy in POLICIES:
        same = snap_map(key, policy, chord) is snap_map(key, policy)
        assert same == (policy != "chord")


@EVERY_SCALE
def test_white_keys_play_the_degrees_in_order(scale):
    for key in keys_of(scale):
        entries, falling = both(key, "white")
        assert entries == falling
        assert all(entries[note] == SILENT for note in NOTES if note not in WHITE)
        home = entries[60]
        assert home % 12 == key.tonic_pc
        assert -6 <= home - 60 <= 5
        count, middle = len(scale.steps), WHITE.index(60)
        for place, note in enumerate(WHITE):
            octave, index = divmod(place - middle, count)
            unfolded = home + 12 * octave + scale.steps[index]
            assert (entries[note] - unfolded) % 12 == 0
            if 0 <= unfolded <= 127:
                assert entries[note] == unfolded
            else:
                assert min(entries[note], 127 - entries[note]) < 12


def test_white_keys_in_c_major_play_themselves():
    entries = snap_map(parse_key("C major"), "white").rising
    assert [entries[note] for note in WHITE] == WHITE


def test_maps_are_built_once_and_travel():
    made = snap_map(parse_key("D minor"), "nearest")
    assert snap_map(parse_key("d min"), "nearest") is made
    assert pickle.loads(pickle.dumps(made)) == made


@pytest.mark.parametrize(
    ("pressed", "sounding", "policy", "words"),
    [
        (61, 60, "nearest", "C# is outside D minor: down to C"),
        (61, 62, "up", "C# is outside D minor: up to D"),
        (66, 65, "down", "F# is outside D minor: down to F"),
        (66, -1, "mute", "F# is outside D minor: silent"),
        (64, 65, "chord", "E is not in the chord: up to F"),
        (61, 62, "chord", "C# is outside D minor: up to D"),
        (60, 62, "white", "white key C plays D4"),
        (65, 67, "white", "white key F plays G4"),
        (61, -1, "white", "C# is a black key: silent"),
        (62, 62, "nearest", ""),
        (61, 61, "off", ""),
    ],
)
def test_why_moved(pressed, sounding, policy, words):
    assert why_moved(pressed, sounding, parse_key("D minor"), policy) == words


@EVERY_SCALE
def test_in_order_every_key_plays_the_next_degree(scale):
    for key in keys_of(scale):
        entries, falling = both(key, "order")
        assert entries == falling
        assert entries[60] == both(key, "white")[0][60]  # the tonic nearest to C4
        members = [note for note in range(-400, 500) if note % 12 in key.pitch_classes]
        home = members.index(entries[60])
        for note in NOTES:
            unfolded = members[home + note - 60]
            assert (entries[note] - unfolded) % 12 == 0
            assert entries[note] == unfolded or not 0 <= unfolded <= 127


def test_in_order_by_hand():
    entries = snap_map(parse_key("D minor"), "order").rising
    assert [entries[note] for note in range(58, 69)] == [58, 60, 62, 64, 65, 67, 69, 70, 72, 74, 76]
    assert why_moved(61, 64, parse_key("D minor"), "order") == "key 61 plays E4"
