"""The single values of a course file: names, texts, colours, lengths; each type says itself what is wrong with a value."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from difflib import get_close_matches
from typing import Any, Self

from telemetry.course.model import EMPTY, NONE
from telemetry.schema import CheckedValue, LimitedNumber, RefusedError, kind_words, shown

MAX_COLOURS = 29
MAX_NAME = 80
"""Characters of a text: it stands in tables and sentences, and in a note, which must fit into a line of the stream."""
_FORBIDDEN = set(",=*#!\"'")


def listed(names: Iterable[str]) -> str:
    """Names as a sentence lists them: a, b and c."""
    quoted = list(names)
    return " and ".join([", ".join(quoted[:-1]), quoted[-1]]) if len(quoted) > 1 else "".join(quoted)


def nearest(word: str, known: Iterable[str]) -> str:
    """'Did you mean ...?', or the list of what there is; empty where there is nothing."""
    names = list(known)
    begun = [name.lower() for name in names if len(word) > 1 and name.lower().startswith(word.lower())]
    close = begun or get_close_matches(word.lower(), [name.lower() for name in names], n=1, cutoff=0.6)
    if close:
        return f"Did you mean '{next(name for name in names if name.lower() == close[0])}'?"
    return f"There are: {', '.join(names)}." if names else ""


def may_be_colour(name: str) -> bool:
    """Whether lists, tables and notes can hold the name as it is; a palette's colours are held to it too."""
    return name.isprintable() and not (_FORBIDDEN & set(name) or name.lstrip("+-").isdigit())


class Words(CheckedValue, str):
    """A text on one line, without blanks around it."""

    __slots__ = ()

    @classmethod
    def read(cls, plain: object) -> Self:
        if not isinstance(plain, str):
            raise RefusedError(f"'{{key}}' must be a text in quotes, not {kind_words(plain)}")
        if not plain.strip():
            raise RefusedError("'{key}' is empty")
        if not plain.isprintable():
            raise RefusedError("'{key}' holds a character that cannot be printed")
        if len(plain) > MAX_NAME:
            what = f"'{{key}}' has {len(plain)} characters ('{plain[:20]}...')"
            raise RefusedError(what, f"At most {MAX_NAME} are possible.")
        return cls(plain.strip())


class Name(Words):
    """A name that can also stand in a note and in a truth, so without commas, equal signs and quotes."""

    __slots__ = ()

    @classmethod
    def read(cls, plain: object) -> Self:
        name = super().read(plain)
        bad = sorted(_FORBIDDEN & set(name))
        if bad:
            raise RefusedError(f"the name '{name}' holds {bad[0]!r}", "Names do without , = * # ! and quotes.")
        return name


class OneColour(Words):
    """The name of a colour."""

    __slots__ = ()

    @classmethod
    def read(cls, plain: object) -> Self:
        return cls(_colours([super().read(plain)])[0])


class ColourNames(CheckedValue, tuple[str, ...]):
    """Names of colours, none of them twice."""

    __slots__ = ()

    @classmethod
    def read(cls, plain: object) -> Self:
        if not isinstance(plain, list):
            what = f"'{{key}}' must be a list of colours such as [\"rust\", \"leaf\"], not {kind_words(plain)}"
            raise RefusedError(what)
        return cls(_colours(plain))


class Counts(CheckedValue, dict[str, int]):
    """How many of each colour stand there, each at least once."""

    @classmethod
    def read(cls, plain: object) -> Self:
        if not isinstance(plain, Mapping):
            raise RefusedError(f"'{{key}}' must be a table such as {{rust = 2, leaf = 1}}, not {kind_words(plain)}")
        names = _colours(list(plain))
        for name, count in plain.items():
            if isinstance(count, bool) or not isinstance(count, int) or not 1 <= count <= 1000:
                raise RefusedError(f"'{{key}}' gives {name} = {shown(count)}", "A count is a whole number from 1 on.")
        return cls({name: plain[name] for name in names})


class AheadCm(LimitedNumber):
    low, high = -500, 500


class PlaceCm(LimitedNumber):
    """A place along a leg."""


class WidthCm(LimitedNumber):
    low, high = 0.01, 10_000


class HeadingDeg(LimitedNumber):
    low, high = -3600, 3600


class ToleranceDeg(LimitedNumber):
    low, high = 0.1, 180


class PointsWorth(LimitedNumber):
    """What a reading is worth."""


def _colours(names: list[Any]) -> tuple[str, ...]:
    """The names if they can be colours."""
    if not names:
        raise RefusedError("'{key}' names no colour")
    out: list[str] = []
    for name in names:
        if not isinstance(name, str) or not name.strip() or not name.isprintable() or name != name.strip():
            raise RefusedError(f"'{{key}}' holds {name!r}, which is not a colour's name")
        if name.lower() in {NONE, EMPTY}:
            meaning = "that no colour is seen" if name.lower() == NONE else "that nothing stands there"
            raise RefusedError(f"a colour cannot be called '{name}'", f"This word says {meaning}.")
        if not may_be_colour(name):
            raise RefusedError(f"a colour cannot be called '{name}'", "Use a word without , = * # ! and quotes.")
        if len(name) > MAX_NAME:
            what = f"the colour '{name[:20]}...' has {len(name)} characters"
            raise RefusedError(what, f"At most {MAX_NAME} are possible.")
        if name.lower() in (known.lower() for known in out):
            raise RefusedError(f"'{{key}}' names {name} twice")
        out.append(name)
    if len(out) > MAX_COLOURS:
        raise RefusedError(f"'{{key}}' names {len(out)} colours", f"At most {MAX_COLOURS} are possible.")
    return tuple(out)
