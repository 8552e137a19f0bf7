"""What a recipe is made of.

Lines of structured English, two blanks an indentation; NAMES in capitals are variables, texts stand in quotes:

    set X to E            change X by E              if C ... otherwise ...        repeat while C ...
    repeat with K from E to E ...        leave the repeat                          show slot E: E
    add E to list L       delete the first E from list L     delete item E of list L     empty list L
    replace item E of list L with E      do BLOCK

E: a number, text or variable, ``item E of list L``, ``length of list L``, ``how often E is in list L``,
``the distance between E and E``, ``E + E``, ``E - E``, ``E x E``. C: ``E is E``, ``is not``, ``is above``, ``is below``,
``is at least``, ``is at most``, ``is in list L``, ``is not in list L``; several with ``and`` or with ``or``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

Value = int | float | str


@dataclass(frozen=True, slots=True)
class RecipeStep:
    """One numbered step. ``why``: what it guards against. ``each``: lines for every sample; ``end``: at the run's end."""

    title: str
    why: str
    each: tuple[str, ...] = ()
    end: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Recipe:
    """``variables`` and ``lists``: name -> what they hold at the begin. ``inputs``: what the robot's program fills in.

    ``blocks``: lines that several steps need, name -> lines.
    """

    strategy: str
    steps: tuple[RecipeStep, ...]
    variables: Mapping[str, Value] = field(default_factory=dict)
    lists: Mapping[str, tuple[Value, ...]] = field(default_factory=dict)
    inputs: Mapping[str, str] = field(default_factory=dict)
    blocks: Mapping[str, tuple[str, ...]] = field(default_factory=dict)

    @property
    def each(self) -> list[str]:
        """The lines for one sample."""
        return [line for step in self.steps for line in step.each]

    @property
    def end(self) -> list[str]:
        """The lines for the end of the run."""
        return [line for step in self.steps for line in step.end]
