from __future__ import annotations

import pickle

from live.theory.errors import FieldError


def test_the_error_names_field_place_value_and_range():
    error = FieldError("tempo", "20 to 300", 7, where="line 3")
    assert str(error) == "tempo (line 3): got 7; allowed: 20 to 300"
    assert str(FieldError("tempo", "20 to 300", "x")) == "tempo: got 'x'; allowed: 20 to 300"


def test_a_value_of_many_pages_is_cut():
    assert len(str(FieldError("tempo", "20 to 300", "x" * 5000))) < 300
    assert str(FieldError("tempo", "20 to 300", "x" * 150)).count("x") == 150


def test_it_crosses_a_process_border_whole():
    error = pickle.loads(pickle.dumps(FieldError("tempo", "20 to 300", 7, "line 3")))
    assert (error.field, error.allowed, error.got, error.where) == (
        "tempo",
        "20 to 300",
        7,
        "line 3",
    )
