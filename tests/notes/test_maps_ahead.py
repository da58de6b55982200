"""Maps are made ahead of the sections and cues that will ask for them."""

from live.notes.config import EngineConfig
from live.notes.cue_keys import tonic_key, tonic_keys
from live.notes.cues import Cue, Trigger, Wish
from live.notes.maps_ahead import MOST, MapsAhead
from live.notes.song import Section, Song
from live.notes.zones import Zone
from live.theory.keys import parse_key
from live.theory.progressions import parse_progression
from live.theory.snap import _snap_map, snap_map

D_MINOR, F_MAJOR = parse_key("D minor"), parse_key("F major")
SONG = Song((Section("A", 4), Section("B", 4, F_MAJOR, parse_progression("I IV", F_MAJOR))))


def made(config):
    """How many maps are made ahead of these settings."""
    _snap_map.cache_clear()
    ahead = MapsAhead()
    ahead.want(config)
    while ahead.make_one():
        pass
    return _snap_map.cache_info().currsize


def finds(key, policy, chord=None):
    """True if a map is there already."""
    misses = _snap_map.cache_info().misses
    snap_map(key, policy, chord)
    return _snap_map.cache_info().misses == misses


def test_without_sections_and_cues_there_is_nothing_to_make():
    assert made(EngineConfig(D_MINOR)) == 0


def test_the_maps_of_every_section_and_policy_are_found_when_they_are_needed():
    config = EngineConfig(D_MINOR, snap="chord", zones=(Zone(snap="mute"),), song=SONG)
    assert made(config) == 2 * 3 + 2
    chords = [stretch.chord for stretch in parse_progression("I IV", F_MAJOR).stretches]
    assert all(finds(F_MAJOR, "chord", chord) for chord in chords)
    assert all(finds(key, p) for key in (D_MINOR, F_MAJOR) for p in ("nearest", "mute", "chord"))
    assert not finds(parse_key("E major"), "nearest")


def test_the_keys_of_cues_are_made_too():
    keys = (("key", parse_key("B major")),)
    wishes = (Wish("tonic", tonic=True), Wish("key B major", changes=keys))
    cues = tuple(Cue(Trigger("note", n, n), wish) for n, wish in enumerate(wishes))
    assert made(EngineConfig(D_MINOR, cues=cues)) == 13
    assert all(finds(key, "nearest") for key in tonic_keys(D_MINOR.scale))


def test_one_at_a_time_and_the_first_section_s_first():
    _snap_map.cache_clear()
    ahead = MapsAhead()
    ahead.want(EngineConfig(D_MINOR, song=SONG))
    assert ahead.make_one()
    assert finds(D_MINOR, "nearest")
    assert not finds(F_MAJOR, "nearest")
    ahead.want(EngineConfig(D_MINOR))  # no plan any longer
    assert not ahead.make_one()


def test_a_plan_of_very_many_keys_does_not_throw_out_what_it_made():
    sections = [
        Section("A", 1, tonic_key(note, parse_key(f"C {scale}").scale))
        for note in range(12)
        for scale in ("major", "minor", "dorian", "lydian", "phrygian", "mixolydian", "locrian")
    ]
    zones = tuple(Zone(snap=policy) for policy in ("up", "down", "mute", "white"))
    assert made(EngineConfig(D_MINOR, song=Song(tuple(sections)), zones=zones)) == MOST
    assert finds(sections[0].key, "nearest")


def test_twelve_keys_with_few_accidentals():
    for scale in ("major", "minor", "dorian", "major pentatonic"):
        keys = tonic_keys(parse_key(f"C {scale}").scale)
        assert [key.tonic_pc for key in keys] == list(range(12))
        assert all(abs(key.signature[0]) <= 6 for key in keys)
