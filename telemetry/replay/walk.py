"""Where each sensor is at every sample: the legs followed once for all strategies of a run."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from telemetry.reading.plan import Plan
from telemetry.reading.portable.moment import Moment
from telemetry.reading.portable.track import Track
from telemetry.sample import MISSING, WholeColumns


class Walk:
    """Leg and position of every sensor, row by row: ``legs[sensor][row]`` and ``places[sensor][row]`` (0.1 mm or MISSING).

    It is stepped like a chain; every strategy on one course has the same, so one may be shared. ``rows``: how many it knows.
    """

    def __init__(self, plan: Plan) -> None:
        self.rows = 0
        self.legs: list[list[int]] = [[] for _ in plan.layouts]
        self.places: list[list[int]] = [[] for _ in plan.layouts]
        self._tracks: list[Any] = []
        self._moments: list[Any] = []
        for layout in plan.layouts:
            ahead = round(layout.course.sensors[layout.sensor].ahead_cm * 100)
            # A board of its own with no slot: the walk asks only where the sensor is.
            self._tracks.append(Track(*layout.legs(), ahead, [-1], [0]))  # type: ignore[no-untyped-call]
            self._moments.append(Moment())  # type: ignore[no-untyped-call]

    def reset(self) -> None:
        """A restart of the robot: the legs begin again, the rows go on."""
        for track, moment in zip(self._tracks, self._moments, strict=True):
            track.reset()
            moment.__init__()

    def advance(self, wholes: Sequence[WholeColumns], notes: Mapping[int, int], start: int, stop: int) -> None:
        """Step the rows ``start`` to ``stop`` of ``wholes``; ``notes``: row -> number, in the same rows."""
        for sensor, whole in enumerate(wholes):
            self._step(sensor, whole, notes, start, stop)
        self.rows += stop - start

    def _step(self, sensor: int, whole: WholeColumns, notes: Mapping[int, int], start: int, stop: int) -> None:
        legs, places, m = self.legs[sensor], self.places[sensor], self._moments[sensor]
        step = self._tracks[sensor].step
        columns = [column[start:stop].tolist() for column in (whole.t, whole.d, whole.v, whole.h)]
        row = start
        for m.t, m.d, m.v, m.h in zip(*columns, strict=True):
            m.note = notes.get(row, 0)
            step(-1, m)
            legs.append(m.leg)
            places.append(m.pos)
            row += 1

    def leg(self, sensor: int, row: int) -> int:
        """The leg at a row; at the end of the run, the last one."""
        legs = self.legs[sensor]
        return legs[min(row, len(legs) - 1)] if legs else 0

    def place_cm(self, sensor: int, row: int) -> float | None:
        """The sensor's place along its leg at a row, None where no distance is known."""
        places = self.places[sensor]
        if not places:
            return None
        place = places[min(row, len(places) - 1)]
        return None if place == MISSING else place / 100
