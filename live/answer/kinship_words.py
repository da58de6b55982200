"""What each count of the kinship critic is about, in words a musician uses."""

from __future__ import annotations

from typing import Final

from live.answer.kinship_features import CALLED, COMPARED

_SAID: Final = {
    "takes up the head of the call": ("same 3:1", "head", "head's moves", "pair in place"),
    "moves the call's bar to other degrees": ("sequence 3:1", "sequence 4:2", "half bar moved"),
    "keeps its rhythm": (
        "rhythm 3:1", "rhythm 4:2", "rhythm 3:2", "rhythm 4:1", "head's rhythm",
        "half bar's rhythm",
    ),
    "takes up its turns": ("turn in place", "move in place"),
    "quotes its notes": ("half bar", "held pitch", "same 4:2"),
    "follows its shape": (
        "direction 3:1", "direction 4:2", "contour", "distance 3:1", "distance 4:2",
        "distance 3:2", "distance 4:1",
    ),
    "joins on to its last note": ("join", "expected join", "answer's first", "first to first"),
    "answers in the same register": (
        "top to top", "bottom to bottom", "register", "first bar's register",
        "second bar's register", "answer's top",
    ),
    "closes as the call lets expect": ("last to last", "answer's last"),
    "is as busy as the call": ("more notes", "answer's triplets"),
    "moves as the call does": ("answer's steps", "answer's size of moves"),
    "its two bars belong together": ("distance 4:3", "rhythm 4:3"),
    "what this call asks for": CALLED,
}  # fmt: skip


def _words() -> tuple[str, ...]:
    by_count = {count: words for words, counts in _SAID.items() for count in counts}
    return tuple(by_count[count.split(",")[0]] for count in (*COMPARED, *CALLED))


WORDS: Final = _words()
"""One for each of COMPARED, then CALLED."""
