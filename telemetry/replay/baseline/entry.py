"""One strategy on one run, as it is agreed on: the readings as data, and the words that the file keeps of each."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from telemetry.replay.readings import MISSING_READING, READ, Reading
from telemetry.replay.scoring.results import Result

NOTHING: Final = "-"
_SURE: Final = re.compile(r"(\d+(?:\.\d+)?) %$")


@dataclass(frozen=True, slots=True)
class AgreedReading:
    """What was read at a slot: ``colour`` is empty where nothing was; ``confidence`` 0 to 1, None where it is not said."""

    colour: str = ""
    how: str = READ
    confidence: float | None = None

    @classmethod
    def of(cls, reading: Reading) -> AgreedReading:
        """A reading as far as the file keeps it: confidences to a tenth of a percent."""
        if not reading.colour:
            return cls(how=MISSING_READING)
        return cls(reading.colour, reading.how, None if reading.confidence is None else round(reading.confidence, 3))

    @classmethod
    def parse(cls, words: str) -> AgreedReading:
        """What ``words`` (as the file has them) say."""
        colour, _, about = words.partition(" (")
        if colour == NOTHING:
            return cls(how=MISSING_READING)
        parts = about.removesuffix(")").split(", ") if about else []
        sure = _SURE.match(parts.pop()) if parts and _SURE.match(parts[-1]) else None
        return cls(colour, ", ".join(parts) or READ, round(float(sure[1]) / 100.0, 3) if sure else None)

    @property
    def words(self) -> str:
        """'leaf', 'sky (inferred)', 'rust (97.1 %)', '-' where nothing was read."""
        about = [] if self.how in {READ, MISSING_READING} else [self.how]
        about += [] if self.confidence is None else [f"{100 * self.confidence:.1f} %"]
        more = f" ({', '.join(about)})" if about else ""
        return f"{self.colour}{more}" if self.colour else NOTHING


@dataclass(frozen=True, slots=True)
class BaselineEntry:
    """``slots``: slot -> what was read there. ``beyond``: the colours that were taken beyond the slots.

    ``says`` is not empty where the run cannot tell (not applicable, diverges); then there are no slots.
    """

    slots: Mapping[str, AgreedReading]
    beyond: tuple[str, ...] = ()
    says: str = ""

    @classmethod
    def of(cls, result: Result) -> BaselineEntry:
        """A result as the file keeps it."""
        if result.outcome is not None and not result.counts:
            return cls({}, (), result.outcome.value)
        pairs = zip(result.run.slots, result.taken.slots, strict=True)
        slots = {name: AgreedReading.of(reading) for name, reading in pairs}
        return cls(slots, tuple(one.colour or NOTHING for one in result.taken.surplus))

    @property
    def colours(self) -> dict[str, str]:
        """Slot -> colour, empty where nothing was read."""
        return {slot: reading.colour for slot, reading in self.slots.items()}

    @property
    def words(self) -> str:
        """All of it in one line."""
        return self.says or ", ".join(f"{slot} {one.words}" for slot, one in self.slots.items()) or "readings"

    def reads_like(self, other: BaselineEntry) -> bool:
        """The same colours everywhere; how they came about and how sure they are does not matter."""
        return (self.says, self.beyond, self.colours) == (other.says, other.beyond, other.colours)
