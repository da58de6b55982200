from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from live.clock.metre import Metre
from live.faces.lane import Beside, draw_lane
from live.notes.phrase import PhraseNote
from live.theory.keys import parse_key

KEY = parse_key("D minor")
FOUR = Metre(4, 4)


def note(sixteenth: float, length: float, pitch: int) -> PhraseNote:
    return PhraseNote(round(sixteenth * 240), round(length * 240), pitch, 90)


def test_a_phrase_is_drawn_with_names_degrees_and_bar_lines():
    lines = draw_lane([note(0, 6, 38), note(16, 4, 45), note(20, 2, 46)], 2, FOUR, KEY)
    assert lines == [
        "    |1       ·       ·       ·       |2       ·       ·       ·       |",
        "B♭2 |                                |        ♭6──                    |",
        " A2 |                                |5───────                        |",
        " D2 |1───────────                    |                                |",
    ]


def test_more_than_two_bars_make_more_systems_with_only_their_own_notes():
    lines = draw_lane([note(0, 2, 38), note(34, 2, 40)], 3, FOUR, KEY)
    assert len(lines) == 4
    assert lines[0].count("|") == 3
    assert lines[2].startswith("   |3 ")
    assert lines[2].count("|") == 2
    assert lines[3].startswith("E2 |    2───")


def test_a_note_that_rings_over_a_system_goes_on_without_a_label():
    lines = draw_lane([note(30, 4, 38)], 4, FOUR, KEY)
    assert lines[1].endswith("1───|")
    assert lines[3].startswith("D2 |────  ")


def test_chords_stand_above_and_roles_under_the_notes():
    roles = [(0, "R"), (1440, "b3"), (1680, "5"), (3840, "R")]
    beside = Beside(("chord", [(0, "Dm"), (3840, "Bb")]), ("role", roles))
    lines = draw_lane([note(0, 6, 38), note(16, 4, 46)], 3, FOUR, KEY, beside=beside)
    assert lines[:6] == [
        "      |1       ·       ·       ·       |2       ·       ·       ·       |",
        "chord |Dm                              |B♭                              |",
        "  B♭2 |                                |♭6──────                        |",
        "   D2 |1───────────                    |                                |",
        " role |R           ♭3                  |R                               |",
        "      |              5                 |                                |",
    ]
    assert [line.split(" |")[0].strip() for line in lines[6:]] == ["", "chord", "role"]


def test_triplets_and_swing_are_seen():
    lines = draw_lane([note(4 * i / 3, 1, 38) for i in range(3)], 1, FOUR, KEY)
    assert lines[1].startswith("D2 |1─ 1─1─ ")


def test_an_empty_phrase_is_a_ruler():
    assert draw_lane([], 1, Metre(3, 4), KEY) == ["   |1       ·       ·       |"]


@given(
    st.lists(
        st.tuples(st.integers(0, 5000), st.integers(1, 9000), st.integers(0, 127)), max_size=30
    ),
    st.integers(1, 5),
    st.sampled_from([FOUR, Metre(6, 8), Metre(3, 4), Metre(5, 16), Metre(7, 8), Metre(32, 16)]),
)
def test_every_line_of_a_system_is_as_wide_as_its_ruler(raw, bars, metre):
    notes = [PhraseNote(onset, length, pitch, 64) for onset, length, pitch in raw]
    lines = draw_lane(notes, bars, metre, KEY)
    assert lines
    width = None
    for line in lines:
        assert line.count("|") in (2, 3)
        if "·" in line or metre.beats == 1:
            width = len(line)
        assert len(line) == width


def test_a_narrow_terminal_gets_a_bar_to_a_system_and_no_line_is_broken():
    notes = [note(0, 6, 38), note(16, 4, 46)]
    wide = draw_lane(notes, 2, FOUR, KEY, columns=80)
    narrow = draw_lane(notes, 2, FOUR, KEY, columns=60)
    assert wide == draw_lane(notes, 2, FOUR, KEY)
    assert max(len(line) for line in narrow) < 60
    assert [line.split("|")[1][0] for line in narrow if "·" in line] == ["1", "2"]
