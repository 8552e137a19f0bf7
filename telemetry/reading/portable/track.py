"""Where along the course the sensor is. Portable: see moment.py."""

MISSING = -1073741824
CLOCK = 1073741823  # times are kept modulo 2**30
TURNED = 50  # driven back by 5 mm: not a wobble any more
SPAN = 50  # ms over which a speed is worked out
GAP = 2000  # ms without a sample after which the speed is not known


class Track:
    """Follows the legs and writes ``leg``, ``pos``, ``v`` and, in ``slot``, the next slot in order; first in every chain.

    Tables, one entry a leg: ``starts`` (0 begin, 1 note, 2 heading, 3 distance set back, 4 reversing, and a 0 after the
    last), ``values`` (the note's number, the heading in 0.1 deg) and ``tolerance`` (0.1 deg). ``ahead``: the sensor in
    front of the measured point, 0.1 mm. ``mine``: this sensor's slots in order, then -1. ``board``: see Ledger.
    """

    def __init__(self, starts, values, tolerance, ahead, mine, board):
        self.starts = starts
        self.values = values
        self.tolerance = tolerance
        self.ahead = ahead
        self.mine = mine
        self.board = board
        self.reset()

    def reset(self):
        self.leg = 0
        self.coming = self.starts[1]  # how the next leg starts, 0: there is none
        self.base = MISSING  # the distance at which this leg began
        self.way = 1  # -1: the measured distance falls on this leg
        self.far = 0  # how far this leg got, to notice a reversal
        self.last = MISSING  # the last distance known
        self.v = MISSING
        self.v_t = 0
        self.v_d = MISSING
        self.k = 0

    def step(self, label, m):
        if m.end:
            m.slot = -1
            return -1
        if self.coming:
            self.look(m)
        d = m.d
        if d == MISSING:
            m.pos = MISSING
        else:
            base = self.base
            if base == MISSING:
                base = d
                self.base = d
            way = self.way
            along = (d - base) * way
            if along < -TURNED:
                way = -way
                along = -along
                self.way = way
                self.far = 0
            m.pos = along + self.ahead * way
            self.last = d
        if m.v == MISSING:
            self.speed(m)
        mine = self.mine
        k = self.k
        if self.board[mine[k]] < 0:
            while self.board[mine[k]] < 0:
                k += 1
            self.k = k
        m.slot = mine[k]
        return -1

    def look(self, m):
        """Does the next leg start with this sample?"""
        kind = self.coming
        d = m.d
        starts = 0
        base = MISSING
        if kind == 1:
            if m.note == self.values[self.leg + 1]:
                starts = 1
        elif kind == 2:
            if m.h != MISSING:
                off = (m.h - self.values[self.leg + 1] + 1800) % 3600 - 1800
                if -self.tolerance[self.leg + 1] <= off <= self.tolerance[self.leg + 1]:
                    starts = 1
        elif d != MISSING and self.last != MISSING:
            if kind == 3:
                # In one step from beyond 3 cm to a quarter of it or less: no robot drives so.
                if abs(self.last) > 300 and abs(d) * 4 <= abs(self.last):
                    starts = 1
            elif self.base != MISSING:
                along = (d - self.base) * self.way
                if along > self.far:
                    self.far = along
                elif self.far - along >= TURNED:
                    starts = 1
                    base = self.base + self.far * self.way
        if starts:
            self.leg += 1
            self.coming = self.starts[self.leg + 1]
            self.base = base
            self.far = 0
            self.way = -self.way if kind == 4 else 1
            if kind == 3:
                self.v_d = MISSING
            m.leg = self.leg

    def speed(self, m):
        """Speed from the distance, over 50 ms or more; between two such points the one before holds."""
        d = m.d
        if d != MISSING:
            past = (m.t - self.v_t) & CLOCK
            if self.v_d == MISSING or past > GAP:
                self.v = MISSING
                self.v_t = m.t
                self.v_d = d
            elif past >= SPAN:
                change = d - self.v_d
                if -1000000 < change < 1000000:
                    self.v = change * 1000 // past
                else:
                    self.v = MISSING
                self.v_t = m.t
                self.v_d = d
        m.v = self.v
