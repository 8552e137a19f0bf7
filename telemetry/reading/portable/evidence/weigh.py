"""Evidence added up while a marker passes, until it is enough. Portable: see moment.py.

Wald's sequential test, with more than two colours: what each sample says for each colour is summed, and the leader is taken
as soon as it is ``enough`` ahead of the next. Samples that follow each other closely tell much the same, so each counts only
a part. Where the slot is left before that, the leader is still given if it is ahead by ``least``; else the slot stays open:
look again.
"""

MISSING = -1073741824
MOST = 4095  # four times the palette's span: what is brighter still is no different


class Weigh:
    """Takes ``m.slot`` from a stage of place before it; gives a colour for it, with ``m.sure``.

    ``mul``, ``none``, ``marks``, ``noise``, ``coded``: see the parts of Gather and Decide. ``board``: see Ledger.
    ``enough``, ``least``: 1/16 nat. ``part``: per cent that a sample counts beside the one before. ``certainty``: a part.
    """

    def __init__(self, mul, none, marks, noise, coded, board, enough, least, part, certainty):
        self.mul = mul
        self.none = none
        self.marks = marks
        self.noise = noise
        self.coded = coded
        self.board = board
        self.enough = enough
        self.least = least
        self.part = part
        self.certainty = certainty
        self.colours = len(marks) // 4
        self.raw = 1 if mul[0] or mul[1] or mul[2] or mul[3] else 0
        self.sums = [0] * self.colours
        self.field = [0, 0, 0, 0]
        self.away = [0, 0, 0, 0]
        self.reset()

    def reset(self):
        self.certainty.reset()
        self.slot = -1
        self.known = 0  # the field's level is known
        self.best = 0
        self.ahead = 0
        self.clear()

    def clear(self):
        for k in range(self.colours):
            self.sums[k] = 0
        self.best = 0
        self.ahead = 0

    def step(self, label, m):
        slot = m.slot
        if m.end:
            slot = -1
        out = -1
        if slot != self.slot:
            if self.slot >= 0 and self.board[self.slot] >= 0 and self.ahead >= self.least and self.best > 0:
                out = self.best
                m.slot = self.slot
                m.sure = self.certainty.of(self.ahead)
            self.slot = slot
            self.clear()
        elif m.end == 0:
            departs = self.look(m)
            if slot >= 0 and self.board[slot] >= 0:
                self.add(departs, m.code, self.board[slot])
                if self.ahead >= self.enough and self.best > 0:
                    out = self.best
                    m.sure = self.certainty.of(self.ahead)
        return out

    def look(self, m):
        """``away``: this sample's departure from the field, which is followed along; gives whether it departs."""
        departs = 0
        if self.raw and m.red >= 0 and m.green >= 0 and m.blue >= 0:
            self.away[0] = min((m.red * self.mul[0]) >> 8, MOST)
            self.away[1] = min((m.green * self.mul[1]) >> 8, MOST)
            self.away[2] = min((m.blue * self.mul[2]) >> 8, MOST)
            if self.mul[3] and m.refl >= 0:
                self.away[3] = min((m.refl * self.mul[3]) >> 8, MOST)
            size = 0
            level = 0
            for c in range(4):
                if self.known == 0:
                    self.field[c] = self.away[c] << 4
                self.away[c] -= self.field[c] >> 4
                size += self.away[c] * self.away[c]
                level += (self.field[c] >> 4) * (self.field[c] >> 4)
            self.known = 1
            if size > 27 * self.noise + level // 400 + 600:
                departs = 1
            else:
                for c in range(4):
                    self.field[c] += self.away[c]
        return departs

    def add(self, departs, code, open_colours):
        """What this sample says for each colour that may stand there; then who leads, and by how much."""
        coded = len(self.coded)
        row = 0
        if code > 0:
            row = code * self.colours
            if row >= coded:
                row = coded - self.colours  # a colour that the table does not know
        first = -1000000000
        second = -1000000000
        size = 0
        if departs:
            for c in range(4):
                size += self.away[c] * self.away[c]
        for k in range(1, self.colours):
            if (open_colours >> k) & 1:
                if departs:
                    self.sums[k] -= self.beside(k, size) * self.part // 100
                if coded and code > 0:
                    self.sums[k] += self.coded[row + k] * self.part // 100
                if self.sums[k] < -1000000:
                    self.sums[k] = -1000000
                if self.sums[k] > first:
                    second = first
                    first = self.sums[k]
                    self.best = k
                elif self.sums[k] > second:
                    second = self.sums[k]
        ahead = first - second
        self.ahead = ahead if ahead < 1000000 else 1000000

    def beside(self, k, size):
        """How far the departure lies beside the direction of colour ``k``, 1/16 nat, at the most 3 nat a sample."""
        at = k * 4
        along = 0
        own = 0
        for c in range(4):
            along += self.away[c] * self.marks[at + c]
            own += self.marks[at + c] * self.marks[at + c]
        if along < 0:
            along = 0
        if along > 16000000:
            along = 16000000
        cover = (along << 6) // ((own >> 6) + 1)
        if cover > 5200:
            cover = 5200
        miss = size - (((along >> 6) * cover) >> 6)
        if miss < 0:
            miss = 0
        if miss > 100000000:
            miss = 100000000
        cost = miss * 8 // (self.noise + 400 + size // 300)
        return cost if cost < 48 else 48
