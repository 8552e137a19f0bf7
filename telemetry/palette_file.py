"""A palette as a text file (TOML): written by a calibration, read by everything else, and by people.

A file is data: every value is checked, and what is wrong is said with its key. Newer versions than ours are refused.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, Self

import msgspec
import numpy as np
from numpy.typing import NDArray

from telemetry.course.values import may_be_colour
from telemetry.errors import PaletteError
from telemetry.given_file import given_text
from telemetry.palette import CHANNELS, Palette, PaletteColour
from telemetry.schema import CheckedValue, LimitedNumber, MisfitError, RefusedError, checked, value_at
from telemetry.text_in_place import write_text
from telemetry.toml_text import TomlError, read_toml

if TYPE_CHECKING:
    from telemetry.toml_written import Plain

VERSION = 1
_ABOUT: Final = (
    "What each colour looks like to this sensor in this light. Made by 'sidelong calibrate'; may be edited by hand.",
    "Means and covariances are in the order of 'channels', in the units the robot sent (refl in %).",
    "A range is black level and full scale.",
)
MADE_BY = "A palette is made by 'sidelong calibrate'."
LARGEST = 1e12
"""Of any number in a palette: far beyond every sensor, and its square still is a number."""
MOST_COLOURS = 30
"""None and the 29 others that a reading logic can number."""


def _rounded(value: float) -> float:
    """To six significant digits: more says nothing about a sensor."""
    return float(f"{value:.6g}")


def _all_rounded(values: NDArray[np.float64]) -> list[float]:
    return [_rounded(float(value)) for value in values]


def palette_text(palette: Palette) -> str:
    """The palette as TOML, colours in their order; a channel that a colour has no value for is left out for all."""
    from telemetry.toml_written import toml_document

    channels = [i for i, name in enumerate(CHANNELS) if name in palette.channels]
    head: dict[str, Plain] = {
        "version": VERSION, "name": palette.name, "made": palette.made, "measured": palette.measured,
        "rate_hz": _rounded(palette.rate_hz), "channels": [CHANNELS[i] for i in channels],
    }  # fmt: skip
    if palette.remarks:
        head["remarks"] = list(palette.remarks)
    if palette.ranges:
        head["range"] = {name: [_rounded(low), _rounded(high)] for name, (low, high) in palette.ranges.items()}
    return toml_document({**head, "colour": [_entries(colour, channels) for colour in palette.colours]}, about=_ABOUT)


def _entries(colour: PaletteColour, channels: list[int]) -> dict[str, Plain]:
    entries: dict[str, Plain] = {"name": colour.name, "samples": colour.samples}
    if channels:
        entries["mean"] = _all_rounded(colour.mean[channels])
        entries["covariance"] = [_all_rounded(colour.covariance[i, channels]) for i in channels]
    entries["lag1"] = _rounded(colour.lag1)
    if colour.codes:
        entries["codes"] = {code: _rounded(share) for code, share in colour.codes.items()}
    if colour.by_height and channels:
        entries["heights"] = [{"mm": _rounded(mm), "mean": _all_rounded(mean[channels])} for mm, mean in colour.by_height]
    return entries


class Real(LimitedNumber):
    """Any number of a palette."""

    low, high = -LARGEST, LARGEST

    @classmethod
    def read(cls, plain: object) -> Self:
        try:
            return super().read(plain)
        except RefusedError as error:
            raise RefusedError("{key} must be a number", "Correct it, or calibrate again.") from error


class Share(Real):
    """How often a colour has a code."""

    @classmethod
    def read(cls, plain: object) -> Self:
        share = super().read(plain)
        if not 0.0 <= share <= 1.0:
            raise RefusedError("a share of codes must lie between 0 and 1")
        return share


class ShortText(CheckedValue, str):
    """A name."""

    __slots__ = ()

    @classmethod
    def read(cls, plain: object) -> Self:
        if not isinstance(plain, str) or not plain.strip() or len(plain) > 80:
            raise RefusedError("{key} must be a short text")
        return cls(plain)


class Channels(CheckedValue, tuple[str, ...]):
    """Which raw channels the colours have values for, in the order of the means."""

    __slots__ = ()

    @classmethod
    def read(cls, plain: object) -> Self:
        if not isinstance(plain, list) or any(one not in CHANNELS for one in plain) or len(set(plain)) != len(plain):
            raise RefusedError(f"channels must be some of {', '.join(CHANNELS)}")
        return cls(plain)


class HeightTable(msgspec.Struct):
    """An entry of ``heights``."""

    mm: Real
    mean: tuple[Real, ...]


class PaletteColourTable(msgspec.Struct, forbid_unknown_fields=True):
    """``[[colour]]``"""

    name: ShortText
    samples: Real = Real(0.0)
    mean: tuple[Real, ...] = ()
    covariance: tuple[tuple[Real, ...], ...] = ()
    lag1: Real = Real(0.0)
    codes: dict[str, Share] = {}
    heights: tuple[HeightTable, ...] = ()


class PaletteDocument(msgspec.Struct):
    """The whole file."""

    version: int
    name: ShortText | None = None
    made: Any = ""
    measured: bool = True
    rate_hz: Real = Real(0.0)
    channels: Channels = Channels()
    remarks: tuple[str, ...] = ()
    range: dict[str, tuple[Real, Real]] = {}
    colour: tuple[PaletteColourTable, ...] = ()


def palette_from(text: str, where: str) -> Palette:
    """Read a palette's TOML. Errors: PaletteError with the key; ``where`` names the file."""
    try:
        table = read_toml(text)
    except TomlError as error:
        raise PaletteError(f"is not valid TOML: {error.what}", where=where, todo=error.todo or MADE_BY) from error
    version = table.get("version")
    if not isinstance(version, int) or version < 1:
        what = "this is a course, not a palette" if "slot" in table else "this is not a palette: 'version' is missing"
        raise PaletteError(what, where=where, todo=MADE_BY)
    if version > VERSION:
        what = f"made by a newer Sidelong (palette version {version}, this one reads {VERSION})"
        raise PaletteError(what, where=where, todo="Update.")
    try:
        document = checked(table, PaletteDocument)
    except MisfitError as error:
        raise _refused(error, table, where) from error
    if not 1 <= len(document.colour) <= MOST_COLOURS:
        raise PaletteError(f"between 1 and {MOST_COLOURS} colours are needed, each as [[colour]]", where=where)
    places = [CHANNELS.index(name) for name in document.channels]
    colours = tuple(_colour(entry, places, f"{where}, colour '{entry.name}'") for entry in document.colour)
    names = [colour.name for colour in colours]
    twice = next((name for name in names if names.count(name) > 1), None)
    odd = next((name for name in names if not may_be_colour(name)), None)
    if odd is not None:
        todo = "Use a word without , = * # ! and quotes, as in a course."
        raise PaletteError(f"a colour cannot be called '{odd}'", where=where, todo=todo)
    if twice is not None:
        raise PaletteError(f"the colour '{twice}' is there twice", where=where)
    if any(high <= low for low, high in document.range.values()):
        raise PaletteError("a full scale must lie above its black level", where=f"{where}, range")
    return Palette(
        name=str(document.name or Path(where).stem or "palette"),
        colours=colours,
        measured=document.measured,
        ranges={name: (float(low), float(high)) for name, (low, high) in document.range.items()},
        rate_hz=float(document.rate_hz),
        made=str(document.made),
        remarks=document.remarks,
    )


