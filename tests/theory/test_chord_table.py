from __future__ import annotations

from live.theory.chord_table import _ROWS, ALIASES, QUALITIES, ROLES


def test_intervals_rise_from_the_root_and_have_role_names():
    for suffix, intervals in QUALITIES.items():
        assert intervals[0] == 0, suffix
        assert list(intervals) == sorted(set(intervals)), suffix
        assert set(intervals) <= set(ROLES), suffix
        assert len({interval % 12 for interval in intervals}) == len(intervals), suffix


def test_no_form_stands_in_two_rows():
    forms = [
        form
        for suffix, _, others in _ROWS
        for form in {suffix.replace("(", "").replace(")", ""), *others.split()}
    ]
    assert len(forms) == len(set(forms)) == len(ALIASES)


def test_the_contracted_qualities_are_there():
    wanted = (
        "m dim aug 5 sus2 sus4 6 m6 7 maj7 m7 mMaj7 m7b5 dim7 9 maj9 m9 add9 m(add9) m(add11) "
        "m(add4) 11 m11 13 7sus4"
    )
    assert {"", *wanted.split()} <= set(QUALITIES)
