"""What each count of the kinship critic is about, in words a musician uses."""

from __future__ import annotations

from typing import Final

from live.answer.kinship_features import CALLED, COMPARED

_SAID: Final = {
    "takes up the head of the call": ("same 3:1", "head"),
    "moves the call's bar to other degrees": ("sequence 3:1", "sequence 4:2", "half bar moved"),
    "keeps its rhythm": (
"rhythm 3:1", "rhythm 4:2", "half bar's rhythm",
    ),
    "quotes its notes": ("half bar", "same 4:2"),
    "follows its shape": ("distance 3:1", "distance 4:2"),
    "joins on to its last note": ("join", "expected join", "answer's first", "first to first"),
    "answers in the same register": (
        "top to top", "bottom to bottom", "register", "first bar's register",
        "second bar's register", "answer's top",
    ),
    "closes as the call lets expect": ("last to last", "answer's last"),
    "is as busy as the call": ("more notes", "answer's triplets"),
    "moves as the call does": ("answer's steps", "answer's size of moves"),
    "its two bars belong together": ("distance 4:3", "rhythm 4:3"),
    "gives its degrees their usual answer": ("usual degrees", "usual scale"),
    "goes on as tunes do after such moves": ("usual moves", "usual join"),
    "gives its rhythm its usual answer": ("usual rhythm",),
    "is what usually answers such a call": ("usual answer",),
    "what this call asks for": CALLED,
}  # fmt: skip


def _words() -> tuple[str, ...]:
    by_count = {count: words for words, counts in _SAID.items() for count in counts}
    return tuple(by_count[count] for count in (*COMPARED, *CALLED))


WORDS: Final = _words()
"""One for each of COMPARED, then CALLED."""