def _refused(error: MisfitError, table: object, where: str) -> PaletteError:
    """What is wrong, and of which colour."""
    if error.problem != "kind" and error.path[:1] == ("colour",):
        name = value_at(table, (*error.path[:2], "name"))
        where = f"{where}, colour '{name}'" if isinstance(name, str) else where
    what, key = error.what, error.key
    if error.problem == "unknown":
        what = f"unknown key '{key}'"
    elif error.problem == "missing":
        what = f"'{key}' is missing"
    elif error.path == ("colour",):
        what = f"between 1 and {MOST_COLOURS} colours are needed, each as [[colour]]"
    return PaletteError(what, where=where, todo=error.todo)


def _colour(entry: PaletteColourTable, places: list[int], where: str) -> PaletteColour:
    by_height = sorted(((float(one.mm), _row(one.mean, places, where)) for one in entry.heights), key=lambda one: one[0])
    shares = {code: float(share) for code, share in entry.codes.items()}
    mean, covariance = _row(entry.mean, places, where), _matrix(entry.covariance, places, where)
    return PaletteColour(
        str(entry.name), mean, covariance, int(entry.samples), shares, tuple(by_height), float(entry.lag1)
    )


def _row(values: Sequence[float], places: list[int], where: str) -> NDArray[np.float64]:
    """A mean, with NaN for the channels that the palette does not have."""
    if len(values) != len(places):
        raise PaletteError(f"mean must be {len(places)} numbers, one for each channel", where=where)
    full = np.full(4, np.nan)
    full[places] = values
    return full


def _matrix(rows: Sequence[Sequence[float]], places: list[int], where: str) -> NDArray[np.float64]:
    if len(rows) != len(places) or any(len(row) != len(places) for row in rows):
        raise PaletteError(f"covariance must have {len(places)} rows, one for each channel", where=where)
    small = np.array(rows, dtype=np.float64).reshape(len(places), len(places))
    if not np.allclose(small, small.T, rtol=1e-3, atol=1e-9) or (
        places and np.linalg.eigvalsh(small)[0] < -1e-6 * np.trace(small)
    ):
        raise PaletteError(
            "covariance is not one: it must be symmetric and never negative", where=where, todo="Calibrate again."
        )
    full = np.full((4, 4), np.nan)
    full[np.ix_(places, places)] = small
    return full


def read_palette(path: Path) -> Palette:
    """The palette in the file ``path``. Errors: PaletteError."""
    return palette_from(given_text(path, PaletteError, todo=MADE_BY), str(path))


def write_palette(palette: Palette, path: Path) -> None:
    """Write ``palette`` to ``path``. Raises OSError."""
    write_text(path, palette_text(palette))
