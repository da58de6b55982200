"""Answers in words: labels, reasons a bass player would give, and the facts of each note."""

from __future__ import annotations

from typing import Final

from live.answer.facts import STEP, Facts
from live.answer.harmony import Harmony
from live.answer.line_moves import OCTAVE
from live.answer.listen import TRIPLET_TICKS, listen
from live.answer.ways import Way
from live.clock.units import TICKS_PER_SIXTEENTH
from live.notes.phrase import Brief, Choice
from live.theory.degrees import degree_of

_INTERVALS: Final = (
    "a unison", "a minor second", "a second", "a minor third", "a third", "a fourth", "a tritone",
    "a fifth", "a minor sixth", "a sixth", "a minor seventh", "a seventh", "an octave",
)  # fmt: skip


_DRIVES: Final = {TICKS_PER_SIXTEENTH: "sixteenths", TRIPLET_TICKS: "triplets"}


def note_facts(choice: Choice, brief: Brief) -> list[tuple[str, str]]:
    """For each note of a choice its degree (against the major scale) and its chord role.

    Returns: for example ("b3", "5"); the role is "" for a passing note. One pair a note.
    Thread: any; pure.
    """
    harmony = Harmony(brief, listen(brief.call, brief.metre))
    return [
        (degree_of(n.pitch, brief.key).label(), harmony.at(n.onset_ticks).chord.role(n.pitch))
        for n in choice.notes
    ]


def chords_under(brief: Brief) -> list[tuple[int, str]]:
    """(tick, name) of each chord under the answer, where it begins and at every bar line.

    Thread: any; pure.
    """
    harmony = Harmony(brief, listen(brief.call, brief.metre))
    bar_ticks = brief.metre.bar_ticks
    found: list[tuple[int, str]] = []
    for tick in range(0, brief.answer_bars * bar_ticks, TICKS_PER_SIXTEENTH):
        name = harmony.at(tick).chord.name
        if tick % bar_ticks == 0 or name != found[-1][1]:
            found.append((tick, name))
    return found


def words(way: Way | None, facts: Facts) -> tuple[str, str]:
    """Two short labels: what the line does with the call, and how it ends."""
    last = _degree(facts, facts.pitches[-1])
    if not facts.moves:
        ending = f"on {last}"
    elif facts.moves[-1] == 0:
        ending = f"stay on {last}"
    else:
        ending = f"{'up' if facts.moves[-1] > 0 else 'fall'} to {last}"
    return (_label(way, facts), ending)


def _label(way: Way | None, facts: Facts) -> str:
    """The way's own word; gaps under long notes are none, and not all that drives is eighths."""
    if way is None:
        return "free"
    if way.word == "gaps" and _is_under_held(facts):
        return "held"
    return _drive(facts) if way.word == "eighths" else way.word


def _drive(facts: Facts) -> str:
    return _DRIVES.get(facts.drive_ticks, "eighths")


def _is_under_held(facts: Facts) -> bool:
    """Most notes that fall between the call's onsets fall under a held note."""
    return 2 * facts.under_held > len(facts.onsets) - facts.called


def reasons(way: Way | None, facts: Facts) -> tuple[str, ...]:
    """Why the line works, in short sentences that are true of its notes."""
    told = (_on_the_call(way, facts), _on_the_drums(way, facts), _on_the_close(facts))
    more = _on_the_start(facts) or _on_the_motion(facts)
    return tuple(sentence for sentence in (*told, more) if sentence)


def _degree(facts: Facts, pitch: int) -> str:
    return degree_of(pitch, facts.scene.brief.key).label()


def _degrees(facts: Facts, pitches: tuple[int, ...]) -> str:
    return " ".join(_degree(facts, pitch) for pitch in pitches)


def _on_the_call(way: Way | None, facts: Facts) -> str:
    total = len(facts.pitches)
    match way.word if way else "":
        case "head":
            same = tuple(here for call, here in facts.head if (call - here) % OCTAVE == 0)
            what = "opening" if len(facts.scene.melody) > 1 else "note"
            return f"Your {what} comes back: {_degrees(facts, same)}."
        case "turn":
            _, against, moves = facts.head_moves
            return f"Turns your opening over: {against} of {moves} moves go the other way."
        case "sequence":
            return f"Your shape again, this time from {_degree(facts, facts.head[0][1])}."
        case "gaps":
            if _is_under_held(facts):
                return f"Moves while you hold: {facts.under_held} of {total} notes."
            return f"Answers in your gaps: {total - facts.called} of {total} notes fall there."
        case "figure":
            return f"Takes up a figure of yours: {_degrees(facts, facts.figure)}."
        case "rhythm":
            return f"Your rhythm, other notes: {facts.called} of {total} start where yours do."
        case "eighths":
            return f"Drives in {_drive(facts)}."
        case "roots":
            return f"Sits on {_bottom(facts)}: {facts.roots} of {total} notes."
        case _:
            return ""


