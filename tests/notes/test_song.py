"""The song plan: which section holds a bar, and what the engine makes of it on its bar lines.

Source of song position: MIDI 1.0 Detailed Specification 4.2.1, system common messages: it counts
sixteenths of six clocks from the song's start, 14 bits; after continue the next clock is there.
"""

import dataclasses

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from live.clock.metre import Metre
from live.notes.config import AnswerConfig, EngineConfig
from live.notes.form import Form
from live.notes.song import NO_CHORDS, Place, Section, Song
from live.notes.song_part import over
from live.theory.errors import FieldError
from live.theory.keys import parse_key
from live.theory.progressions import parse_progression
from tests.notes.stage import CONTINUE, D_MINOR, MS, START, STOP, Stage, off, on, song_position

BAR = 3840
F_MAJOR, G_MINOR, E_MAJOR = (parse_key(name) for name in ("F major", "G minor", "E major"))
KEYS = (D_MINOR, G_MINOR, E_MAJOR, F_MAJOR, parse_key("B major"), parse_key("Ab major"))
METRES = (Metre(2, 4), Metre(3, 4), Metre(4, 4), Metre(5, 4), Metre(6, 8), Metre(12, 8))


def song(*bars, repeats=True, keys=KEYS, **values):
    """Sections A, B, C ... of so many bars, each in a key of its own."""
    sections = (
        Section("ABCDEFGH"[n], count, key=keys[n % len(keys)], **values)
        for n, count in enumerate(bars)
    )
    return Song(tuple(sections), repeats)


songs = st.builds(
    lambda bars, repeats: song(*bars, repeats=repeats),
    st.lists(st.integers(1, 5), min_size=1, max_size=6),
    st.booleans(),
)


def walked(plan, bar):
    """The section of a bar, found by walking through the plan bar by bar."""
    section, first = 0, 0
    for at in range(bar + 1):
        if at - first == plan.sections[section].bars and (
            plan.repeats or section + 1 < len(plan.sections)
        ):
            section, first = (section + 1) % len(plan.sections), at
    stays = not plan.repeats and section + 1 == len(plan.sections)
    return Place(section, first, None if stays else first + plan.sections[section].bars)


# The plan


@given(songs, st.integers(0, 60))
def test_a_bar_s_section_is_the_one_that_walking_there_finds(plan, bar):
    assert plan.place(bar) == walked(plan, bar)


@given(songs, st.integers(0, 60))
def test_every_bar_of_a_section_has_the_same_place(plan, bar):
    place = plan.place(bar)
    last = bar if place.end_bar is None else place.end_bar - 1
    assert place.first_bar <= bar <= last
    assert {plan.place(at) for at in range(place.first_bar, last + 1)} == {place}
    if place.end_bar is not None:
        assert plan.place(place.end_bar).first_bar == place.end_bar


def test_a_plan_shorter_than_the_song_begins_again_or_stays():
    assert song(2, 3).place(5) == (0, 5, 7)
    assert song(2, 3, repeats=False).place(500) == (1, 2, None)
    assert song(2, 3).place(-4) == (0, 0, 2)


def test_sections_are_found_by_name_or_neighbour():
    plan = Song(tuple(Section(name, 1) for name in ("Quay", "Swell", "Quay", "Landing")))
    assert [plan.find("quay", at) for at in range(4)] == [2, 2, 0, 0]
    assert [plan.find("next", at) for at in range(4)] == [1, 2, 3, 0]
    assert [plan.find("back", at) for at in range(4)] == [3, 0, 1, 2]
    assert plan.find(" LANDING ", 3) == 3
    with pytest.raises(FieldError, match="Quay, Swell, Landing"):
        plan.find("Drop", 0)


@pytest.mark.parametrize(("to", "at"), [("next", 1), ("back", 0)])
def test_a_plan_that_does_not_repeat_has_ends(to, at):
    with pytest.raises(FieldError, match="section"):
        song(1, 1, repeats=False).find(to, at)


@pytest.mark.parametrize("bars", [0, -1, 1025])
def test_a_section_s_length_is_checked(bars):
    with pytest.raises(FieldError, match="section bars"):
        Section("Quay", bars)


@pytest.mark.parametrize("tempo_bpm", [19.9, 400.1, float("nan")])
def test_a_section_s_tempo_is_checked(tempo_bpm):
    with pytest.raises(FieldError, match="tempo"):
        Section("Quay", 4, tempo_bpm=tempo_bpm)


