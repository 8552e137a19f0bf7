"""What stood at a place: how its cells depart from the field. Portable: see moment.py."""

MISSING = -1073741824
FAR = 1000000000


class Marker:
    """Fills ``seen`` (a row of 8 a slot) and ``told`` (slot * colours + colour) from the cells around a place.

    A row of ``seen``: 1 something there / 2 nothing departs there / 0 never passed; the departure in the four channels
    (scaled); its variance; where (0.1 mm); how much of the spot was on the marker (1/256).
    ``place``, ``half``, ``where``, ``wide``: see ByDistance and ByOrder. ``raw`` 1: raw channels count. ``coded``: code *
    colours + colour -> log-likelihood, 1/16 nat; empty: no codes used.
    """

    def __init__(self, cells, field, place, half, where, wide, raw, coded, colours, seen, told):
        self.cells = cells
        self.field = field
        self.place = place
        self.half = half
        self.where = where
        self.wide = wide
        self.raw = raw
        self.coded = coded
        self.colours = colours
        self.seen = seen
        self.told = told
        self.mean = [0, 0, 0, 0]
        self.reset()

    def reset(self):
        self.found = 0
        self.gap = 0
        for i in range(len(self.seen)):
            self.seen[i] = 0
        for i in range(len(self.told)):
            self.told[i] = 0
        for i in range(len(self.half)):
            self.wide[i] = self.half[i]

    def keep(self, k):
        """What the cells around place ``k`` show of its marker: the departure where it is covered best."""
        slot = self.place[k]
        c = self.where[k]
        h = self.wide[k] + (35 if self.raw else 15)
        row = slot * 8
        seen = self.seen
        if c == MISSING:
            return
        f = self.field.level
        mean = self.mean
        for q in range(4):
            mean[q] = 0
        cells = self.cells.count
        weight = 0
        for i in range(cells):
            gap = self.cells.pos[i] - c
            if gap < 0:
                gap = -gap
            if gap <= h:
                w = 4 - 3 * gap // h
                weight += w
                mean[0] += w * (self.cells.c0[i] - f[0])
                mean[1] += w * (self.cells.c1[i] - f[1])
                mean[2] += w * (self.cells.c2[i] - f[2])
                mean[3] += w * (self.cells.c3[i] - f[3])
        if weight == 0:
            return
        if self.raw:
            for q in range(4):
                mean[q] //= weight
            self.peak(c, h)
            for q in range(4):
                seen[row + 1 + q] = self.mean[q]
            n = self.found
            seen[row + 5] = self.field.sigma // (n if n < 12 else 12) + 200
            seen[row + 7] = self.covered(self.wide[k] - self.gap)
        seen[row + 6] = c
        departs = self.sum_near(c, h)
        seen[row] = 1 if departs > 0 else 2
        if len(self.coded):
            self.listen(slot, c, h)

    def covered(self, inside):
        """Share of the spot (1/256) that lies on a marker whose edge is ``inside`` 0.1 mm away: a spot of 8 mm, roughly."""
        cover = 128 + inside * 128 // 40
        if cover > 256:
            return 256
        return cover if cover > 50 else 50

    def sum_near(self, c, h):
        total = 0
        for i in range(self.cells.count):
            if c - h <= self.cells.pos[i] <= c + h:
                total += self.cells.away[i]
        return total

    def peak(self, c, h):
        """The mean of the cells that go at least two thirds as far as the farthest in the stretch's own direction."""
        f = self.field.level
        mean = self.mean
        u0 = mean[0]
        u1 = mean[1]
        u2 = mean[2]
        u3 = mean[3]
        far = -FAR
        for turn in range(2):
            n = 0
            s0 = 0
            s1 = 0
            s2 = 0
            s3 = 0
            gaps = 0
            for i in range(self.cells.count):
                gap = self.cells.pos[i] - c
                if -h <= gap <= h:
                    a = self.cells.c0[i] - f[0]
                    b = self.cells.c1[i] - f[1]
                    g = self.cells.c2[i] - f[2]
                    d = self.cells.c3[i] - f[3]
                    along = (a * u0 + b * u1 + g * u2 + d * u3) >> 4
                    if turn == 0:
                        if along > far:
                            far = along
                    elif along * 3 >= far * 2:
                        w = self.cells.many[i]
                        if w > 20:
                            w = 20
                        n += w
                        gaps += (gap if gap > 0 else -gap) * w
                        s0 += a * w
                        s1 += b * w
                        s2 += g * w
                        s3 += d * w
        if n == 0:
            n = 1
        self.found = n
        self.gap = gaps // n
        mean[0] = s0 // n
        mean[1] = s1 // n
        mean[2] = s2 // n
        mean[3] = s3 // n

    def listen(self, slot, c, h):
        """Add up what the codes in the stretch say about each colour; those near its edges count a quarter."""
        colours = self.colours
        row = slot * colours
        for i in range(self.cells.count):
            gap = self.cells.pos[i] - c
            if gap < 0:
                gap = -gap
            if gap <= h and self.cells.code[i] >= 0:
                n = self.cells.many[i]
                if n > 3:
                    n = 3
                w = 4 * n if gap * 2 <= h else n
                at = self.cells.code[i] * colours
                for k in range(colours):
                    self.told[row + k] += self.coded[at + k] * w // 8
