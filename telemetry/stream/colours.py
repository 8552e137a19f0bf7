"""Colours as the stream sends them, names or whole-number codes, and the one list of names they are indices into."""

from __future__ import annotations

import re
from typing import Final

NAMES_MAX: Final = 30
"""Names at the most, ``none`` among them: a set of colours fits the bits of one small integer on every board."""

_CODE = re.compile(r"[+-]?[0-9]{1,9}")
_CACHE_MAX: Final = 1000


class NotAColourError(ValueError):
    """A field that is neither a name nor a code; its text is the reason."""


class Colours:
    """``names`` only ever grows; ``index[field]`` holds what was looked up before (-1: an empty field)."""

    def __init__(self) -> None:
        self.names: tuple[str, ...] = ("none",)
        self.codes: dict[int, str] = {}
        self.index: dict[str, int] = {"": -1, "none": 0}

    def learn(self, codes: dict[int, str]) -> None:
        """Codes that the robot explains; they hold for the lines that follow."""
        if any(self.codes.get(code) != name for code, name in codes.items()):
            self.codes.update(codes)
            self.index = {"": -1, "none": 0}

    def look_up(self, field: str) -> tuple[int, int | None]:
        """Index of a field, and the code where it is one that nobody explained. Raises NotAColourError."""
        text = field.strip()
        unexplained: int | None = None
        if not text:
            found = -1
        elif _CODE.fullmatch(text):
            code = int(text)
            if code not in self.codes:
                unexplained = code
            found = self._place(self.codes.get(code, f"code {code}"))
        elif text[0].isalpha() and text.isprintable() and len(text) <= 40:
            found = self._place(text)
        else:
            raise NotAColourError(f"neither a colour's name nor a code: {text[:20]!r}")
        if len(self.index) < _CACHE_MAX:
            self.index[field] = found
        return found, unexplained

    def forget(self, names: tuple[str, ...]) -> None:
        """Back to ``names``: a line that brought more was damaged."""
        if self.names is not names:
            self.names = names
            self.index = {field: place for field, place in self.index.items() if place < len(names)}

    def _place(self, name: str) -> int:
        if name.casefold() == "none":
            return 0
        if name not in self.names:
            if len(self.names) >= NAMES_MAX:
                raise NotAColourError(f"more than {NAMES_MAX - 1} colours: {name[:20]!r}")
            self.names = (*self.names, name)
        return self.names.index(name)


def parse_codes(text: str) -> dict[int, str]:
    """``9=none,1=rust`` as code -> name. Raises ValueError with the reason."""
    codes: dict[int, str] = {}
    for pair in text.split(","):
        code, equals, name = (part.strip() for part in pair.partition("="))
        if not equals or not _CODE.fullmatch(code) or not name:
            raise ValueError(f"not of the form code=name: {pair[:20]!r}")
        codes[int(code)] = name
    return codes
