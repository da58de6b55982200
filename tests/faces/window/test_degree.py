from __future__ import annotations

from dataclasses import replace

import pytest

from live.daemon.snapshot import HeldView
from live.faces.window.degree import DegreePanel, degree_view
from live.faces.window.music import step_of
from live.faces.window.panel import Look
from tests.faces.states import IDLE, snapshot_named


def test_f_over_b_flat_in_d_minor_is_the_mediant_and_the_fifth_of_the_chord() -> None:
    # Common practice, no source: D minor's third degree is F, and B flat major is Bb D F.
    view = degree_view(snapshot_named("moved"))
    assert (view.label, view.name, view.role) == ("♭3", "F  mediant", "5 of B♭")
    assert view.moved == "from F♯"
    assert view.lit


def test_the_family_is_said_in_words() -> None:
    # Open Music Theory, 'Harmonic functions': T for 1 and 3, S for 4 and 6, D for 5 and 7.
    words = {}
    for note in (62, 67, 69):
        held = replace(IDLE, held=(HeldView(note, note),), sounding=(note,))
        words[note] = degree_view(held).pull.partition(",")[0]
    assert words == {62: "at home", 67: "leads away", 69: "pulls home"}


def test_plain_numbers_are_the_places_in_the_scale() -> None:
    held = replace(IDLE, labels="plain", held=(HeldView(65, 65),), sounding=(65,))
    assert degree_view(held).label == "3"


def test_a_chord_shows_the_newest_key_large_and_the_others_from_the_top() -> None:
    view = degree_view(snapshot_named("chord"))
    assert view.label == "5"
    assert view.others == ("♭3", "1")


def test_a_silent_key_is_said_to_be_outside_the_key() -> None:
    view = degree_view(replace(IDLE, held=(HeldView(66, None),)))
    assert (view.name, view.role, view.lit) == ("F♯  silent", "outside D minor", False)


def test_after_release_the_last_note_stays_dim_without_a_role_in_a_chord_that_went_on() -> None:
    view = degree_view(snapshot_named("answer"))
    assert (view.label, view.lit, view.role) == ("5", False, "")


def test_nothing_played_yet_is_said_in_words() -> None:
    view = degree_view(IDLE)
    assert (view.label, view.name, view.role) == ("", "Play a note", "in D minor")


def test_screen_readers_hear_one_sentence() -> None:
    panel = DegreePanel(degree_view(IDLE))
    panel.show_view(degree_view(snapshot_named("moved")))
    assert panel.accessibleName() == "Degree ♭3, F mediant, 5 of B♭, at home, from F♯"


@pytest.mark.parametrize(("notes", "label"), [((65, 69), "5"), ((69, 65), "♭3")])
def test_the_key_pressed_last_is_the_degree_now(notes: tuple[int, int], label: str) -> None:
    held = tuple(HeldView(note, note) for note in notes)
    view = degree_view(replace(IDLE, held=held, sounding=notes))
    assert view.label == label
    assert len(view.others) == 1


def test_an_unchanged_view_is_not_drawn_again() -> None:
    panel = _Counting(degree_view(IDLE))
    panel.set_look(Look())
    panel.show_view(degree_view(snapshot_named("moved")))
    panel.show_view(degree_view(snapshot_named("moved")))
    assert panel.updates == 1


class _Counting(DegreePanel):
    updates = 0

    def update(self, *region: object) -> None:
        self.updates += 1
        super().update(*region)


def test_a_chord_of_three_notes_is_named_with_the_part_of_the_newest_in_it() -> None:
    assert degree_view(snapshot_named("chord")).role == "5 of Dm, i"
    two = snapshot_named("chord")
    two = replace(two, held=two.held[:2], chord="Bb")
    assert degree_view(two).role == "5 of B♭"  # two notes are part of the progression's chord


@pytest.mark.parametrize(
    ("numeral", "step"),
    [("i(add9)", "i"), ("IIImaj7(no5)", "III"), ("V7/V", "V/V"), ("vii°7/V", "vii°/V"),
     ("bVII7", "♭VII")],
)  # fmt: skip
def test_a_numeral_leaves_to_the_chords_name_what_that_says(numeral: str, step: str) -> None:
    assert step_of(numeral) == step
