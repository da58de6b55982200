"""The groove of a take, laid out by hand: at 120 a bar of 4/4 lasts 2 s and has 3840 ticks.

The two-step has its kick on 1 and on the "and" of 3, its snare on 2 and 4 (common practice).
"""

import pytest

from live.answer.grooves import find_groove
from live.answer.swing import in_force
from live.clock.metre import Metre
from live.takes.export import plan_export
from live.theory.errors import FieldError
from tests.takes.streams import fact, journalled, note, on, start

BAR = 3840
KICK, SNARE = 36, 38
TWO_STEP = [(KICK, 0), (SNARE, 960), (KICK, 2400), (SNARE, 2880)]
KICKS_OF_TWO_BARS = "kick x............... ..x............."


@pytest.fixture
def drums(tmp_path):
    def laid_out(*records):
        take = journalled(tmp_path / "journal.sqlite", list(records))[-1]
        plan = plan_export(take, drums=True)
        found = [track for track in plan.tracks if track.name == "drums"]
        assert len(found) <= 1
        assert all(track.channel == 9 for track in found)
        return [(n.pitch, n.onset_ticks) for track in found for n in track.notes]

    return laid_out


def struck(found, *, hats=False):
    return [row for row in found if hats or row[0] in (KICK, SNARE)]


def groove(at_s, name, swing=0.0):
    return fact(at_s, "groove", groove=name, swing=swing)


def test_the_groove_noted_before_the_take_is_in_it_bar_by_bar(drums):
    found = drums(groove(1, "two-step"), *note(3, 1), start(20), *note(20, 1), fact(24, "stop"))
    assert struck(found) == [(key, at + bar) for bar in (0, BAR) for key, at in TWO_STEP]


def test_without_transport_or_groove_there_are_none(drums):
    assert drums(groove(1, "two-step"), *note(2, 1)) == []
    assert drums(start(20), *note(20, 1), fact(24, "stop")) == []
    assert drums(groove(1, "none"), start(20), *note(20, 1), fact(24, "stop")) == []


def test_they_are_left_out_unless_asked_for(tmp_path):
    records = [groove(1, "two-step"), start(2), *note(2, 1), fact(6, "stop")]
    (take,) = journalled(tmp_path / "journal.sqlite", records)
    assert [track.name for track in plan_export(take).tracks] == ["played"]


def test_a_groove_of_another_run_does_not_count(tmp_path):
    journalled(tmp_path / "journal.sqlite", [groove(1, "two-step")])
    *_, take = journalled(tmp_path / "journal.sqlite", [start(2), *note(2, 1), fact(6, "stop")])
    assert [track.name for track in plan_export(take, drums=True).tracks] == ["played"]


def test_a_change_told_a_little_after_its_bar_line_holds_from_the_line(drums):
    found = drums(
        groove(1, "none"), start(2), on(2.1), groove(4.03, KICKS_OF_TWO_BARS), fact(8, "stop")
    )
    assert found == [(KICK, BAR + 480), (KICK, 2 * BAR)]  # it is the second of two bars


def test_a_section_begins_the_groove_anew(drums):
    found = drums(
        groove(1, KICKS_OF_TWO_BARS),
        start(2),
        on(2.1),
        fact(4.01, "section", section="Landing", bar=1),
        fact(8, "stop"),
    )
    assert found == [(KICK, 0), (KICK, BAR), (KICK, 2 * BAR + 480)]


def test_a_start_in_the_middle_of_the_song_goes_on_where_the_groove_is(drums):
    found = drums(groove(1, KICKS_OF_TWO_BARS), start(2, bar=3, beat=0.0), on(2.1), fact(6, "stop"))
    assert found == [(KICK, 480), (KICK, BAR)]


def test_early_fingers_shift_the_drums_with_everything_else(drums):
    found = drums(groove(1, "two-step"), on(1.9), start(2), on(2.1), fact(4, "stop"))
    assert struck(found) == [(key, at + BAR) for key, at in TWO_STEP]


def test_they_swing_as_they_did(drums):
    written = "hat x.x.x.x.x.x.x.x."
    found = drums(groove(1, written, 1.0), start(2, tempo=120.0), on(2.1), fact(4, "stop"))
    swing = in_force(find_groove(written), Metre(4, 4), 120.0, 1.0)
    assert [at for _, at in found] == [swing.played(at) for at in range(0, BAR, 480)]
    assert swing.ratio > 1


def test_a_groove_that_nobody_knows_is_an_error_in_words(drums):
    with pytest.raises(FieldError, match="groove"):
        drums(groove(1, "no such groove"), start(2), on(2.1), fact(4, "stop"))
