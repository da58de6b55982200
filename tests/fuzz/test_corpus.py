"""What the fuzzers have found stays found: every kept input, run again. And the fuzzer can find."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from live.notes import split
from tests.fuzz import engine, guide, planted, splitter


def inputs(fuzzer) -> list[guide.Input]:
    return guide.load(fuzzer.CORPUS, fuzzer.read_line)


def test_there_is_a_corpus():
    assert len(inputs(splitter)) >= 20
    assert len(inputs(engine)) >= 50


def test_the_splitter_reads_every_kept_stream_as_the_specification_does(monkeypatch):
    for limit in (splitter.SHORT_SYSEX_BYTES, split.MAX_SYSEX_BYTES):
        monkeypatch.setattr(split, "MAX_SYSEX_BYTES", limit)
        for shape in inputs(splitter):
            splitter.check(shape)


def test_the_engine_plays_every_kept_script_as_the_model_does():
    for shape in inputs(engine):
        engine.check(shape)


@pytest.mark.parametrize("fuzzer", [splitter, engine])
def test_a_corpus_line_is_read_as_it_was_written(fuzzer):
    for shape in inputs(fuzzer):
        assert fuzzer.read_line(fuzzer.write_line(shape)) == shape


def test_a_planted_fault_behind_three_doors_is_found_and_made_short():
    """Chance alone needs some 64 ** 3 runs of three; coverage shows each door as it opens."""
    watched = frozenset({str(Path(planted.__file__))})
    target = guide.Target(planted.check, watched, 64, [(0,)], 12)
    fuzzer = guide.Fuzzer(target, [()], random.Random(5))
    while fuzzer.broken is None and fuzzer.runs < 20_000:
        fuzzer.turn()
    assert fuzzer.broken is not None
    assert fuzzer.broken.shape == planted.DOORS


def test_the_smallest_set_shows_all_that_was_seen():
    fuzzer = guide.Fuzzer(splitter.TARGET, inputs(splitter), random.Random(1))
    seen = set()
    for shape in fuzzer.smallest():
        seen |= guide.features(splitter.TARGET, shape)
    assert seen == fuzzer.seen
