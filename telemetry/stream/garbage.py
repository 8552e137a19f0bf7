"""Bytes that are no text: noticed, weighed, and recognised as what a wrong baud rate looks like."""

from __future__ import annotations

from typing import Final

PLAIN: Final = bytes(range(0x20, 0x7F))
_TEXT: Final = PLAIN + b"\t\x1b\x07\x08"
_TEXT_CONTROL: Final = frozenset("\t\x1b\x07\x08\x0c")
_SHARE: Final = 0.25
_ENOUGH: Final = 600
"""Bytes of garbage that outweigh the good ones: more than the few hundred that some boards print at their start."""

WRONG_BAUD: Final = (
    "Most of what arrives is not text: this looks like a wrong baud rate, or a file of another kind. Capture with the"
    " baud rate of the robot's program (--baud)."
)


MARK: Final = b"\xef\xbb\xbf"
"""The byte-order mark of UTF-8, with which some editors begin a file (Unicode Standard, 23.8)."""

UTF16: Final = (
    "This looks like text in UTF-16, which Windows calls Unicode: every other byte is NUL."
    " Save it as UTF-8 and ingest it again."
)


def is_utf16(raw: bytes) -> bool:
    """Whether a line without its end is one of plain characters in UTF-16."""
    pairs = raw.removeprefix(b"\xff\xfe").removeprefix(b"\xfe\xff").strip(b"\0")
    return len(pairs) >= 7 and not any(pairs[1::2]) and all(pairs[::2])


def text_of(raw: bytes) -> tuple[str, str]:
    """The text of a line that is not plain ASCII, and what is wrong with it (then the text is empty)."""
    if b"\0" in raw:
        return "", "NUL bytes"
    try:
        text = raw.decode()
    except UnicodeDecodeError:
        return "", "not UTF-8"
    if any(char < " " and char not in _TEXT_CONTROL for char in text) or "\x7f" in text:
        return "", "control bytes"
    return text, ""


def is_garbage(raw: bytes) -> bool:
    """Whether at least a quarter of the bytes is no ASCII text."""
    return len(raw.translate(None, _TEXT)) >= _SHARE * len(raw)


class GarbageWatch:
    """Weighs garbage against good lines; neither ever counts for more than ENOUGH, so that old times are forgotten."""

    def __init__(self) -> None:
        self.weight = 0

    def bad(self, raw: bytes) -> bool:
        """One line that is no plain text; True when there is so much that the baud rate must be wrong."""
        if is_garbage(raw):
            self.weight = min(self.weight + len(raw), _ENOUGH)
        else:
            self.good(len(raw))
        return self.weight >= _ENOUGH

    def good(self, count: int) -> None:
        """So many bytes of good lines."""
        self.weight = max(0, self.weight - count)

    def much(self) -> bool:
        """At the end: whether the little there was is mostly garbage."""
        return self.weight >= 60
