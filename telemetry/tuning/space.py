"""Which settings of a strategy are tried, and in which values."""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from telemetry.errors import UsageError
from telemetry.reading.catalogue import AUTO, STAGES
from telemetry.reading.stage import Setting
from telemetry.reading.strategy import Strategy, did_you_mean

MOST_VALUES = 24
"""So many values of one setting are tried where the user names none."""
REACH = {"ms": 120, "mm": 60, "%": 100}
"""So far at the least, in a unit, even where today's value is small."""
SWITCH = "0/1"
FIXED = frozenset({"number"})
"""Settings in this unit say what the robot's task is (which leg, how many); they are tried only where the user asks."""
FACTS = frozenset({"stop-at"})
"""What these stages are told is how the robot is built, nothing to choose."""
Point = Mapping[str, int]
"""Setting ('hold.samples') -> value."""


@dataclass(frozen=True, slots=True)
class Axis:
    """One setting (``name``: 'hold.samples') and the values to try, rising; ``now``: today's, always among them.

    ``lowest`` and ``highest``: what the setting allows at all.
    """

    name: str
    unit: str
    values: tuple[int, ...]
    now: int
    lowest: int
    highest: int

    @property
    def is_switch(self) -> bool:
        """A setting without an order of values: on or off."""
        return self.unit == SWITCH

    def thinned(self, most: int) -> Axis:
        """With at most so many values, evenly chosen, today's among them."""
        if len(self.values) <= most:
            return self
        step = (len(self.values) - 1) / max(1, most - 1)
        kept = {self.values[round(k * step)] for k in range(most)}
        kept.discard(min(kept, key=lambda value: abs(value - self.now)))
        return Axis(self.name, self.unit, tuple(sorted(kept | {self.now})), self.now, self.lowest, self.highest)


def settings_of(strategy: Strategy) -> dict[str, tuple[Setting, int]]:
    """Every whole-number setting of the strategy: 'hold.samples' -> (what it is, today's value)."""
    found: dict[str, tuple[Setting, int]] = {}
    for use in strategy.uses:
        for setting in STAGES["nearest" if use.stage == AUTO else use.stage].settings:
            if not setting.is_text:
                now = int(use.settings.get(setting.name, setting.default))
                found.setdefault(f"{use.stage}.{setting.name}", (setting, now))
    return found


def usual_axes(strategy: Strategy) -> list[Axis]:
    """An axis for each setting that is worth trying. Raises UsageError where the strategy has none."""
    axes = [
        _axis(name, setting, now) for name, (setting, now) in settings_of(strategy).items()
        if setting.unit not in FIXED and name.partition(".")[0] not in FACTS
    ]  # fmt: skip
    if not axes:
        raise UsageError(
            f"strategy '{strategy.name}' has no settings to tune", todo="Choose another one with --strategy."
        )
    return axes


def _axis(name: str, setting: Setting, now: int) -> Axis:
    if setting.unit == SWITCH:
        return Axis(name, setting.unit, (0, 1), now, 0, 1)
    top = min(setting.high, max(4 * now, 4 * setting.default, setting.low + REACH.get(setting.unit, 12)))
    step = max(1, math.ceil((top - setting.low) / (MOST_VALUES - 1)))
    values = {*range(setting.low, top + 1, step), now}
    return Axis(name, setting.unit, tuple(sorted(values)), now, setting.low, setting.high)


def asked_axes(strategy: Strategy, words: Sequence[str]) -> list[Axis]:
    """Axes as the user wrote them: ``hold.samples=1..9``, ``windows.margin_mm=0..60:5``. Raises UsageError."""
    known = settings_of(strategy)
    axes = []
    for word in words:
        name, equals, span = (part.strip() for part in word.partition("="))
        if name not in known:
            where = f"strategy '{strategy.name}'"
            raise UsageError(f"there is no setting '{name}' in numbers", where=where, todo=did_you_mean(name, list(known)))
        setting, now = known[name]
        if not equals:
            axes.append(_axis(name, setting, now))
            continue
        match = re.fullmatch(r"(-?\d{1,18})\.\.(-?\d{1,18})(?::(\d{1,18}))?", span)
        if match is None:
            raise UsageError(f"'{word}' names no values", todo=f"Write for example {name}=1..9, or {name}=0..60:5.")
        low, high, step = int(match[1]), int(match[2]), int(match[3] or 1)
        if low > high or step < 1 or low < setting.low or high > setting.high:
            raise UsageError(
                f"'{span}' is not within {setting.low} to {setting.high} {setting.unit}", where=name,
                todo="Write LOW..HIGH or LOW..HIGH:STEP.",
            )  # fmt: skip
        if (high - low) // step > 100_000:
            raise UsageError(f"'{span}' are {(high - low) // step + 1} values", where=name, todo="Take larger steps.")
        values = tuple(sorted({*range(low, high + 1, step), now}))
        axes.append(Axis(name, setting.unit, values, now, setting.low, setting.high))
    doubled = [axis.name for axis in axes if [other.name for other in axes].count(axis.name) > 1]
    if doubled:
        raise UsageError(f"'{doubled[0]}' is named twice", todo="Name each setting once.")
    return axes


def size(axes: Sequence[Axis]) -> int:
    """How many settings the grid has."""
    return math.prod(len(axis.values) for axis in axes)


def grid(axes: Sequence[Axis]) -> Iterator[Point]:
    """Every point of the grid, the last axis fastest."""
    for values in itertools.product(*(axis.values for axis in axes)):
        yield dict(zip((axis.name for axis in axes), values, strict=True))


def at(strategy: Strategy, place: Point) -> Strategy:
    """The strategy with these settings. Raises StrategyError where one is out of range."""
    return strategy.override(*(f"{name}={value}" for name, value in place.items()))
