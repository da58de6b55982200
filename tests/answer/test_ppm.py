"""The variable-order model, against published rows and its own laws."""

from __future__ import annotations

from math import log2

import pytest
from hypothesis import given
from hypothesis import strategies as st

from live.answer.ppm import Ppm

ABRACADABRA = "abracadabra"

# Sequence abracadabra three times, alphabet a b c d r: P(a) P(b) P(c) P(d) P(r) before each letter.
# Source: test "IDyOM ppm*-dataset1+2" of the R package ppm (P. Harrison, MIT licence), values made
# with IDyOM (M. Pearce): PPM-C, interpolated smoothing, exclusion, no update exclusion, no limit.
ROWS = (
    (
        (0.2, 0.2, 0.2, 0.2, 0.2),
        (0.6, 0.1, 0.1, 0.1, 0.1),
        (0.33333334, 0.33333334, 0.11111111, 0.11111111, 0.11111111),
        (0.25, 0.25, 0.125, 0.125, 0.25),
        (0.20000002, 0.53333336, 0.06666668, 0.06666668, 0.13333336),
        (0.26666665, 0.19999997, 0.19999997, 0.13333331, 0.19999997),
        (0.20833334, 0.2916667, 0.2916667, 0.083333336, 0.125),
        (0.25, 0.1875, 0.1875, 0.1875, 0.1875),
        (0.2093023, 0.21705426, 0.21705426, 0.21705426, 0.13953489),
        (0.19148937, 0.14893615, 0.12765956, 0.12765956, 0.40425533),
        (0.4347826, 0.1521739, 0.13043477, 0.13043477, 0.1521739),
    ),
    (
        (0.2777778, 0.19444445, 0.16666667, 0.16666667, 0.19444445),
        (0.20245397, 0.28834355, 0.19018403, 0.19018403, 0.12883434),
        (0.15714285, 0.11428571, 0.08571428, 0.08571428, 0.55714285),
        (0.5692308, 0.12307692, 0.09230768, 0.09230768, 0.12307692),
        (0.11999999, 0.23, 0.46, 0.10999999, 0.07999999),
        (0.47272727, 0.14545456, 0.12727273, 0.10909091, 0.14545456),
        (0.111428574, 0.20571429, 0.15142857, 0.46285713, 0.068571426),
        (0.48275864, 0.13793103, 0.12068966, 0.12068966, 0.13793103),
        (0.11351351, 0.5243243, 0.14864865, 0.14864865, 0.06486486),
        (0.12612611, 0.08108108, 0.06306306, 0.06306306, 0.6666666),
        (0.6701031, 0.09278351, 0.072164945, 0.072164945, 0.09278351),
    ),
    (
        (0.31914893, 0.19148934, 0.14893617, 0.14893617, 0.19148934),
        (0.15789472, 0.35197368, 0.20065789, 0.20065789, 0.088815786),
        (0.107382536, 0.06711409, 0.04697986, 0.04697986, 0.7315436),
        (0.73015875, 0.07936508, 0.055555556, 0.055555556, 0.07936508),
        (0.06447536, 0.17699116, 0.6384324, 0.082174465, 0.037926678),
        (0.61956525, 0.10869565, 0.08695652, 0.07608695, 0.10869565),
        (0.06033518, 0.16201115, 0.103910595, 0.64022344, 0.033519547),
        (0.625, 0.10416666, 0.08333333, 0.08333333, 0.10416666),
        (0.06620208, 0.67595816, 0.11149825, 0.11149825, 0.034843203),
        (0.090047404, 0.052132707, 0.037914697, 0.037914697, 0.78199047),
        (0.7790698, 0.0639535, 0.046511635, 0.046511635, 0.0639535),
    ),
)
SINGLE_PRECISION = 2e-6

# Bits of each letter of abracadabra with update exclusion, orders up to 10. Source: README of the
# R package ppm (two decimals).
BITS_WITH_UPDATE_EXCLUSION = (2.32, 3.32, 3.17, 2.0, 3.91, 1.91, 3.58, 2.0, 2.2, 1.32, 1.22)

