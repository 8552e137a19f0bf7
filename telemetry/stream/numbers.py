"""Numbers as robots write them, and what kind of text a line is. Stricter than ``float()``, which also takes ``1_000``."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from typing import Final

NAN: Final = math.nan
INF: Final = math.inf
_NUMBER = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?|[+-]?(?:nan|inf|infinity)", re.IGNORECASE)
_WORD = re.compile(r"[^\W\d_][\w .:-]*")
_BOOLEAN: Final = {"True": 1.0, "False": 0.0}


def is_number(text: str) -> bool:
    return text.isascii() and _NUMBER.fullmatch(text) is not None


def parse_number(text: str) -> float:
    """The number in a field; NaN for an empty one and for what Python prints for none. Raises ValueError."""
    text = text.strip()
    if not text or text == "None":
        return NAN
    try:
        if text.isascii() and "_" not in text:
            return float(text)
    except ValueError:
        pass
    raise ValueError(f"not a number: {text[:20]!r}")


def parse_further(text: str) -> tuple[float, bool]:
    """The same for a column of unknown meaning, which may also hold a word: then NaN, and True. Raises ValueError."""
    text = text.strip()
    if text in _BOOLEAN:
        return _BOOLEAN[text], False
    if text != "None" and not is_number(text) and _WORD.fullmatch(text):
        return NAN, True
    return parse_number(text), False


def looks_like_data(fields: Sequence[str], text: str) -> bool:
    """Whether a line that is no sample was meant to be one: its first field, or at least half of all, are numbers.

    Where only spaces separate them, as in any sentence, both.
    """
    sent = [field.strip() for field in fields if field.strip()]
    if not sent:
        return len(fields) > 1
    first, half = is_number(sent[0]), 2 * sum(map(is_number, sent)) >= len(sent)
    if len(fields) > 1 and not any(separator in text for separator in ",;\t"):
        return first and half
    return first or half


def split_plain(text: str) -> list[str]:
    """The fields of a line without a header: separated by semicolons, commas, tabs or spaces, whichever comes first here.

    With semicolons a comma is a decimal one. Empty fields at the end are dropped.
    """
    if ";" in text:
        fields = text.replace(",", ".").split(";")
    elif "," in text:
        fields = text.split(",")
    elif "\t" in text:
        fields = text.split("\t")
    else:
        return text.split()
    while len(fields) > 1 and not fields[-1].strip():
        fields.pop()
    return fields
