"""Where a colour may be read, and for which slot. Portable: see moment.py."""

MISSING = -1073741824


class Windows:
    """A label counts only in the window around a slot, and for that slot.

    Tables: ``begin`` (leg -> its first entry in the others), ``slots``, ``low`` and ``high`` (0.1 mm along the leg, rising),
    each leg's entries closed by one with slot -1 that reaches to the end of all numbers and is never entered.
    """

    def __init__(self, begin, slots, low, high):
        self.begin = begin
        self.slots = slots
        self.low = low
        self.high = high
        self.reset()

    def reset(self):
        self.slot = -1

    def step(self, label, m):
        if m.end:
            return -1
        pos = m.pos
        if pos == MISSING:
            # Still in the window it was in, for all we know; but this sample says nothing.
            m.slot = self.slot
            return -1
        k = self.begin[m.leg]
        high = self.high
        while pos > high[k]:
            k += 1
        if pos >= self.low[k]:
            self.slot = self.slots[k]
            m.slot = self.slot
            return label
        self.slot = -1
        m.slot = -1
        return -1


class Skip:
    """A stretch to ignore: from ``start`` to ``stop`` (0.1 mm) along leg number ``leg`` (0: every leg)."""

    def __init__(self, start, stop, leg):
        self.start = start
        self.stop = stop
        self.leg = leg
        self.reset()

    def reset(self):
        pass

    def step(self, label, m):
        if label < 0 or (self.leg and m.leg != self.leg - 1):
            return label
        return -1 if self.start <= m.pos <= self.stop else label


class Decoys:
    """The stretches of the course's decoys are ignored. Tables as in Windows, without slots."""

    def __init__(self, begin, low, high):
        self.begin = begin
        self.low = low
        self.high = high
        self.reset()

    def reset(self):
        pass

    def step(self, label, m):
        if label < 0 or m.pos == MISSING:
            return label
        k = self.begin[m.leg]
        while m.pos > self.high[k]:
            k += 1
        return -1 if m.pos >= self.low[k] else label


class OnLeg:
    """Labels count only on leg number ``leg`` (the first is 1)."""

    def __init__(self, leg):
        self.leg = leg
        self.reset()

    def reset(self):
        pass

    def step(self, label, m):
        return label if m.leg == self.leg - 1 else -1


class LegByLeg:
    """What is read on a leg is for that leg's slots, in order: one missed before does not shift those after.

    Tables: ``begin`` (leg -> its first entry in ``order``), ``order`` (slots, each leg's closed by -1); ``board``: Ledger.
    """

    def __init__(self, begin, order, board):
        self.begin = begin
        self.order = order
        self.board = board
        self.reset()

    def reset(self):
        self.leg = 0
        self.k = self.begin[0]

    def step(self, label, m):
        if m.end:
            return -1
        k = self.k
        if m.leg != self.leg:
            self.leg = m.leg
            k = self.begin[m.leg]
        while self.board[self.order[k]] < 0:
            k += 1
        self.k = k
        slot = self.order[k]
        m.slot = slot
        return label if slot >= 0 else -1
