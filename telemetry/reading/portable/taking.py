"""When a believed label is taken as a reading. Portable: see moment.py."""

MISSING = -1073741824


class Once:
    """The first colour is taken; then none must be seen, ``gap`` samples of it in a row, before the next."""

    def __init__(self, gap):
        self.gap = gap
        self.reset()

    def reset(self):
        self.ready = 1
        self.nones = 0

    def step(self, label, m):
        if label == 0:
            if not self.ready:
                self.nones += 1
                if self.nones >= self.gap:
                    self.ready = 1
            return 0
        if label < 0:
            return -1
        self.nones = 0
        if self.ready:
            self.ready = 0
            return label
        return -1


class Change:
    """A colour is taken when it is another than the one taken before; none between them is not waited for."""

    def __init__(self):
        self.reset()

    def reset(self):
        self.last = 0

    def step(self, label, m):
        if label <= 0:
            return label
        if label == self.last:
            return -1
        self.last = label
        return label


class RunOn:
    """After a colour nothing counts for ``colour`` (0.1 mm) of driving; after the none that follows it, for ``none``."""

    def __init__(self, colour, none):
        self.colour = colour
        self.none = none
        self.reset()

    def reset(self):
        self.start = MISSING
        self.length = 0
        self.leg = 0
        self.on = 0

    def step(self, label, m):
        if label < 0:
            return -1
        d = m.d
        if m.leg != self.leg:
            self.leg = m.leg
            self.start = MISSING
        if self.start != MISSING:
            if d == MISSING or abs(d - self.start) < self.length:
                return -1
            self.start = MISSING
        if label > 0:
            self.start = d
            self.length = self.colour
            self.on = 1
        elif self.on:
            self.start = d
            self.length = self.none
            self.on = 0
        return label


class PassBy:
    """A decoy is expected: the colour number ``nth`` of leg number ``leg`` (0: of the run) is passed and not kept.

    Where ``colour`` is not 0 the decoy is of that colour, and no other is counted.
    """

    def __init__(self, nth, leg, colour):
        self.nth = nth
        self.leg = leg
        self.colour = colour
        self.reset()

    def reset(self):
        self.count = 0

    def step(self, label, m):
        if label <= 0 or (self.leg and m.leg != self.leg - 1):
            return label
        if self.colour and label != self.colour:
            return label
        self.count += 1
        return -1 if self.count == self.nth else label


class Number:
    """Takes ``count`` colours and no more."""

    def __init__(self, count):
        self.count = count
        self.reset()

    def reset(self):
        self.left = self.count

    def step(self, label, m):
        if label <= 0:
            return label
        if self.left == 0:
            return -1
        self.left -= 1
        return label
