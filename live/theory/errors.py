"""The one error for bad input: it names the field, what is allowed and what was given."""

from __future__ import annotations

_LONGEST = 200
"""Characters of a value that are shown: a whole song's chords, not a whole file."""


class FieldError(ValueError):
    """A value a user gave cannot be used.

    Args:
        field: name of the setting, argument or part, as the user knows it.
        allowed: the allowed values or range in words; say whether ends are included.
        got: the value as given.
        where: optional place, for example `line 7` or `character 3`.
    Thread: any.
    """

    def __init__(self, field: str, allowed: str, got: object, where: str = "") -> None:
        self.field = field
        self.allowed = allowed
        self.got = got
        self.where = where
        place = f" ({where})" if where else ""
        super().__init__(f"{field}{place}: got {_shown(got)}; allowed: {allowed}")

    def __reduce__(self) -> tuple[type[FieldError], tuple[str, str, object, str]]:
        """Keep all four parts when the error crosses a process border."""
        return (type(self), (self.field, self.allowed, self.got, self.where))


def _shown(got: object) -> str:
    text = repr(got)
    return text if len(text) <= _LONGEST else f"{text[:_LONGEST]}..."