# Mean bits a letter of the last word, update exclusion. Source: tests "IDyOM update exclusion ..."
# of the R package ppm; the order is limited to 10, that of abratbrac to 30.
MEAN_BITS = (
    (["abracadabra"], 10, 2.4509745),
    (["abracadabra"] * 2, 10, 1.1457417),
    (["abracadabra"] * 3, 10, 0.8534344),
    (["abracadabra", "bracadabra"], 10, 1.1973304),
    (["abracadabra", "abrabrac"], 10, 1.4018788),
    (["abracadabra", "abratbrac"], 30, 1.8791169),
    (["abracadabra", "abrabtrac"], 10, 2.0285676),
    (["abracadabra", "abrabrtac"], 10, 1.8929263),
    (["abracadabra", "abrabratc"], 10, 1.7575804),
    (["abracadabra", "abrabract"], 10, 1.5876032),
)

# Real music, mean bits a note, no update exclusion, orders up to 10. Source: the same tests: L.
# Couperin, unmeasured prelude 7 (opening), and Hindemith, eight pieces for flute, VI.
COUPERIN = """\
45 52 57 60 64 69 45 52 57 60 64 69 45 45 44 52 60 60 59 64 64 71 45 57 76 74 72 71 72 72
72 72 72 72 72 72 52 64 69 69 71 71 71 71 71 71 50 52 54 55 52 53 52 50 48 48 47 69 71 72 55 74 62
67 48 67 69 71 57 72 72 57 64 65 72 72 72 60 62 66 71 71 62 68 66 68 64 64 64 64 59 59 60 64 68 68
69 69 50 49 49 50 59 64 64 65 69 47 48 50 52 53 50 50 52 60 64 69 52 60 60 59 69 69 68 68 68 45 52
57 61 64 69 45 52 57 62 61 64 69"""
HINDEMITH = """\
84 83 85 86 81 82 81 80 80 80 79 77 79 76 83 73 72 71 72 77 76 75 77 79 80 82 84 85 87 88
88 87 82 77 78 83 81 79 77 76 75 77 78 73 74 72 71 71 70 69 68 67 68 70 62 73 74 63 78 79 92 90 89
88 88 91 87 86 85 84 83 85 86 81 82 81 80 80 80 79 77 79 76 83 73 71 73 74 74 74 73 71 73 70 77 67
68 69 70 70 68 69 70 70 68 69 70 63 63 68 66 63 62 70 63 68 66 63 62 70 63 68 66 63 62"""


def told(words, order=None, *, update_exclusion=False):
    """Chances before each symbol of each word, while they are learned; and the symbols."""
    alphabet = sorted({symbol for word in words for symbol in word})
    model = Ppm(len(alphabet), order, update_exclusion=update_exclusion)
    found = []
    for word in words:
        past, rows = [], []
        for symbol in word:
            rows.append(model.chances(past))
            model.follow(past, alphabet.index(symbol))
            past.append(alphabet.index(symbol))
        found.append((rows, past))
    return found


def bits(rows, symbols):
    return [-log2(row[symbol]) for row, symbol in zip(rows, symbols, strict=True)]


@pytest.mark.parametrize("turn", [0, 1, 2])
def test_the_rows_of_the_reference_implementations(turn):
    rows, _ = told([ABRACADABRA] * 3)[turn]
    for row, wanted in zip(rows, ROWS[turn], strict=True):
        assert row == pytest.approx(wanted, abs=SINGLE_PRECISION)


def test_information_content_with_update_exclusion():
    rows, symbols = told([ABRACADABRA], 10, update_exclusion=True)[0]
    assert bits(rows, symbols) == pytest.approx(BITS_WITH_UPDATE_EXCLUSION, abs=0.005)


@pytest.mark.parametrize(("words", "order", "wanted"), MEAN_BITS)
def test_mean_information_content_with_update_exclusion(words, order, wanted):
    every = sorted({letter for word in words for letter in word})
    rows, symbols = told(words, order, update_exclusion=True)[-1]
    assert len(rows[0]) == len(every)
    mean = sum(bits(rows, symbols)) / len(symbols)
    assert mean == pytest.approx(wanted, abs=SINGLE_PRECISION)


