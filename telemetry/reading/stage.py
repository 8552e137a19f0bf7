"""How a stage of the portable core is described to people: its settings, what it needs, and how to say what it did."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from telemetry.reading.plan import Layout


@dataclass(frozen=True, slots=True)
class Setting:
    """One whole-number setting of a stage: ``low`` to ``high`` in ``unit``; text files, sliders and sweeps all use it."""

    name: str
    unit: str
    default: int
    low: int
    high: int
    what: str


@dataclass(frozen=True, slots=True)
class Stage:
    """A stage as the catalogue knows it.

    ``make(layout, settings)`` gives the whole-number arguments (ints and lists of ints) of the portable class ``cls``.
    ``needs``: any of 'colour', 'raw', 'dist', 'heading', 'note', 'stop', 'places'. ``steers``: it would stop the robot, so
    what a recording holds after that says nothing about it.
    ``lost(settings, seen)`` says in one clause why this stage let a colour go, e.g. 'hold asks for 3 samples'.
    """

    name: str
    cls: type[Any]
    what: str
    settings: tuple[Setting, ...]
    make: Callable[[Layout, Mapping[str, int]], tuple[Any, ...]]
    lost: Callable[[Mapping[str, int]], str]
    needs: frozenset[str] = frozenset()
    steers: bool = False
