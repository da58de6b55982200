import pytest

from live.clock.metre import Metre
from live.notes.offer import Offer
from live.notes.phrase import Brief, Call, Choice
from live.theory.errors import FieldError
from tests.notes.stage import D_MINOR

BRIEF = Brief(Call((), 2, number=1), D_MINOR)
OTHER = Brief(Call((), 2, number=2), D_MINOR, metre=Metre(3, 4))


def choices(count=3):
    return tuple(Choice(rank, 0.5, (), ("", ""), ()) for rank in range(1, count + 1))


def test_at_first_there_is_nothing():
    offer = Offer()
    assert offer.choices == ()
    assert (offer.chosen, offer.choice, offer.current, offer.last) == (0, None, None, None)
    assert not offer.fresh
    assert not offer.is_waiting
    with pytest.raises(FieldError, match="once there are choices"):
        offer.choose(1)


def test_what_comes_back_is_on_offer_with_its_brief():
    offer = Offer()
    asked = offer.ask(BRIEF)
    assert offer.is_waiting
    assert offer.last is asked.brief is BRIEF
    three = choices()
    assert offer.take(asked.request, three) == (three[0], BRIEF)
    assert not offer.is_waiting
    assert offer.fresh
    assert (offer.chosen, offer.choice) == (1, three[0])
    assert offer.choices == three


def test_nobody_waits_for_it_twice_or_for_nothing():
    offer = Offer()
    asked = offer.ask(BRIEF)
    assert offer.take(asked.request + 1, choices()) is None
    assert offer.take(asked.request, ()) is None
    assert offer.take(asked.request, choices()) is None
    assert not offer.fresh


def test_a_newer_answer_makes_the_older_ones_stale():
    offer = Offer()
    early, final = offer.ask(BRIEF), offer.ask(OTHER)
    assert early.request != final.request
    assert offer.take(final.request, choices()).brief is OTHER
    assert offer.take(early.request, choices()) is None
    assert offer.current.brief is OTHER


def test_an_early_look_is_replaced_by_the_final_answer():
    offer = Offer()
    early, final = offer.ask(BRIEF), offer.ask(OTHER)
    assert offer.take(early.request, choices()).brief is BRIEF
    assert offer.is_waiting
    assert offer.take(final.request, choices()).brief is OTHER


@pytest.mark.parametrize("rank", [0, 4, -1])
def test_choosing_what_is_not_there_is_refused_and_changes_nothing(rank):
    offer = Offer()
    offer.take(offer.ask(BRIEF).request, choices())
    offer.fresh = False
    with pytest.raises(FieldError, match="1 to 3"):
        offer.choose(rank)
    assert (offer.chosen, offer.fresh) == (1, False)


def test_a_choice_waits_to_be_played():
    offer = Offer()
    three = choices()
    offer.take(offer.ask(BRIEF).request, three)
    offer.fresh = False
    assert offer.choose(3) == (three[2], BRIEF)
    assert (offer.chosen, offer.choice, offer.fresh) == (3, three[2], True)


def test_giving_up_passes_over_all_but_the_player_s_wishes():
    offer = Offer()
    asked, wished = offer.ask(BRIEF), offer.ask(OTHER, wished=True)
    offer.give_up_waiting()
    assert offer.is_waiting
    assert offer.take(asked.request, choices()) is None
    assert offer.take(wished.request, choices()).brief is OTHER
