"""Where each sensor is at every sample: the legs followed once for all strategies of a run."""

from __future__ import annotations

from array import array
from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from telemetry.reading.chain import Chain
from telemetry.reading.plan import Plan
from telemetry.reading.portable.track import Track
from telemetry.sample import MISSING, QuantizedColumns

_LEG, _PLACE = 1 << 32, 1 << 31


class Where:
    """The last stage of a walk: says leg and place at every sample, in one number above 0."""

    def reset(self) -> None:
        """It keeps nothing."""

    def step(self, label, m):  # type: ignore[no-untyped-def]  # noqa: ARG002 - as in reading/portable
        """``(leg + 2) * 2**32 + place + 2**31``."""
        return (m.leg + 2) * 4294967296 + m.pos + 2147483648


class Walk:
    """Leg and position of every sensor, row by row: ``legs[sensor][row]`` and ``places[sensor][row]`` (0.1 mm or MISSING).

    It is stepped like a chain; every strategy on one course has the same, so one may be shared. ``rows``: how many it knows.
    """

    def __init__(self, plan: Plan) -> None:
        self.rows = 0
        self._first = 0
        """The row that the lists begin with."""
        self._legs = [array("h") for _ in plan.layouts]
        self._places = [array("i") for _ in plan.layouts]
        self.legs: Sequence[Sequence[int]] = self._legs
        self.places: Sequence[Sequence[int]] = self._places
        self._switch = plan.switch
        self._chains: list[Chain] = []
        for layout in plan.layouts:
            ahead = round(layout.course.sensors[layout.sensor].ahead_cm * 100)
            # A board of its own with no slot: the walk asks only where the sensor is.
            track = Track(*layout.legs(), ahead, [-1], [0])  # type: ignore[no-untyped-call]
            self._chains.append(Chain(0, [track, Where()], ["track", "where"]))

    def reset(self) -> None:
        """A restart of the robot: the legs begin again, the rows go on."""
        for chain in self._chains:
            chain.reset()

    def advance(
        self, wholes: Sequence[QuantizedColumns], notes: Mapping[int, int], start: int, stop: int, ahead: int = 0
    ) -> None:
        """Step the rows ``start`` to ``stop`` of ``wholes``; ``notes``: row -> number, in the same rows.

        ``ahead``: as in Plan.run.
        """
        for sensor, whole in enumerate(wholes):
            where = self._said(self._chains[sensor], whole, notes, (start, stop), ahead)
            self._legs[sensor].frombytes((where // _LEG - 2).astype(np.int16).tobytes())
            self._places[sensor].frombytes((where % _LEG - _PLACE).astype(np.int32).tobytes())
        self.rows += stop - start

    def _said(
        self, chain: Chain, whole: QuantizedColumns, notes: Mapping[int, int], rows: tuple[int, int], ahead: int
    ) -> NDArray[np.int64]:
        loop = self._switch.loop([chain], rows[1] - rows[0], ahead)
        if loop is None:
            return np.array([event for _, event in chain.run(whole, notes, *rows)], dtype=np.int64)
        return loop.events([chain], [whole], notes, *rows)[:, 2]

    def begin_at(self, row: int) -> None:
        """Nothing is known of the rows before this one."""
        self.rows = self._first = row

    def forget(self, before: int) -> None:
        """Rows before this one will not be asked for again."""
        cut = min(before, self.rows - 1) - self._first
        if cut > 0:
            for one in (*self._legs, *self._places):
                del one[:cut]
            self._first += cut

    def leg(self, sensor: int, row: int) -> int:
        """The leg at a row; at the end of the run, the last one."""
        legs = self.legs[sensor]
        return legs[min(row - self._first, len(legs) - 1)] if legs else 0

    def place_cm(self, sensor: int, row: int) -> float | None:
        """The sensor's place along its leg at a row, None where no distance is known."""
        places = self.places[sensor]
        if not places:
            return None
        place = places[min(row - self._first, len(places) - 1)]
        return None if place == MISSING else place / 100