def test_a_plan_has_sections():
    with pytest.raises(FieldError, match="song"):
        Song(())


def test_what_a_section_leaves_out_comes_from_the_settings():
    chords = parse_progression("i VI", D_MINOR)
    base = EngineConfig(D_MINOR, progression=chords, form=Form(1, 1), tempo_bpm=170.0)
    assert over(base, Section("Quay", 4)) == base
    swell = Section("Swell", 4, F_MAJOR, NO_CHORDS, "half-time", Form(4, 2), 174.0)
    given_all = over(base, swell)
    assert (given_all.key, given_all.progression, given_all.form) == (F_MAJOR, None, Form(4, 2))
    assert (given_all.answer.groove, given_all.tempo_bpm) == ("half-time", 174.0)


def test_what_was_set_by_hand_wins_over_the_section():
    own, by_hand = parse_progression("I IV", F_MAJOR), parse_progression("I IV", D_MINOR)
    section = Section("Swell", 4, F_MAJOR, own, "half-time", Form(4, 2), 174.0, by_hand)
    base = EngineConfig(D_MINOR)
    assert over(base, section, frozenset({"key"})).progression == by_hand
    names = frozenset({"key", "progression", "groove", "form", "tempo"})
    assert over(base, section, names) == base


# The engine on the plan's bar lines


def heard(stage, pressed=61):
    """The note that sounds for a key struck now; it comes up again at once."""
    stage.midi(on(pressed), source=7)
    sounding = stage.struck("through")[-1][1]
    stage.midi(off(pressed), source=7)
    return sounding