@pytest.mark.parametrize(("notes", "wanted"), [(COUPERIN, 4.195832), (HINDEMITH, 4.210231)])
def test_real_music(notes, wanted):
    rows, symbols = told([notes.split()], 10)[0]
    assert sum(bits(rows, symbols)) / len(symbols) == pytest.approx(wanted, abs=SINGLE_PRECISION)


SIZE = 6
SYMBOLS = st.integers(0, SIZE - 1)
SEQUENCES = st.lists(st.lists(SYMBOLS, max_size=20), max_size=5)
ORDERS = st.sampled_from((None, 0, 1, 2, 4))


def taught(sequences, order, *, update_exclusion=False):
    model = Ppm(SIZE, order, update_exclusion=update_exclusion)
    for sequence in sequences:
        model.learn(sequence)
    return model


@given(SEQUENCES, st.lists(SYMBOLS, max_size=8), ORDERS, st.booleans())
def test_chances_are_above_0_and_add_up_to_1(sequences, past, order, update_exclusion):
    chances = taught(sequences, order, update_exclusion=update_exclusion).chances(past)
    assert min(chances) > 0
    assert sum(chances) == pytest.approx(1)


@given(SEQUENCES, st.lists(SYMBOLS, max_size=8), ORDERS, st.permutations(range(SIZE)))
def test_other_names_for_the_symbols_change_nothing(sequences, past, order, other):
    plain = taught(sequences, order).chances(past)
    renamed = taught([[other[s] for s in seq] for seq in sequences], order)
    chances = renamed.chances([other[s] for s in past])
    assert [chances[other[symbol]] for symbol in range(SIZE)] == pytest.approx(plain)


@given(SEQUENCES, st.lists(SYMBOLS, max_size=8), ORDERS)
def test_the_order_in_which_sequences_are_learned_changes_nothing(sequences, past, order):
    one, other = taught(sequences, order), taught(sequences[::-1], order)
    assert one.chances(past) == pytest.approx(other.chances(past))


@given(SEQUENCES, st.lists(SYMBOLS, max_size=8), ORDERS)
def test_the_reach_says_all_that_the_past_says(sequences, past, order):
    model = taught(sequences, order)
    reach = model.reach(past)
    assert reach == tuple(past)[len(past) - len(reach) :]
    assert reach in model.contexts()
    assert order is None or len(reach) <= order
    assert (
        model.context(past)
        == model.context(reach)
        == reach[len(reach) - len(model.context(past)) :]
    )
    assert model.chances(reach) == model.chances(past)


@given(SEQUENCES, st.lists(SYMBOLS, max_size=8), SYMBOLS, ORDERS)
def test_the_reach_can_be_carried_from_symbol_to_symbol(sequences, past, symbol, order):
    model = taught(sequences, order)
    assert model.reach((*model.reach(past), symbol)) == model.reach([*past, symbol])


@given(st.lists(SYMBOLS, min_size=1, max_size=30))
def test_order_0_is_method_c_over_counts(sequence):
    """P = (n(s) + t / (size + 1 - t)) / (n + t), made to add up to 1; equation 6.8 by hand."""
    kinds = len(set(sequence))
    shares = [sequence.count(s) + kinds / (SIZE + 1 - kinds) for s in range(SIZE)]
    wanted = [share / sum(shares) for share in shares]
    assert taught([sequence], 0).chances([]) == pytest.approx(wanted)


@given(st.lists(SYMBOLS, min_size=2, max_size=12, unique=True).filter(lambda s: len(s) > 2))
def test_what_was_heard_is_expected_again(sequence):
    model = taught([sequence] * 3, None)
    for place in range(1, len(sequence) - 1):
        chances = model.chances(sequence[:place])
        assert max(range(SIZE), key=chances.__getitem__) == sequence[place]


def test_nothing_learned_expects_everything_alike():
    assert Ppm(4).chances([1, 2]) == (0.25,) * 4
