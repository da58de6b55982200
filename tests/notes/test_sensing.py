from live.notes.sensing import SILENCE_NS, SensingWatch

SENSE, NOTE = 0xFE, 0x90


def test_only_inputs_that_promised_are_watched():
    # MIDI 1.0, active sensing: "The receiver will operate normally if it never receives FE."
    watch = SensingWatch()
    watch.hear(0, 1, NOTE)
    assert watch.deadline_ns() is None
    assert watch.take_silent(10**18) == []


def test_it_waits_300_ms_and_not_much_more():
    assert 300_000_000 <= SILENCE_NS <= 400_000_000


def test_the_first_to_fall_silent_is_told_once():
    watch = SensingWatch()
    watch.hear(0, 1, SENSE)
    watch.hear(50, 2, SENSE)
    assert watch.deadline_ns() == SILENCE_NS
    watch.hear(100, 1, NOTE)
    assert watch.deadline_ns() == 50 + SILENCE_NS
    assert watch.take_silent(49 + SILENCE_NS) == []
    assert watch.take_silent(50 + SILENCE_NS) == [2]
    assert watch.take_silent(100 + SILENCE_NS) == [1]
    assert watch.deadline_ns() is None
    assert watch.take_silent(10**18) == []
