"""When a label is believed. Portable: see moment.py."""

MISSING = -1073741824
CLOCK = 1073741823


class Mute:
    """Colours that are never believed; ``colours`` is a mask."""

    def __init__(self, colours):
        self.colours = colours
        self.reset()

    def reset(self):
        pass

    def step(self, label, m):
        if label > 0 and (self.colours >> label) & 1:
            return -1
        return label


class Hold:
    """A label is believed once it has held for ``samples`` measurements and ``ms``; none is held to the same.

    Samples that say nothing neither count nor break it. With ``repeats`` 1, a sample whose raw values all equal those of
    the one before is the same measurement again and counts once; so does one less than ``period`` ms after the last.
    """

    def __init__(self, samples, ms, repeats, period):
        self.samples = samples
        self.ms = ms
        self.repeats = repeats
        self.period = period
        self.reset()

    def reset(self):
        self.label = -1
        self.slot = -1
        self.count = 0
        self.since = 0
        self.last = 0
        self.red = MISSING
        self.green = MISSING
        self.blue = MISSING
        self.refl = MISSING

    def step(self, label, m):
        if label < 0:
            return -1
        if label != self.label or m.slot != self.slot:
            self.label = label
            self.slot = m.slot
            self.count = 1
            self.since = m.t
            self.note(m)
        elif self.count < self.samples:
            again = self.again(m)
            if not again:
                self.count += 1
                self.note(m)
        if self.count < self.samples:
            return -1
        if self.ms and ((m.t - self.since) & CLOCK) < self.ms:
            return -1
        return label

    def note(self, m):
        self.last = m.t
        self.red = m.red
        self.green = m.green
        self.blue = m.blue
        self.refl = m.refl

    def again(self, m):
        """Is this the measurement that was counted last?"""
        if self.period and ((m.t - self.last) & CLOCK) < self.period:
            return 1
        if self.repeats == 0 or m.red == MISSING:
            return 0
        if m.red == self.red and m.green == self.green and m.blue == self.blue and m.refl == self.refl:
            return 1
        return 0


class Smooth:
    """The most frequent label of the last ``samples`` that said anything; of equals, the one it gave before."""

    def __init__(self, samples):
        self.samples = samples
        self.ring = [0] * samples
        self.counts = [0] * 32
        self.reset()

    def reset(self):
        for i in range(self.samples):
            self.ring[i] = 0
        for i in range(32):
            self.counts[i] = 0
        self.counts[0] = self.samples
        self.k = 0
        self.best = 0

    def step(self, label, m):
        if label < 0:
            return -1
        old = self.ring[self.k]
        if old != label:
            self.ring[self.k] = label
            self.counts[old] -= 1
            self.counts[label] += 1
            self.find()
        self.k += 1
        if self.k == self.samples:
            self.k = 0
        return self.best

    def find(self):
        for colour in range(30):
            if self.counts[colour] > self.counts[self.best]:
                self.best = colour


class Vote:
    """The majority of a slot's window, given when the window is left (or the run ends).

    A colour wins with ``least`` samples and ``share`` % of all samples that showed a colour. Where none wins and the board
    says that the slot may be empty, ``least`` samples of none make it so.
    """

    def __init__(self, least, share, board):
        self.least = least
        self.share = share
        self.board = board
        self.counts = [0] * 32
        self.reset()

    def reset(self):
        self.slot = -1
        for i in range(32):
            self.counts[i] = 0

    def step(self, label, m):
        out = -1
        slot = m.slot
        if slot != self.slot:
            if self.slot >= 0:
                out = self.decide(m)
            self.slot = slot
        if slot >= 0 and label >= 0:
            self.counts[label] += 1
        return out

    def decide(self, m):
        best = 0
        total = 0
        empty = self.counts[0]
        self.counts[0] = 0
        for colour in range(1, 30):
            count = self.counts[colour]
            total += count
            if count > self.counts[best]:
                best = colour
        count = self.counts[best]
        for colour in range(1, 30):
            self.counts[colour] = 0
        if best > 0 and count >= self.least and count * 100 >= total * self.share:
            m.slot = self.slot
            return best
        if empty >= self.least and self.board[self.slot] >= 0 and self.board[self.slot] & 1:
            m.slot = self.slot
            m.how = 3
            return 0
        return -1


class Settle:
    """A sensor that has just stopped needs a moment: a label is believed after ``ms`` of standing still.

    Standing is no faster than ``still`` (0.1 mm/s). ``moving`` 1: labels seen while driving are believed as they are;
    0: driving counts as none, so that the next stand begins anew.
    """

    def __init__(self, ms, still, moving):
        self.ms = ms
        self.still = still
        self.moving = moving
        self.reset()

    def reset(self):
        self.standing = 0
        self.since = 0

    def step(self, label, m):
        v = m.v
        if m.end or v == MISSING:
            return -1
        if v > self.still or v < -self.still:
            self.standing = 0
            return label if self.moving else 0
        if not self.standing:
            self.standing = 1
            self.since = m.t
        return label if ((m.t - self.since) & CLOCK) >= self.ms else -1
