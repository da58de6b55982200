"""A row of the settings table: what a setting may be, and how a value from outside is read."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Literal

from live.theory.errors import FieldError

Kind = Literal["text", "whole", "number", "switch", "names"]


@dataclass(frozen=True, slots=True)
class Field:
    """One setting.

    Args:
        name: `section.name`, as in the TOML file.
        kind: `text`, `whole` (int), `number` (float), `switch` (bool) or `names` (list of text).
        default: value when nothing is set.
        doc: what it does, one sentence, with its unit.
        low, high: range of a number, both ends included.
        options: allowed texts or whole numbers, empty = any.
        read: turns an allowed text into its canonical form; raises FieldError.
        is_live: True if a change takes effect while running.
        hint: the allowed texts in words, where `read` decides.
    """

    name: str
    kind: Kind
    default: Any
    doc: str
    low: float | None = None
    high: float | None = None
    options: tuple[Any, ...] = ()
    read: Callable[[str], str] | None = None
    is_live: bool = True
    hint: str = ""

    @property
    def allowed(self) -> str:
        """The allowed values in words."""
        if self.options:
            return ", ".join(str(option) for option in self.options)
        if self.low is not None and self.high is not None:
            if self.kind == "whole":
                return f"a whole number from {self.low} to {self.high}"
            return f"{self.low:g} to {self.high:g}"
        words = {"text": "a text", "switch": "true or false", "names": "a list of texts"}
        return self.hint or words[self.kind]

    def check(self, value: Any) -> Any:  # noqa: ANN401 - a value from a file can be anything
        """Return the value in canonical form; FieldError if it is not allowed."""
        if not self._has_type(value):
            raise FieldError(self.name, self.allowed, value)
        if self.kind == "number":
            try:
                value = float(value)
            except OverflowError:
                raise FieldError(self.name, self.allowed, value) from None
            if not math.isfinite(value):
                raise FieldError(self.name, self.allowed, value)
        if self.options and value not in self.options:
            raise FieldError(self.name, self.allowed, value)
        if self.low is not None and not self.low <= value <= (self.high or self.low):
            raise FieldError(self.name, self.allowed, value)
        if self.read is not None:
            try:
                return self.read(value)
            except FieldError as error:
                raise FieldError(self.name, error.allowed, error.got, error.where) from None
        return value

    def from_text(self, text: str) -> Any:  # noqa: ANN401 - type depends on the field
        """Read a value typed by hand; FieldError if it is not allowed."""
        value: Any = text
        try:
            if self.kind == "whole":
                value = int(text)
            elif self.kind == "number":
                value = float(text)
        except ValueError:
            raise FieldError(self.name, self.allowed, text) from None
        if self.kind == "switch":
            value = {"true": True, "on": True, "false": False, "off": False}.get(text.lower(), text)
        if self.kind == "names":
            value = [part.strip() for part in text.split(",") if part.strip()]
        return self.check(value)

    def _has_type(self, value: object) -> bool:
        if self.kind == "switch":
            return isinstance(value, bool)
        if isinstance(value, bool):
            return False
        if self.kind == "names":
            return isinstance(value, list) and all(isinstance(item, str) for item in value)
        if self.kind == "text":
            return isinstance(value, str)
        return isinstance(value, int if self.kind == "whole" else (int, float))