def located(plan, bar, **config):
    """An engine that continues at a bar by song position, on an outside clock."""
    stage = Stage(song=plan, start_on_first_note=False, **config)
    ticks = bar * stage.engine.config.metre.bar_ticks
    stage.clock(song_position(ticks // 240))
    stage.clock(CONTINUE)
    stage.pulses(2, 14 * MS)
    return stage


@settings(max_examples=60, deadline=None)
@given(
    songs,
    st.sampled_from(METRES),
    st.sampled_from((20.0, 90.0, 168.0, 171.3, 400.0)),
    st.integers(0, 12),
)
def test_the_section_at_a_bar_does_not_depend_on_how_we_got_there(plan, metre, tempo_bpm, bar):
    config = {"metre": metre, "tempo_bpm": tempo_bpm}
    played = Stage(song=plan, start_on_first_note=False, **config)
    played.do("start")
    played.to_tick(bar * metre.bar_ticks)
    sent = located(plan, bar, **config)
    continued = Stage(song=plan, start_on_first_note=False, **config)
    continued.do("continue", bar + 1)
    expected = plan.sections[walked(plan, bar).section].key
    for stage in (played, sent, continued):
        part = stage.engine.song.part
        assert stage.engine.config.key == expected
        assert part.place == walked(plan, bar)
        assert (stage.engine.config.first_bar, stage.engine.config.end_bar) == part.place[1:]
        assert heard(stage) % 12 in expected.pitch_classes


@settings(max_examples=40, deadline=None)
@given(songs, st.sampled_from(METRES), st.sampled_from((20.0, 168.0, 400.0)))
def test_each_section_comes_into_force_on_its_bar_line_and_not_before(plan, metre, tempo_bpm):
    stage = Stage(song=plan, start_on_first_note=False, metre=metre, tempo_bpm=tempo_bpm)
    stage.do("start")
    lines = [n for n in range(1, 13) if walked(plan, n).first_bar == n]
    for bar in lines:
        stage.to_tick(bar * metre.bar_ticks - 1)
        assert stage.engine.song.part.place == walked(plan, bar - 1)
        stage.to_tick(bar * metre.bar_ticks)
        assert stage.engine.song.part.place == walked(plan, bar)
    told = [(one["section"], one["bar"]) for one in stage.facts("section")]
    assert told == [(plan.sections[walked(plan, bar).section].name, bar) for bar in [0, *lines]]
    times = stage.times("section")[1:]
    assert times == [stage.engine.transport.ns_at(bar * metre.bar_ticks) for bar in lines]


def test_a_note_held_over_the_line_ends_as_it_began():
    stage = Stage(song=song(1, 1, keys=(D_MINOR, E_MAJOR)), snap="up", start_on_first_note=False)
    stage.do("start")
    stage.midi(on(63))
    stage.to_tick(BAR + 10)
    stage.midi(on(63), source=1)
    stage.midi(off(63))
    stage.midi(off(63), source=1)
    messages = [r.data[:2] for r in stage.out("through")]
    assert messages == [b"\x90\x40", b"\x90\x3f", b"\x80\x40", b"\x80\x3f"]


def test_an_engine_that_stands_at_the_start_is_in_the_first_section():
    stage = Stage(song=song(4, 4, keys=(E_MAJOR, F_MAJOR)), start_on_first_note=True)
    assert stage.engine.config.key == E_MAJOR
    stage.midi(on(62))
    assert stage.struck("through")[0][1] == 61
    assert [r.kind for r in stage.records][:4] == ["key", "section", "start", "in"]
    assert stage.facts("key") == [{"key": "E major"}]
    stage.do("start")
    assert len(stage.facts("key")) == 1  # it is told once


def test_standing_elsewhere_is_being_in_the_section_of_that_place():
    stage = Stage(song=song(4, 4, keys=(E_MAJOR, F_MAJOR)), start_on_first_note=False)
    stage.clock(song_position(4 * 16))
    assert stage.engine.config.key == F_MAJOR
    assert stage.facts("section") == [{"section": "B", "bar": 4}]


def test_the_tempo_of_a_section_is_in_force_from_its_line():
    plan = Song((Section("A", 1), Section("B", 1, tempo_bpm=60.0)), repeats=True)
    stage = Stage(song=plan, tempo_bpm=120.0, start_on_first_note=False)
    stage.do("start")
    stage.to(2000 * MS)
    stage.tick()
    assert stage.engine.transport.tempo_bpm == 60.0
    stage.to(6000 * MS)
    stage.tick()
    assert stage.engine.transport.ticks_at(6000 * MS) == pytest.approx(2 * BAR)
    assert stage.engine.transport.tempo_bpm == 120.0
    assert [one["tempo"] for one in stage.facts("tempo")] == [60.0, 120.0]


def test_progression_and_form_are_counted_from_the_section_s_first_bar():
    chords = parse_progression("i VI iv v", D_MINOR)
    plan = Song((Section("A", 3), Section("B", 8)))
    stage = Stage(song=plan, progression=chords, form=Form(1, 1), start_on_first_note=False)
    stage.do("start")
    names = []
    for bar in range(7):
        stage.to_tick(bar * BAR + 10)
        names.append(stage.engine.chord_now(stage.now_ns).name)
    assert names == ["Dm", "Bb", "Gm", "Dm", "Bb", "Gm", "Am"]
    stage.to_tick(6 * BAR + 500)
    stage.play(62)  # 3 + 3: a bar of an answer; 3 + 4: a bar of a call
    assert stage.facts("call") == []
    stage.to_tick(7 * BAR + 10)
    stage.play(62)
    assert [one["bar"] for one in stage.facts("call")] == [7]


# Calls and answers at a line


def called(stage, bar):
    """A call played early in a bar."""
    stage.to_tick(bar * BAR + 20)
    stage.play(62)


def struck_bars(stage):
    return {round(stage.engine.transport.ticks_at(at) // BAR) for at, _ in stage.struck("answer")}


def test_an_answer_ends_with_its_section():
    plan = song(3, 8, keys=(D_MINOR, E_MAJOR))
    stage = Stage(song=plan, tempo_bpm=120.0, start_on_first_note=False)
    stage.do("start")
    called(stage, 0)
    stage.to_tick(6 * BAR)
    assert struck_bars(stage) == {2}
    assert stage.times("answer_end") == [stage.engine.transport.ns_at(3 * BAR)]
    assert stage.receiver.sounding == set()
    assert [request.brief.answer_bars for request in stage.requests] == [1, 1]


def test_a_section_begins_with_a_call_and_what_was_not_answered_stays_so():
    plan = song(6, 8, keys=(D_MINOR, D_MINOR))
    stage = Stage(song=plan, tempo_bpm=120.0, start_on_first_note=False)
    stage.do("start")
    called(stage, 4)
    asked = len(stage.requests)
    called(stage, 6)
    stage.to_tick(10 * BAR)
    assert asked == 0  # there would be no room to answer
    assert [one["bar"] for one in stage.facts("call")] == [4, 6]
    assert [one["bar"] for one in stage.facts("answer")] == [8]
    assert stage.facts("late") == []


def test_a_note_just_before_the_line_belongs_to_the_new_section_s_call():
    plan = song(3, 8, keys=(D_MINOR, D_MINOR))
    stage = Stage(song=plan, tempo_bpm=120.0, start_on_first_note=False)
    stage.do("start")
    stage.to_tick(3 * BAR - 60)
    stage.play(62)
    stage.to_tick(5 * BAR + 10)
    assert [one["bar"] for one in stage.facts("call")] == [3]
    assert [request.brief.call.notes[0].onset_ticks for request in stage.requests] == [0, 0]
    assert [one["bar"] for one in stage.facts("answer")] == [5]


def test_the_call_is_counted_where_the_progression_begins():
    chords = parse_progression("i VI iv v", D_MINOR)
    stage = Stage(song=Song((Section("A", 3), Section("B", 8))), progression=chords)
    stage.do("start")
    called(stage, 3)
    stage.to_tick(5 * BAR)
    assert {request.brief.call.first_bar for request in stage.requests} == {0}
    assert {request.brief.answer_first_bar for request in stage.requests} == {2}


def test_a_held_answer_comes_back_in_the_new_key():
    plan = song(4, 4, keys=(D_MINOR, E_MAJOR))
    stage = Stage(song=plan, tempo_bpm=120.0, start_on_first_note=False)
    stage.do("start")
    called(stage, 0)
    stage.to_tick(2 * BAR + 10)
    stage.do("hold")
    stage.to_tick(8 * BAR - 1)
    line = stage.engine.transport.ns_at(6 * BAR)
    late = [pitch for at, pitch in stage.struck("answer") if at >= line]
    assert late
    assert all(pitch % 12 in E_MAJOR.pitch_classes for pitch in late)


def test_in_free_form_a_phrase_over_the_line_is_one_call():
    plan = song(1, 8, keys=(D_MINOR, D_MINOR))
    stage = Stage(song=plan, form=Form(free=True), tempo_bpm=120.0)
    stage.midi(on(62))
    stage.to_tick(BAR + 960)
    stage.midi(off(62))
    stage.play(65)
    stage.to_tick(6 * BAR)
    assert len(stage.facts("call")) == 1
    assert stage.requests[-1].brief.call.notes[0].length_ticks == pytest.approx(BAR + 960, abs=2)
    assert len(stage.facts("answer")) == 1


def test_what_a_note_started_ends_when_nobody_plays_whatever_the_sections():
    for plan in (song(8, 8), song(2, 2), song(1), song(3, 5)):
        stage = Stage(song=plan)
        stage.play(62)
        stage.to(stage.now_ns + 60_000 * MS)
        assert not stage.engine.transport.playing, plan


# By hand


def standing_in_b(**config):
    """An engine that plays in bar 2 of A (D minor) B (E major), 2 bars each."""
    plan = song(2, 2, keys=(D_MINOR, E_MAJOR))
    stage = Stage(song=plan, tempo_bpm=120.0, start_on_first_note=False, **config)
    stage.do("start")
    stage.to_tick(2 * BAR + 100)
    return stage


def test_a_key_set_by_hand_wins_until_the_next_section():
    stage = standing_in_b()
    stage.change(("key",), key=F_MAJOR)
    assert stage.engine.config.key == F_MAJOR
    stage.change(snap="down")
    assert stage.engine.config.key == F_MAJOR
    stage.to_tick(4 * BAR)
    assert stage.engine.config.key == D_MINOR


def test_a_key_set_by_hand_keeps_the_place_that_was_jumped_to():
    plan = song(2, 2, 2, keys=(D_MINOR, E_MAJOR, G_MINOR))
    stage = Stage(song=plan, start_on_first_note=False)
    stage.do("start")
    stage.jump("C")
    stage.to_tick(BAR + 10)
    read_anew = song(2, 2, 2, keys=(D_MINOR, E_MAJOR, G_MINOR), progression_by_hand=NO_CHORDS)
    stage.change(("key",), key=F_MAJOR, song=read_anew)
    assert (stage.engine.song.part.section.name, stage.engine.config.key) == ("C", F_MAJOR)


def test_settings_read_again_take_back_what_was_set_by_hand():
    stage = standing_in_b()
    stage.change(("key",), key=F_MAJOR)
    stage.change(None, key=F_MAJOR)
    assert stage.engine.config.key == E_MAJOR


def test_settings_changed_otherwise_leave_the_section_s_key():
    stage = standing_in_b()
    stage.change(key=F_MAJOR)
    assert stage.engine.config.key == E_MAJOR


def test_a_key_may_wait_for_the_bar_line():
    stage = Stage(key_on_bar=True, tempo_bpm=120.0, start_on_first_note=False)
    stage.change(("key",), key=E_MAJOR)
    assert stage.engine.config.key == E_MAJOR  # we stand
    stage.do("start")
    stage.to_tick(BAR + 10)
    stage.change(("key",), key=F_MAJOR)
    stage.to_tick(2 * BAR - 1)
    assert stage.engine.config.key == E_MAJOR
    assert heard(stage, 65) == 64
    stage.to_tick(2 * BAR)
    assert stage.engine.config.key == F_MAJOR
    assert heard(stage, 65) == 65
    assert stage.times("key")[-1] == stage.engine.transport.ns_at(2 * BAR)


def test_the_chords_of_a_waiting_key_wait_with_it():
    stage = Stage(
        key_on_bar=True, progression=parse_progression("i", D_MINOR), start_on_first_note=False
    )
    stage.do("start")
    stage.change(("key",), key=G_MINOR, progression=parse_progression("i", G_MINOR))
    assert stage.engine.chord_now(stage.now_ns).name == "Dm"
    stage.to_tick(BAR)
    assert stage.engine.chord_now(stage.now_ns).name == "Gm"


def test_a_waiting_key_lands_on_a_section_s_line_too_and_when_we_stop():
    stage = standing_in_b(key_on_bar=True)
    stage.to_tick(3 * BAR + 10)
    stage.change(("key",), key=F_MAJOR)
    stage.to_tick(4 * BAR)
    assert stage.engine.config.key == F_MAJOR
    stage.change(("key",), key=G_MINOR)
    stage.do("stop")
    assert stage.engine.config.key == G_MINOR


@pytest.mark.parametrize(("to", "name"), [("next", "C"), ("back", "A"), ("d", "D"), ("B", "B")])
def test_a_section_asked_for_begins_on_the_next_bar_line_and_the_plan_goes_on_from_there(to, name):
    plan = song(3, 3, 3, 3)
    stage = Stage(song=plan, start_on_first_note=False)
    stage.do("start")
    stage.to_tick(4 * BAR + 5)
    stage.jump(to)
    stage.to_tick(5 * BAR - 1)
    assert stage.engine.song.part.section.name == "B"
    stage.to_tick(5 * BAR)
    assert stage.engine.song.part.section.name == name
    assert stage.engine.song.part.place[1:] == (5, 8)
    stage.to_tick(8 * BAR)
    assert stage.engine.song.part.section.name == "ABCD"[("ABCD".index(name) + 1) % 4]


def test_asking_twice_before_the_line_goes_two_on():
    stage = Stage(song=song(3, 3, 3, 3), start_on_first_note=False)
    stage.do("start")
    stage.to_tick(10)
    stage.jump("next")
    stage.jump("next")
    stage.to_tick(BAR)
    assert stage.engine.song.part.section.name == "C"


def test_a_section_asked_for_while_standing_is_the_one_we_start_with():
    stage = Stage(song=song(3, 3, 3, 3), start_on_first_note=True)
    stage.jump("C")
    assert stage.engine.config.key == E_MAJOR
    stage.midi(on(62))
    assert stage.engine.song.part.place == (2, 0, 3)
    stage.to_tick(3 * BAR)
    assert stage.engine.song.part.section.name == "D"


def test_a_jump_is_forgotten_when_the_song_starts_anew_and_kept_when_it_goes_on():
    stage = Stage(song=song(3, 3, 3, 3), start_on_first_note=False)
    stage.do("start")
    stage.jump("D")
    stage.to_tick(BAR + 500)
    stage.do("stop")
    stage.do("continue")
    assert stage.engine.song.part.section.name == "D"
    stage.do("continue", 2)
    assert stage.engine.song.part.section.name == "A"
    stage.jump("D")
    stage.do("start")
    assert stage.engine.song.part.section.name == "D"  # it was asked for, and has not come yet
    stage.do("start")
    assert stage.engine.song.part.section.name == "A"


def test_an_unknown_section_is_refused_and_nothing_changes():
    stage = Stage(song=song(1, 1), start_on_first_note=False)
    with pytest.raises(FieldError, match="section"):
        stage.jump("Drop")
    assert stage.records == []
    with pytest.raises(FieldError, match=r"\[\[section\]\]"):
        Stage().jump("next")


def test_a_plan_taken_in_or_away_while_playing():
    stage = Stage(start_on_first_note=False)
    stage.do("start")
    stage.to_tick(2 * BAR + 10)
    stage.change(song=song(2, 2, keys=(D_MINOR, E_MAJOR)))
    assert stage.engine.config.key == E_MAJOR
    stage.to_tick(4 * BAR)
    assert stage.engine.config.key == D_MINOR
    stage.to_tick(6 * BAR)
    stage.change(song=None)
    assert (stage.engine.config.key, stage.engine.config.end_bar) == (D_MINOR, None)
    stage.to_tick(12 * BAR)
    assert stage.engine.config.key == D_MINOR


def test_another_metre_while_playing_counts_the_bars_anew():
    stage = Stage(song=song(2, 2, keys=(D_MINOR, E_MAJOR)), start_on_first_note=False)
    stage.do("start")
    stage.to_tick(BAR + 10)
    stage.change(metre=Metre(2, 4))  # bar 3 of two beats
    assert stage.engine.config.key == E_MAJOR
    stage.to_tick(4 * BAR // 2)
    assert stage.engine.config.key == D_MINOR


# By an outside clock


def test_an_outside_clock_drives_through_the_sections():
    plan = song(2, 2, keys=(D_MINOR, E_MAJOR))
    stage = Stage(song=plan, start_on_first_note=False)
    pulse_ns = 60e9 / 171.3 / 24
    stage.clock(START)
    stage.pulses(2 * 96 - 1, pulse_ns)
    assert stage.engine.config.key == D_MINOR
    stage.pulses(2, pulse_ns)
    assert stage.engine.config.key == E_MAJOR
    stage.pulses(96, pulse_ns)
    stage.clock(STOP)
    stage.clock(CONTINUE)
    stage.pulses(20, pulse_ns)
    assert stage.engine.config.key == E_MAJOR
    stage.clock(STOP)
    stage.clock(song_position(16))
    stage.clock(CONTINUE)
    stage.pulses(2, pulse_ns)
    assert stage.engine.config.key == D_MINOR
    stage.pulses(96, pulse_ns)
    assert stage.engine.config.key == E_MAJOR


def test_a_ramp_of_tempo_keeps_the_lines_on_the_bars():
    plan = song(1, 1, keys=(D_MINOR, E_MAJOR))
    stage = Stage(song=plan, start_on_first_note=False)
    stage.clock(START)
    for number in range(8 * 96):
        stage.pulses(1, 60e9 / (160 + number / 30) / 24)
    bars = [one["bar"] for one in stage.facts("section")]
    assert bars == list(range(len(bars)))
    assert len(bars) in (8, 9)  # the last line may not have been reached yet


def test_the_same_answer_without_a_plan_and_with_one_that_says_nothing():
    played = []
    for plan in (None, Song((Section("A", 64),))):
        stage = Stage(song=plan, answer=AnswerConfig(), start_on_first_note=False)
        stage.do("start")
        called(stage, 0)
        stage.to_tick(4 * BAR)
        played.append(stage.out("answer"))
    assert played[0] == played[1] != []


def test_a_section_is_frozen():
    with pytest.raises(dataclasses.FrozenInstanceError):
        song(1).repeats = False


def test_under_an_outside_clock_a_section_s_tempo_waits():
    plan = Song((Section("A", 1), Section("B", 1, tempo_bpm=60.0)))
    stage = Stage(song=plan, tempo_bpm=120.0, start_on_first_note=False)
    stage.clock(START)
    stage.pulses(130, 60e9 / 171.3 / 24)
    assert stage.engine.song.part.section.name == "B"
    assert stage.engine.transport.tempo_bpm == pytest.approx(171.3, abs=0.1)
