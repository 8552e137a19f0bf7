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
from pathlib import Path
from typing import Any

from telemetry.errors import StrategyError
from telemetry.reading.strategy import Strategy, Use


def own_strategy(path: Path) -> Strategy:
    """The strategy in a team's Python file. Its name is the file's. Raises StrategyError where there is none."""
    where = str(path)
    try:
        found = runpy.run_path(where, run_name=path.stem)
    except OSError as error:
        raise StrategyError(f"it cannot be read ({error.strerror})", where=where, todo="Check the name.") from error
    except Exception as error:
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
    return Strategy(path.stem, path.stem, what, (Use("auto"),), own, where)


class OwnStage:
    """Wraps a team's class so that it is a stage: a reset makes it anew, and what goes wrong in it is one sentence."""

    def __init__(self, strategy: Strategy, names: tuple[str, ...], notes: Mapping[str, int]) -> None:
        self._strategy = strategy
        self._names = names
        self._notes = notes
        self._own: Any = None

    def __deepcopy__(self, memo: object) -> OwnStage:
        return OwnStage(self._strategy, self._names, self._notes)

    def reset(self) -> None:
        """Make the team's object anew."""
        own = self._strategy.own
        assert own is not None
        try:
            asked = inspect.signature(own).parameters
            gifts = {"names": list(self._names), "notes": dict(self._notes)}
            self._own = own(**{key: value for key, value in gifts.items() if key in asked})
        except Exception as error:
            raise _stumbled(error, self._strategy.own_file) from error

    def step(self, label: int, m: Any) -> int:
        """One step of the team's logic, its answer checked."""
        try:
            taken = self._own.step(label, m)
        except Exception as error:
            raise _stumbled(error, self._strategy.own_file) from error
        if not isinstance(taken, int) or not -1 <= taken < len(self._names):
            raise StrategyError(
                f"step returned {taken!r}", where=self._strategy.own_file,
                todo=f"It must return -1 (nothing), 0 (none) or a colour's number, 1 to {len(self._names) - 1}.",
            )
        return int(taken)


def make_own(strategy: Strategy, names: tuple[str, ...], notes: Mapping[str, int]) -> Callable[[], OwnStage]:
    """What makes the stage of a team's own logic."""
    return lambda: OwnStage(strategy, names, notes)


def _stumbled(error: Exception, where: str) -> StrategyError:
    lines = [frame.lineno for frame in traceback.extract_tb(error.__traceback__) if frame.filename == where]
    spot = f"{where}, line {lines[-1]}" if lines else where
    return StrategyError(f"{type(error).__name__}: {error}", where=spot, todo="This is in the team's own file.")
