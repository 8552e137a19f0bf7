"""A palette as a text file (TOML): written by a calibration, read by everything else, and by people.

A file is data: every value is checked, and what is wrong is said with its key. Newer versions than ours are refused.
"""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from telemetry.errors import PaletteError
from telemetry.given_file import given_text
from telemetry.palette import CHANNELS, Palette, PaletteColour
from telemetry.text_in_place import write_text

VERSION = 1
MADE_BY = "A palette is made by 'sidelong calibrate'."
LARGEST = 1e12
"""Of any number in a palette: far beyond every sensor, and its square still is a number."""
MOST_COLOURS = 30
"""None and the 29 others that a reading logic can number."""


def _text(value: str) -> str:
    escaped = "".join(c if c.isprintable() and c not in '"\\' else f"\\U{ord(c):08X}" for c in value)
    return f'"{escaped}"'


def _number(value: float) -> str:
    text = f"{value:.6g}"
    return text if any(c in text for c in ".en") else f"{text}.0"


def _numbers(values: NDArray[np.float64]) -> str:
    return "[" + ", ".join(_number(float(value)) for value in values) + "]"


def palette_text(palette: Palette) -> str:
    """The palette as TOML, colours in their order; a channel that a colour has no value for is left out for all."""
    channels = [i for i, name in enumerate(CHANNELS) if name in palette.channels]
    lines = [
        "# What each colour looks like to this sensor in this light. Made by 'sidelong calibrate'; may be edited by hand.",
        "# Means and covariances are in the order of 'channels', in the units the robot sent (refl in %).",
        f"version = {VERSION}",
        f"name = {_text(palette.name)}",
        f"made = {_text(palette.made)}",
        f"measured = {'true' if palette.measured else 'false'}",
        f"rate_hz = {_number(palette.rate_hz)}",
        "channels = [" + ", ".join(_text(CHANNELS[i]) for i in channels) + "]",
    ]
    if palette.remarks:
        lines.append("remarks = [" + ", ".join(map(_text, palette.remarks)) + "]")
    if palette.ranges:
        lines += ["", "[range]  # black level and full scale"]
        lines += [f"{_text(name)} = [{_number(low)}, {_number(high)}]" for name, (low, high) in palette.ranges.items()]
    for colour in palette.colours:
        lines += ["", "[[colour]]", f"name = {_text(colour.name)}", f"samples = {colour.samples}"]
        if channels:
            rows = ",\n  ".join(_numbers(colour.covariance[i, channels]) for i in channels)
            lines += [f"mean = {_numbers(colour.mean[channels])}", f"covariance = [\n  {rows},\n]"]
        lines.append(f"lag1 = {_number(colour.lag1)}")
        if colour.codes:
            lines.append(
                "codes = {" + ", ".join(f"{_text(code)} = {_number(share)}" for code, share in colour.codes.items()) + "}"
            )
        if colour.by_height and channels:
            lines.append("heights = [")
            lines += [f"  {{mm = {_number(mm)}, mean = {_numbers(mean[channels])}}}," for mm, mean in colour.by_height]
            lines.append("]")
    return "\n".join(lines) + "\n"


def _real(value: object, where: str, what: str) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not -LARGEST <= value <= LARGEST:
        raise PaletteError(f"{what} must be a number", where=where, todo="Correct it, or calibrate again.")
    return float(value)


def _row(value: object, count: int, where: str, what: str) -> NDArray[np.float64]:
    if not isinstance(value, list) or len(value) != count:
        raise PaletteError(f"{what} must be {count} numbers, one for each channel", where=where)
    return np.array([_real(item, where, what) for item in value])


def _named(value: object, where: str, what: str) -> str:
    if not isinstance(value, str) or not value.strip() or len(value) > 80:
        raise PaletteError(f"{what} must be a short text", where=where)
    return value


def _matrix(value: object, places: list[int], where: str) -> NDArray[np.float64]:
    if not isinstance(value, list) or len(value) != len(places):
        raise PaletteError(f"covariance must have {len(places)} rows, one for each channel", where=where)
    small = np.array([_row(row, len(places), where, "covariance") for row in value]).reshape(len(places), len(places))
    if not np.allclose(small, small.T, rtol=1e-3, atol=1e-9) or (
        places and np.linalg.eigvalsh(small)[0] < -1e-6 * np.trace(small)
    ):
        raise PaletteError(
            "covariance is not one: it must be symmetric and never negative", where=where, todo="Calibrate again."
        )
    full = np.full((4, 4), np.nan)
    full[np.ix_(places, places)] = small
    return full


