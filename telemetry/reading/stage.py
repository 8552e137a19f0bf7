"""How a stage of the portable core is described to people: its settings, what it needs, and how to say what it did."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from telemetry.reading.layout import Layout

TEXT_UNITS = frozenset({"note", "colour", "colours"})
"""Settings in these units are text in files ('gate open'; 'rust'; 'rust, pink') and become a whole number in the plan:
the note's number, the colour's index, the mask of the colours."""


@dataclass(frozen=True, slots=True)
class Setting:
    """One whole-number setting of a stage: ``low`` to ``high`` in ``unit``; text files, sliders and sweeps all use it.

    Where ``unit`` is one of TEXT_UNITS, files give a text and ``default``, ``low`` and ``high`` are 0.
    """

    name: str
    unit: str
    default: int
    low: int
    high: int
    what: str

    @property
    def is_text(self) -> bool:
        """Is it written as a text?"""
        return self.unit in TEXT_UNITS


@dataclass(frozen=True, slots=True)
class Stage:
    """A stage as the catalogue knows it.

    ``make(layout, settings)`` gives the whole-number arguments (ints and lists of ints) of the portable class ``cls``.
    ``needs``: any of the words in needs.NEEDS ('colour', 'raw', 'dist', 'places', 'stop', ...). ``steers``: it would stop
    the robot, so what a recording holds after that says nothing about it. ``closes``: it decides slots by itself, so
    nothing but others like it may come after it.
    ``lost(settings)`` says in one clause why this stage let a colour go, e.g. 'hold asks for 3 samples'.
    """

    name: str
    cls: type[Any]
    what: str
    make: Callable[[Layout, Mapping[str, int]], tuple[Any, ...]]
    lost: Callable[[Mapping[str, int]], str]
    settings: tuple[Setting, ...] = field(default=())
    needs: frozenset[str] = frozenset()
    steers: bool = False
    closes: bool = False

    def setting(self, name: str) -> Setting | None:
        """The setting of that name, or None."""
        return next((setting for setting in self.settings if setting.name == name), None)
