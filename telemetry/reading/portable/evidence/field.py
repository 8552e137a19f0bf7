"""The field that the markers stand on, as this run saw it. Portable: see moment.py."""

MISSING = -1073741824
FAR = 1000000000


class Field:
    """Finds the field's own level among the cells of a leg, and how much each cell speaks against it.

    ``noise``: variance of one sample, scaled. ``place``, ``at``, ``half``: see ByDistance.
    ``raw`` 1: raw channels count, else the codes. ``light`` 1: of them only
    reflected light. ``fields``: leg * 3 + channel, filled.
    ``level``: the field of the leg that closed last, ``sigma`` its variance, ``rough`` that of a single cell, from
    how neighbours differ, beside a gain that all channels share. ``code``: its own code.
    """

    def __init__(self, cells, place, at, half, noise, raw, light, fields):
        self.cells = cells
        self.place = place
        self.at = at
        self.half = half
        self.noise = noise
        self.raw = raw
        self.light = light
        self.fields = fields
        self.level = [0, 0, 0, 0]
        self.mean = [0, 0, 0, 0]
        self.often = [0] * 32
        self.reset()

    def reset(self):
        self.sigma = self.noise
        self.rough = self.noise
        self.code = 0
        for k in range(32):
            self.often[k] = 0

    def find(self, leg):
        """The field is the level that most cells have: try some, settle on the mean of those near it."""
        level = self.level
        cells = self.cells.count
        most = -1
        tries = 16 if cells > 16 else cells
        stride = cells // 64 + 1
        at = self.mean
        for k in range(tries):
            i = k * cells // tries
            at[0] = self.cells.c0[i]
            at[1] = self.cells.c1[i]
            at[2] = self.cells.c2[i]
            at[3] = self.cells.c3[i]
            near = 0
            reach = self.wide_reach(at)
            j = 0
            while j < cells:  # MicroPython would make an object of a range with such a step
                if self.cells.apart(j, at) < reach:
                    near += 1
                j += stride
            near = near * 8 + (4 if k < 3 else 0)
            if near > most:
                most = near
                for c in range(4):
                    level[c] = at[c]
        reach = self.wide_reach(self.level)
        for _ in range(4):
            n = 0
            spread = 0
            hops = 0
            pairs = 0
            last = -2
            for c in range(4):
                at[c] = 0
            for j in range(cells):
                z = self.cells.apart(j, self.level)
                if z < reach:
                    at[0] += self.cells.c0[j]
                    at[1] += self.cells.c1[j]
                    at[2] += self.cells.c2[j]
                    at[3] += self.cells.c3[j]
                    spread += z if z < 100000 else 100000
                    if last == j - 1:
                        hops += min(self.beside(j, j - 1), 100000)
                        pairs += 1
                    last = j
                    n += 1
            for c in range(4):
                level[c] = at[c] // n
            self.sigma = spread // n // 3 + 1
            self.rough = hops // pairs // 4 + 1 if pairs > 8 else self.sigma
            # Cells farther than about four deviations are edges or something else.
            reach = 16 * self.sigma + 300
        k = leg * 3
        if self.light:
            self.fields[k] = level[3]
        else:
            for c in range(3):
                self.fields[k + c] = level[c]

    def beside(self, i, k):
        """How far cell ``i`` is from cell ``k`` (-1: the field), squared, beside what a common gain explains."""
        at = self.level
        a = self.cells.c0[i] - (at[0] if k < 0 else self.cells.c0[k])
        b = self.cells.c1[i] - (at[1] if k < 0 else self.cells.c1[k])
        c = self.cells.c2[i] - (at[2] if k < 0 else self.cells.c2[k])
        d = self.cells.c3[i] - (at[3] if k < 0 else self.cells.c3[k])
        apart = a * a + b * b + c * c + d * d
        if apart > 400000:
            return apart
        own = (at[0] * at[0] + at[1] * at[1] + at[2] * at[2] + at[3] * at[3]) // 512 + 1
        along = (a * at[0] + b * at[1] + c * at[2] + d * at[3]) // own
        left = apart - along * along * own // 512
        return left if left > 0 else 0

    def wide_reach(self, at):
        """How far from a level cells may be that belong to it: noise, and a twentieth of the level for an uneven field."""
        size = at[0] * at[0] + at[1] * at[1] + at[2] * at[2] + at[3] * at[3]
        return 27 * self.noise + size // 400 + 300

    def find_code(self, first):
        """The field's own code: the most frequent of the cells that lie at no place; not every sensor calls it 'none'."""
        place = self.place
        often = self.often
        for i in range(self.cells.count):
            code = self.cells.code[i]
            free = 1
            k = first
            while place[k] != -1:
                beyond = self.beyond(i, k)
                if beyond == 0:
                    free = 0
                k += 1
            if 0 <= code < 32 and free:
                often[code] += self.cells.many[i]
        self.code = 0
        for code in range(32):
            if often[code] > often[self.code]:
                self.code = code

    def beyond(self, i, k):
        """Is cell ``i`` not at place ``k``?"""
        if self.at[k] == MISSING:
            return 1
        gap = abs(self.cells.pos[i] - self.at[k])
        return 1 if gap > self.half[k] + 60 else 0

    def speaks(self, code):
        """How much a code speaks against the field: the less, the more often it was seen where nothing stands."""
        often = self.often
        total = 1
        for k in range(32):
            total += often[k]
        if code <= 0 or code == self.code:
            return -70
        share = often[code] * 100 // total
        if share > 40:
            return -40
        return 60 - share * 3 // 2

    def weigh(self):
        """How much each cell speaks against the field: a common gain says less, for pose and height waver."""
        for i in range(self.cells.count):
            if self.raw:
                left = self.beside(i, -1)
                z = self.cells.apart(i, self.level) - left
                z = z * 8 // (3 * self.sigma + 150) + left * 8 // (min(self.rough, self.sigma) + 150)
                if z > 260:
                    z = 260
                self.cells.away[i] = z - 80
            else:
                n = self.cells.many[i]
                away = self.speaks(self.cells.code[i])
                self.cells.away[i] = away * (n if n < 3 else 3) if away > 0 else away
