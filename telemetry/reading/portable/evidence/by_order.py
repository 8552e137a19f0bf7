"""Where the slots of a leg lie, when only their order is known. Portable: see moment.py."""

MISSING = -1073741824
FAR = 1000000000
SPLIT = 420  # what it costs that a marker begins where another ends, if nothing turns there
BRIDGE = 10  # how much more a cell of the field counts against one marker on both sides of it


class ByOrder:
    """The best so many stretches that depart from the field, found together (dynamic programming).

    ``place``: see ByDistance; ``most`` of them a leg, 0: never used. ``where``, ``wide``: middle and half width as found.
    """

    def __init__(self, cells, field, place, where, wide, most, raw):
        self.cells = cells
        self.field = field
        self.place = place
        self.where = where
        self.wide = wide
        self.most = most
        self.raw = raw
        self.cuts = [0] * ((most + 1) * 2 * cells.room if most else 0)
        self.best = [0] * ((most + 2) * 2)
        self.reset()

    def reset(self):
        pass

    def find(self, first):
        """Only the order is known: the best so many stretches that depart from the field, found together."""
        place = self.place
        slots = 0
        while place[first + slots] != -1:
            slots += 1
        cells = self.cells.count
        best = self.best
        cuts = self.cuts
        # best[2j]: j stretches closed, best[2j + 1]: inside the j-th (counted from 1).
        for j in range(2 * slots + 2):
            best[j] = -FAR
        best[0] = 0
        row = 2 * slots + 2
        for i in range(cells):
            join = self.join(i)
            gain = self.cells.away[i]
            if gain < 0:
                gain *= BRIDGE
            j = slots
            while j >= 1:
                stay = best[2 * j - 1] - join
                fresh = best[2 * j - 2] - 120
                done = best[2 * j - 1]
                # the stretch before may end right here and the next begin, where the colour turns
                if j >= 2 and best[2 * j - 3] - SPLIT + 3 * join > fresh:
                    fresh = best[2 * j - 3] - SPLIT + 3 * join
                    start = 2
                else:
                    start = 1
                if done > best[2 * j]:
                    best[2 * j] = done
                    cuts[i * row + 2 * j] = 1
                else:
                    cuts[i * row + 2 * j] = 0
                if fresh > stay:
                    best[2 * j - 1] = fresh + gain
                    cuts[i * row + 2 * j - 1] = start
                else:
                    best[2 * j - 1] = stay + gain
                    cuts[i * row + 2 * j - 1] = 0
                j -= 1
        self.trace(first, slots, row)

    def trace(self, first, slots, row):
        """Walk the best stretches back, and write each one's middle and half width."""
        pos = self.cells.pos
        best = self.best
        cuts = self.cuts
        state = 2 * slots if best[2 * slots] > best[2 * slots - 1] else 2 * slots - 1
        i = self.cells.count - 1
        end = i
        for j in range(slots):
            self.where[first + j] = MISSING
        while i >= 0 and state > 0:
            cut = cuts[i * row + state]
            if state & 1 == 0:
                if cut:
                    state -= 1
                    end = i - 1
            elif cut:
                j = (state - 1) // 2
                self.where[first + j] = (pos[i] + pos[end]) // 2
                self.wide[first + j] = (pos[end] - pos[i]) // 2 + 1
                if cut == 2:
                    state -= 2
                    end = i - 1
                else:
                    state -= 1
            i -= 1

    def join(self, i):
        """What it costs that cell ``i`` belongs to the same marker as the one before: the turn of their departures."""
        code = self.cells.code
        if i == 0:
            return 0
        if self.raw == 0:
            if code[i] != code[i - 1] and code[i] > 0 and code[i - 1] > 0:
                return 40
            return 0
        f = self.field.level
        a0 = (self.cells.c0[i - 1] - f[0]) >> 2
        a1 = (self.cells.c1[i - 1] - f[1]) >> 2
        a2 = (self.cells.c2[i - 1] - f[2]) >> 2
        b0 = (self.cells.c0[i] - f[0]) >> 2
        b1 = (self.cells.c1[i] - f[1]) >> 2
        b2 = (self.cells.c2[i] - f[2]) >> 2
        x = a1 * b2 - a2 * b1
        y = a2 * b0 - a0 * b2
        z = a0 * b1 - a1 * b0
        turn = abs(x) + abs(y) + abs(z)
        size = a0 * a0 + a1 * a1 + a2 * a2
        other = b0 * b0 + b1 * b1 + b2 * b2
        if other < size:
            size = other
        turn = turn * 60 // (size + self.field.sigma // 16 + 400)
        return turn if turn < 100 else 100
