"""When reading begins, and when it ends. Portable: see moment.py."""

MISSING = -1073741824
CLOCK = 1073741823


class FromDistance:
    """Says nothing until the sensor is ``start`` (0.1 mm) along leg number ``leg`` (0: the leg it is on)."""

    def __init__(self, start, leg):
        self.start = start
        self.leg = leg
        self.reset()

    def reset(self):
        self.armed = 0

    def step(self, label, m):
        if self.armed:
            return label
        if self.leg and m.leg != self.leg - 1:
            if m.leg < self.leg - 1:
                return -1
            self.armed = 1
            return label
        if m.pos != MISSING and m.pos >= self.start:
            self.armed = 1
            return label
        return -1


class FromTime:
    """Says nothing during the first ``start`` ms of leg number ``leg``, nor before that leg (0: of the run)."""

    def __init__(self, start, leg):
        self.start = start
        self.leg = leg
        self.reset()

    def reset(self):
        self.armed = 0
        self.begun = 0
        self.t = 0

    def step(self, label, m):
        if self.armed:
            return label
        if m.end or m.leg < self.leg - 1:
            return -1
        if not self.begun:
            self.begun = 1
            self.t = m.t
        if ((m.t - self.t) & CLOCK) >= self.start:
            self.armed = 1
            return label
        return -1


class FromHeading:
    """Says nothing until the robot has once been within ``tolerance`` of ``heading`` (0.1 deg)."""

    def __init__(self, heading, tolerance):
        self.heading = heading
        self.tolerance = tolerance
        self.reset()

    def reset(self):
        self.armed = 0

    def step(self, label, m):
        if self.armed:
            return label
        if m.h != MISSING:
            off = (m.h - self.heading + 1800) % 3600 - 1800
            if -self.tolerance <= off <= self.tolerance:
                self.armed = 1
                return label
        return -1


class FromLeg:
    """Says nothing before leg number ``leg`` (the first is 1)."""

    def __init__(self, leg):
        self.leg = leg
        self.reset()

    def reset(self):
        pass

    def step(self, label, m):
        return label if m.leg >= self.leg - 1 else -1


class FromNote:
    """Says nothing until the robot's program has sent the note with the number ``note``."""

    def __init__(self, note):
        self.note = note
        self.reset()

    def reset(self):
        self.armed = 0

    def step(self, label, m):
        if self.armed:
            return label
        if m.note and m.note == self.note:
            self.armed = 1
            return label
        return -1


class AfterRamp:
    """Says nothing until the robot has kept one speed, above ``least``, within ``wobble`` (0.1 mm/s), for ``steady`` ms.

    It does not look before leg number ``leg`` (0: from the begin).
    """

    def __init__(self, steady, least, wobble, leg):
        self.steady = steady
        self.least = least
        self.wobble = wobble
        self.leg = leg
        self.reset()

    def reset(self):
        self.armed = 0
        self.v = MISSING
        self.t = 0

    def step(self, label, m):
        if self.armed:
            return label
        v = m.v
        if m.end or v == MISSING or m.leg < self.leg - 1:
            return -1
        if self.v == MISSING or abs(v) < self.least or abs(v - self.v) > self.wobble:
            self.v = v
            self.t = m.t
            return -1
        if ((m.t - self.t) & CLOCK) >= self.steady:
            self.armed = 1
            return label
        return -1


class UntilDone:
    """Says nothing more once every slot that this sensor passes is decided: a task beside the driving that ends itself.

    ``mine``: those slots, then -1; ``board``: see Ledger. What the sensor never passes may still be open.
    """

    def __init__(self, mine, board):
        self.mine = mine
        self.board = board
        self.reset()

    def reset(self):
        self.k = 0

    def step(self, label, m):
        k = self.k
        while self.board[self.mine[k]] < 0:
            k += 1
        self.k = k
        return label if self.mine[k] >= 0 else -1
