import dataclasses
import pickle

import pytest

from live.notes.phrase import Brief, Call, Choice, PhraseNote
from tests.notes.stage import D_MINOR

NOTE = PhraseNote(0, 480, 60, 90)
CALL = Call((NOTE,), 2, first_bar=4, number=3, partial=True)
BRIEF = Brief(CALL, D_MINOR)
CHOICE = Choice(1, 0.5, ("because",), ("head", "up to 1"), (NOTE,))


@pytest.mark.parametrize("value", [NOTE, CALL, BRIEF, CHOICE])
def test_phrases_cross_process_borders_and_never_change(value):
    assert pickle.loads(pickle.dumps(value)) == value
    field = dataclasses.fields(value)[0].name
    with pytest.raises(dataclasses.FrozenInstanceError):
        setattr(value, field, None)


def test_the_answer_follows_the_call():
    assert BRIEF.answer_first_bar == 6