def _on_the_drums(way: Way | None, facts: Facts) -> str:
    hit, there = facts.kicks
    clear = bool(facts.scene.frame.snares) and facts.on_snare == 0
    if way and way.word == "kick":
        return f"Locks to the kick, {hit} of {there}, and leaves the snare alone."
    if there and 2 * hit >= there:
        times = f" {hit} of {there} times" if there > 1 else ""
        return f"With the kick{times}{', clear of the snare' if clear else ''}."
    return "Leaves the snare alone." if clear else ""


def _on_the_close(facts: Facts) -> str:
    last = _degree(facts, facts.pitches[-1])
    if not facts.moves:
        return f"One note, {last}, that rings."
    move = facts.moves[-1]
    way = "up" if move > 0 else "down"
    purpose, tail = _purpose(facts)
    if len(facts.walk) > 2:
        close = f"Walks {way} {_degrees(facts, facts.walk)}"
    elif move == 0:
        close = f"Stays on {last}"
        purpose = purpose.replace("stays open", "leaves it open")
    elif abs(move) <= STEP:
        close = f"Steps {way} from {_degree(facts, facts.pitches[-2])} to {last}"
    else:
        close = f"Goes {way} {_interval(move)} to {last}"
    return f"{close} {purpose}{tail}."


def _purpose(facts: Facts) -> tuple[str, str]:
    """Whether the last note closes or stays open, and why it may close where it does."""
    ground, pitch_class = facts.grounds[-1], facts.pitches[-1] % OCTAVE
    after = facts.scene.harmony.at(facts.scene.frame.end)
    stable = pitch_class in facts.scene.stable_degrees
    if pitch_class in ground.tones:
        if stable:
            return "to close", ""
        if pitch_class == ground.bottom_pc:
            return "to close", f", {_bottom(facts)} of {ground.chord.name}"
    elif stable and pitch_class in after.tones and after.chord != ground.chord:
        return "to close", f", early for the {after.chord.name} that follows"
    elif stable and _chords_are_guessed(facts):
        return "to close", ""
    return "and stays open", ""


def _chords_are_guessed(facts: Facts) -> bool:
    return facts.scene.brief.progression is None


def _interval(move: int) -> str:
    size = abs(move)
    if size < len(_INTERVALS):
        return _INTERVALS[size]
    octaves, rest = divmod(size, OCTAVE)
    if rest:
        return (
            f"an octave and {_INTERVALS[rest]}" if octaves == 1 else f"{octaves} octaves and more"
        )
    return f"{octaves} octaves"


def _on_the_start(facts: Facts) -> str:
    top = _ends_with_a_chord(facts)
    if facts.join == 0:
        return f"Starts on {'your top note' if top else 'the note you ended on'}."
    if facts.join is not None and facts.join <= STEP:
        return f"Starts a step from your {'top' if top else 'last'} note."
    first, bars = facts.ones
    return f"Starts every bar on {_bottom(facts)}." if first == bars > 1 else ""


def _ends_with_a_chord(facts: Facts) -> bool:
    """Whether several notes begin together where the call's last one begins."""
    notes = facts.scene.brief.call.notes
    last = max((note.onset_ticks for note in notes), default=0)
    near = [note.pitch for note in notes if last - note.onset_ticks < TICKS_PER_SIXTEENTH // 2]
    return len(set(near)) > 1


def _on_the_motion(facts: Facts) -> str:
    if facts.octaves:
        return f"Moves by an octave {_times(facts.octaves)}."
    if facts.held_over:
        return f"Holds over the bar line {_times(facts.held_over)}."
    return ""


def _times(count: int) -> str:
    return {1: "once", 2: "twice"}.get(count, f"{count} times")


def _bottom(facts: Facts) -> str:
    """The word for the chord's bottom note, true of every chord in the answer."""
    return "the bass note" if any(g.chord.bass for g in facts.grounds) else "the root"
