"""What the sensor's own codes mean: which colour each is the code of, and which colours have none."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from telemetry.course import NONE
from telemetry.palette import Palette


def meanings(palette: Palette, colours: Collection[str]) -> Mapping[str, str]:
    """Code -> the one colour that it is the usual code of, by the calibration; without one, what it is called."""
    told = [colour for colour in palette.colours if colour.codes] if palette.measured else []
    if not told:
        return {name: name for name in colours}
    usual: dict[str, list[str]] = {}
    for colour in told:
        usual.setdefault(max(colour.codes, key=lambda code: colour.codes[code]), []).append(colour.name)
    return {code: names[0] if len(names) == 1 else "" for code, names in usual.items()} | {
        code: NONE for code, names in usual.items() if NONE in names
    }


def without_code(colour: str, palette: Palette) -> str | None:
    """What the calibration shows instead of a code of its own for ``colour``: the code's name; None where it has one."""
    known = palette.get(colour)
    if not palette.measured or known is None or not known.codes:
        return None
    code = max(known.codes, key=lambda name: known.codes[name])
    for other in palette.colours:
        if other.name != colour and other.codes and max(other.codes, key=lambda name: other.codes[name]) == code:
            return code
    return None
