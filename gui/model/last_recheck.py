"""The answer of the last re-check of the palette in use, kept in the settings: it holds until another one is given."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from gui.words import tr
from telemetry.schema import checked

if TYPE_CHECKING:
    from telemetry.calibrate.recheck import Recheck


@dataclass(frozen=True, slots=True)
class LastRecheck:
    """``when``: ISO 8601, as the clock on the wall said. ``same``: the palette still holds. ``palette``: its file."""

    palette: str
    when: str
    same: bool
    verdict: str
    why: str
    todo: str

    @classmethod
    def of(cls, palette: str, answer: Recheck) -> LastRecheck:
        """Given just now."""
        when = datetime.now().astimezone().isoformat(timespec="minutes")
        return cls(palette, when, answer.same, answer.verdict, answer.why, answer.todo)

    @classmethod
    def from_text(cls, text: str, palette: str) -> LastRecheck | None:
        """None where it is of another palette, or no answer."""
        try:
            last = checked(json.loads(text), cls)
            datetime.fromisoformat(last.when)
        except (ValueError, TypeError, RecursionError):
            return None
        return last if last.palette == palette else None

    def to_text(self) -> str:
        return json.dumps(asdict(self))

    @property
    def at(self) -> str:
        """'14:05', with the day before it where that is not today."""
        when = datetime.fromisoformat(self.when)
        time = when.strftime("%H:%M")
        return time if when.date() == datetime.now().astimezone().date() else f"{when.day} {when.strftime('%B')}, {time}"

    @property
    def words(self) -> str:
        """Why, what to do, and when it was asked."""
        why = f"{self.why[:1].upper()}{self.why[1:]}"
        return tr("{why}. {todo} Checked at {time}.", why=why, todo=self.todo, time=self.at)
