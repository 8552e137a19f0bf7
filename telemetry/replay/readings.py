"""What a reading is: one decision of a strategy, and the state of all slots that it leads to."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import msgspec

from telemetry.course import EMPTY, NONE, Course
from telemetry.sample import Note

READ: Final = "read"
INFERRED: Final = "inferred"
ASSUMED: Final = "assumed"
MISSING_READING: Final = "missing"
HOW: Final = (READ, INFERRED, ASSUMED)
"""The ledger's numbers in words: read by the sensor, following from the others, assumed because the run had to go on."""


class Reading(msgspec.Struct, frozen=True, gc=False):
    """One slot's colour, or a colour beyond the slots (``slot`` None).

    ``colour`` is None where nothing was read, and where it was decided that nothing stands there: then ``how`` is not
    missing. ``t_ms`` is the robot's clock, ``dist_cm`` the sensor's place along ``leg``, ``row`` the sample at which it was
    decided, ``stop_cm`` where along the leg a robot that stops at colours would stand;
    None where there is no such thing.
    """

    slot: int | None
    colour: str | None
    how: str
    confidence: float | None = None
    t_ms: int | None = None
    dist_cm: float | None = None
    row: int | None = None
    leg: int | None = None
    sensor: int = 0
    stop_cm: float | None = None


class Taken(msgspec.Struct, frozen=True):
    """What a strategy made of a run: ``slots`` one reading a slot in course order, ``surplus`` what it took beyond them."""

    slots: tuple[Reading, ...]
    surplus: tuple[Reading, ...] = ()

    def __reduce__(self) -> tuple[object, ...]:
        """On its way to another process: packed as a whole, far sooner than one reading after the other."""
        try:
            return _unpacked, (msgspec.msgpack.encode((self.slots, self.surplus)),)
        except UnicodeEncodeError:  # a colour that is no text
            return Taken, (self.slots, self.surplus)

    @property
    def decided(self) -> bool:
        """Whether every slot has a colour."""
        return all(reading.colour is not None for reading in self.slots)


_packed = msgspec.msgpack.Decoder(tuple[tuple[Reading, ...], tuple[Reading, ...]])


def _unpacked(data: bytes) -> Taken:
    return Taken(*_packed.decode(data))


def taken_from(course: Course, readings: Sequence[Reading]) -> Taken:
    """Sort decisions by slot. A slot decided twice keeps its last decision: no strategy does that, a robot's notes may."""
    last = {reading.slot: reading for reading in readings}
    slots = [last.get(i) or Reading(i, None, MISSING_READING, sensor=slot.sensor) for i, slot in enumerate(course.slots)]
    return Taken(tuple(slots), tuple(reading for reading in readings if reading.slot is None))


def unknown_slots(course: Course, notes: Sequence[Note]) -> tuple[str, ...]:
    """The names in notes ``read,slot,colour`` that no slot of the course has, each once, as they came."""
    said = [[part.strip() for part in note.text.split(",")] for note in notes]
    names = dict.fromkeys(parts[1] for parts in said if len(parts) == 3 and parts[0] == READ)
    return tuple(name for name in names if name not in {slot.name for slot in course.slots})


def robots_own(course: Course, notes: Sequence[Note]) -> Taken | None:
    """What the robot's own program said it read (notes ``read,slot,colour``); None where it said nothing."""
    names = [slot.name for slot in course.slots]
    readings = []
    for note in notes:
        parts = [part.strip() for part in note.text.split(",")]
        if len(parts) != 3 or parts[0] != READ:
            continue
        known = parts[1] in names
        slot = names.index(parts[1]) if known else None
        colour = None if parts[2] in {"", NONE, MISSING_READING, EMPTY} else parts[2]
        if not known and colour is None:
            continue
        how = READ if colour or parts[2] == EMPTY else MISSING_READING
        sensor = course.slots[slot].sensor if slot is not None else 0
        readings.append(Reading(slot, colour, how, t_ms=note.t_us // 1000, row=note.row, sensor=sensor))
    return taken_from(course, readings) if readings else None
