from __future__ import annotations

from live.theory.pitch_sets import prime_form
from live.theory.set_table import PRIME_FORMS


def test_each_row_holds_prime_forms_of_its_size_once():
    for size, row in PRIME_FORMS.items():
        forms = [tuple("0123456789te".index(digit) for digit in text) for text in row.split()]
        assert len(set(forms)) == len(forms)
        for form in forms:
            assert len(form) == size
            assert prime_form(form) == form