def _spread_out(values: NDArray[np.float64], places: list[int]) -> NDArray[np.float64]:
    full = np.full(4, np.nan)
    full[places] = values
    return full


def _colour(entry: object, places: list[int], where: str) -> PaletteColour:
    if not isinstance(entry, dict):
        raise PaletteError("a colour must be a table [[colour]]", where=where)
    name = _named(entry.get("name"), where, "name")
    where = f"{where}, colour '{name}'"
    unknown = sorted(set(entry) - {"name", "samples", "mean", "covariance", "lag1", "codes", "heights"})
    if unknown:
        raise PaletteError(f"unknown key '{unknown[0]}'", where=where)
    mean = _spread_out(_row(entry.get("mean", []), len(places), where, "mean"), places)
    covariance = _matrix(entry.get("covariance", []), places, where)
    codes = entry.get("codes", {})
    heights = entry.get("heights", [])
    if not isinstance(codes, dict) or not isinstance(heights, list) or not all(isinstance(item, dict) for item in heights):
        raise PaletteError("codes must be a table and heights a list of tables", where=where)
    by_height = sorted(
        ((_real(item.get("mm"), where, "mm"), _row(item.get("mean"), len(places), where, "mean")) for item in heights),
        key=lambda item: item[0],
    )
    shares = {str(code): _real(share, where, f"codes.{code}") for code, share in codes.items()}
    if any(not 0.0 <= share <= 1.0 for share in shares.values()):
        raise PaletteError("a share of codes must lie between 0 and 1", where=where)
    samples = int(_real(entry.get("samples", 0), where, "samples"))
    lag1 = _real(entry.get("lag1", 0.0), where, "lag1")
    return PaletteColour(
        name, mean, covariance, samples, shares, tuple((mm, _spread_out(m, places)) for mm, m in by_height), lag1
    )


def palette_from(text: str, where: str) -> Palette:
    """Read a palette's TOML. Errors: PaletteError with the key; ``where`` names the file."""
    try:
        table: dict[str, Any] = tomllib.loads(text)
    except (ValueError, RecursionError) as error:  # ValueError: a number of thousands of digits
        raise PaletteError(f"no valid TOML ({error})", where=where, todo=MADE_BY) from error
    version = table.get("version")
    if not isinstance(version, int) or version < 1:
        raise PaletteError("no palette: 'version' is missing", where=where, todo=MADE_BY)
    if version > VERSION:
        raise PaletteError(
            f"made by a newer Sidelong (palette version {version}, this one reads {VERSION})", where=where, todo="Update."
        )
    channels = table.get("channels", [])
    if (
        not isinstance(channels, list)
        or any(name not in CHANNELS for name in channels)
        or len(set(channels)) != len(channels)
    ):
        raise PaletteError(f"channels must be some of {', '.join(CHANNELS)}", where=where)
    places = [CHANNELS.index(name) for name in channels]
    entries = table.get("colour", [])
    if not isinstance(entries, list) or not 1 <= len(entries) <= MOST_COLOURS:
        raise PaletteError(f"between 1 and {MOST_COLOURS} colours are needed, each as [[colour]]", where=where)
    colours = tuple(_colour(entry, places, where) for entry in entries)
    names = [colour.name for colour in colours]
    twice = next((name for name in names if names.count(name) > 1), None)
    if twice is not None:
        raise PaletteError(f"the colour '{twice}' is there twice", where=where)
    ranges = table.get("range", {})
    if not isinstance(ranges, dict):
        raise PaletteError("range must be a table", where=where)
    limits = {str(name): _row(pair, 2, f"{where}, range", str(name)) for name, pair in ranges.items()}
    if any(high <= low for low, high in limits.values()):
        raise PaletteError("a full scale must lie above its black level", where=f"{where}, range")
    remarks = table.get("remarks", [])
    return Palette(
        name=_named(table.get("name", Path(where).stem or "palette"), where, "name"),
        colours=colours,
        measured=table.get("measured") is not False,
        ranges={name: (float(low), float(high)) for name, (low, high) in limits.items()},
        rate_hz=_real(table.get("rate_hz", 0.0), where, "rate_hz"),
        made=str(table.get("made", "")),
        remarks=tuple(map(str, remarks)) if isinstance(remarks, list) else (),
    )


def read_palette(path: Path) -> Palette:
    """The palette in the file ``path``. Errors: PaletteError."""
    return palette_from(given_text(path, PaletteError, todo=MADE_BY), str(path))


def write_palette(palette: Palette, path: Path) -> None:
    """Write ``palette`` to ``path``. Raises OSError."""
    write_text(path, palette_text(palette))
