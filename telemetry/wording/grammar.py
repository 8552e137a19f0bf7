"""Numbers and lists as a sentence has them: one, none and many."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

Numbers = Mapping[str, Any]


def counted(count: float, one: str, many: str = "") -> str:
    """'1 sample', '2 samples', 'no sample'."""
    if count == 0:
        return f"no {one}"
    return f"{figures(count, 6)} {one if count == 1 else many or one + 's'}"


def figures(value: float, digits: int = 3) -> str:
    """So many digits that matter, and never a power of ten: '0.25', '12.5', '12346'."""
    return f"{value:.0f}" if abs(value) >= 10**digits - 0.5 else f"{value:.{digits}g}"


def only(count: float, one: str, where: str) -> str:
    """'only 2 samples over tag 2'; 'no sample over tag 2'."""
    return f"{'only ' if count else ''}{counted(count, one)} {where}"


def plus_minus(value: float, digits: int = 1) -> str:
    """'+1.2', '-0.3'; what rounds to nothing has no sign: '0.0'."""
    text = f"{value:+.{digits}f}"
    return text[1:] if float(text) == 0 else text


def listed(names: Sequence[str]) -> str:
    """'a', 'a and b', 'a, b and c'."""
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def at(numbers: Numbers) -> str:
    """' at 20.5 cm', or nothing where the place is not known."""
    return "" if numbers.get("at_cm") is None else f" at {numbers['at_cm']:.1f} cm"
