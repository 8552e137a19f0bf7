"""Collects what the sensor saw over each slot, found from signal and distance together. Portable: see moment.py.

While driving, samples are only added up in cells (a few millimetres each). When a leg ends, the field's own level is found
among the cells, the slots' places are fitted to where the signal departs from it (the distance may be wrong by a factor, and
the start off), and each slot's departure from the field is kept. Ambient light that adds to everything cancels in it.
"""

MISSING = -1073741824


class Gather:
    """Gathers for the slots of one sensor; its parts: see their files.

    ``begin`` (leg -> first place), ``place``: see ByDistance. ``raw`` 1: raw channels count, else the codes. ``ordered`` 1:
    distances are not used, time stands for them.
    """

    def __init__(self, cells, field, by_distance, by_order, marker, begin, place, raw, ordered):
        self.cells = cells
        self.field = field
        self.by_distance = by_distance
        self.by_order = by_order
        self.marker = marker
        self.begin = begin
        self.place = place
        self.raw = raw
        self.ordered = ordered
        self.reset()

    def reset(self):
        self.cells.reset()
        self.field.reset()
        self.by_distance.reset()
        self.by_order.reset()
        self.marker.reset()
        self.leg = 0
        self.here = 0
        self.t0 = MISSING

    def step(self, label, m):
        if m.end:
            if self.cells.count:
                self.close()
            return -1
        if m.leg != self.leg:
            if self.cells.count:
                self.close()
            self.leg = m.leg
        if self.ordered:
            if self.t0 == MISSING:
                self.t0 = m.t
            here = ((m.t - self.t0) & 1073741823) * 10
        else:
            here = m.pos
            if here == MISSING:
                here = self.here
        self.here = here
        usable = m.code >= 0
        if self.raw:
            usable = self.cells.says(m)
        if usable:
            self.cells.add(here, m.code, m)
        return -1

    def close(self):
        """The leg is over: find the field, fit the places, keep what stood there."""
        place = self.place
        first = self.begin[self.leg]
        if place[first] != -1:
            self.cells.average()
            if self.ordered == 0:
                self.cells.sort()
            if self.raw:
                self.field.find(self.leg)
            self.field.find_code(first)
            self.field.weigh()
            if self.ordered:
                self.by_order.find(first)
            else:
                self.by_distance.find(first, self.leg)
            k = first
            while place[k] != -1:
                if place[k] >= 0:
                    self.marker.keep(k)
                k += 1
        self.cells.reset()
