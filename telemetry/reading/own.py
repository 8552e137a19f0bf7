"""A team's own reading logic, kept in a Python file of its own.

The file holds one class with ``step(self, label, m)``::

    class Ours:
        '''Takes a colour when it was seen twice.'''          # shown to people

        notes = ("gate open",)                                # optional: the notes it wants as numbers in m.note

        def __init__(self, names, notes):                     # both optional; names: label -> colour, notes: text -> number
            self.last = self.seen = 0

        def step(self, label, m):                             # label: -1 nothing, 0 none, else a colour; m: see moment.py
            self.seen = self.seen + 1 if label == self.last else 1
            self.last = label
            return label if self.seen == 2 else -1            # > 0: taken, for the next slot in order or for m.slot
"""

from __future__ import annotations

import inspect
import runpy
import traceback
from collections.abc import Callable, Mapping
from hashlib import blake2b
from pathlib import Path
from typing import Any, Final

from telemetry.errors import StrategyError
from telemetry.given_file import given_bytes
from telemetry.reading.portable.moment import Moment
from telemetry.reading.strategy import Strategy, Use

MOST_AT_END: Final = 1000
"""So many readings may be held back to the end of a run; a logic that gives more would go on for ever."""


def own_strategy(path: Path) -> Strategy:
    """The strategy in a team's Python file. Its name is the file's. Raises StrategyError where there is none."""
    where = str(path)
    try:
        digest = blake2b(given_bytes(path, StrategyError, absent="Check the name."), digest_size=16).hexdigest()
        found = runpy.run_path(where, run_name=path.stem)
    except StrategyError:
        raise
    except (Exception, SystemExit) as error:
        raise _stumbled(error, where) from error
    classes = [
        value for name, value in found.items()
        if isinstance(value, type) and not name.startswith("_") and callable(getattr(value, "step", None))
    ]
    if len(classes) != 1:
        many = "several classes have" if classes else "no class has"
        raise StrategyError(f"{many} a step(self, label, m)", where=where, todo="Keep exactly one such class in the file.")
    own = classes[0]
    what = (inspect.getdoc(own) or "A logic of the team's own.").strip().splitlines()[0]
    return Strategy(path.stem, path.stem, what, (Use("auto"),), own, where, digest)


class OwnStage:
    """Wraps a team's class so that it is a stage: a reset makes it anew, and what goes wrong in it is one sentence."""

    def __init__(self, strategy: Strategy, names: tuple[str, ...], notes: Mapping[str, int], slots: int) -> None:
        self._slots = slots
        self._at_end = 0
        self._strategy = strategy
        self._names = names
        self._notes = notes
        self._own: Any = None

    def __deepcopy__(self, memo: object) -> OwnStage:
        return OwnStage(self._strategy, self._names, self._notes, self._slots)

    def reset(self) -> None:
        """Make the team's object anew."""
        own = self._strategy.own
        assert own is not None
        try:
            asked = inspect.signature(own).parameters
            gifts = {"names": list(self._names), "notes": dict(self._notes)}
            self._own = own(**{key: value for key, value in gifts.items() if key in asked})
        except (Exception, SystemExit) as error:
            raise _stumbled(error, self._strategy.own_file) from error
        self._at_end = 0

    def step(self, label: int, m: Any) -> int:
        """One step of the team's logic, its answer checked."""
        try:
            taken = self._own.step(label, m)
        except (Exception, SystemExit) as error:
            raise _stumbled(error, self._strategy.own_file) from error
        if not isinstance(taken, int) or not -1 <= taken < len(self._names):
            numbered = ", ".join(f"{number} {name}" for number, name in enumerate(self._names))
            raise StrategyError(
                f"step returned {taken!r}", where=self._strategy.own_file,
                todo=f"It must return -1 (nothing) or a colour's number, here {numbered}.",
            )
        self._check_moment(m)
        if m.end and taken > 0:
            self._at_end += 1
            if self._at_end > MOST_AT_END:
                raise StrategyError(
                    f"step still returns a colour after {MOST_AT_END} calls at the end of the run, where no sample comes",
                    where=self._strategy.own_file, todo="Where m.end is above 0, return -1 when you hold nothing back.",
                )
        return int(taken)

    def _check_moment(self, m: Any) -> None:
        """What the logic may write into the moment is used by the stages behind it."""
        for key, low, high in (("slot", -1, self._slots - 1), ("how", 0, 4), ("sure", 0, 10000)):
            value = getattr(m, key)
            if not isinstance(value, int) or not low <= value <= high:
                raise StrategyError(
                    f"step set m.{key} to {value!r}", where=self._strategy.own_file,
                    todo=f"It must be a whole number from {low} to {high}.",
                )


def make_own(strategy: Strategy, names: tuple[str, ...], notes: Mapping[str, int], slots: int) -> Callable[[], OwnStage]:
    """What makes the stage of a team's own logic; ``slots``: how many the course has."""
    return lambda: OwnStage(strategy, names, notes, slots)


def _stumbled(error: BaseException, where: str) -> StrategyError:
    lines = [frame.lineno for frame in traceback.extract_tb(error.__traceback__) if frame.filename == where]
    spot = f"{where}, line {lines[-1]}" if lines else where
    todo = "This is in the team's own file."
    if isinstance(error, AttributeError) and isinstance(error.obj, Moment):
        todo = f"m has {', '.join(vars(error.obj))}; the guide's page on strategies says in which units."
    return StrategyError(f"{type(error).__name__}: {error}", where=spot, todo=todo)
