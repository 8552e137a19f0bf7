"""What a leg's samples add up to: cells a few millimetres wide. Portable: see moment.py."""

MISSING = -1073741824
MOST = 4095  # four times the palette's span: what is brighter still is no different


class Cells:
    """The cells of the leg that is being driven; ``count`` of them are in use.

    ``mul``: channel -> factor / 256 to scaled units, 0 where not used. ``room``: cells kept; where they run out, two become
    one. ``grain``: their width, 0.1 mm. ``split`` 1: another code begins another. A cell: ``pos`` (0.1 mm), ``many``
    samples, ``c0`` to ``c3`` the channels (sums until ``average``), ``code``, and ``away``: how much it speaks against the
    empty field, 1/16 nat.
    """

    def __init__(self, mul, room, grain, split):
        self.mul = mul
        self.room = room
        self.grain = grain
        self.split = split
        self.pos = [0] * room
        self.many = [0] * room
        self.c0 = [0] * room
        self.c1 = [0] * room
        self.c2 = [0] * room
        self.c3 = [0] * room
        self.code = [0] * room
        self.away = [0] * room
        self.reset()

    def reset(self):
        self.count = 0
        self.width = self.grain
        self.start = MISSING

    def says(self, m):
        """1: the sample can be used; 0: a drop-out, which says nothing about any colour."""
        mul = self.mul
        if (
            (mul[0] and m.red < 0)
            or (mul[1] and m.green < 0)
            or (mul[2] and m.blue < 0)
            or (mul[3] and m.refl < 0)
            or (mul[0] and m.red + m.green + m.blue == 0)
        ):
            return 0
        return 1

    def add(self, here, code, m):
        """One sample into the cell it belongs to."""
        k = self.count - 1
        gone = here - self.start if k >= 0 else 0
        if k < 0 or gone >= self.width or -gone >= self.width or (self.split and code != self.code[k]):
            if self.count == self.room:
                self.halve()
            k = self.count
            self.count = k + 1
            self.start = here
            self.pos[k] = here
            self.many[k] = 0
            self.c0[k] = 0
            self.c1[k] = 0
            self.c2[k] = 0
            self.c3[k] = 0
            self.code[k] = code
        n = self.many[k]
        if n >= 200:
            return
        self.many[k] = n + 1
        self.pos[k] += (here - self.pos[k]) // (n + 1)
        mul = self.mul
        if mul[0]:
            self.c0[k] += min((m.red * mul[0]) >> 8, MOST)
        if mul[1]:
            self.c1[k] += min((m.green * mul[1]) >> 8, MOST)
        if mul[2]:
            self.c2[k] += min((m.blue * mul[2]) >> 8, MOST)
        if mul[3]:
            self.c3[k] += min((m.refl * mul[3]) >> 8, MOST)

    def halve(self):
        """Two cells become one, so that the memory never runs out."""
        half = self.room // 2
        for i in range(half):
            a = 2 * i
            b = a + 1
            n = self.many[a] + self.many[b]
            self.code[i] = self.code[a] if self.many[a] >= self.many[b] else self.code[b]
            self.pos[i] = (self.pos[a] * self.many[a] + self.pos[b] * self.many[b]) // n
            if self.many[a] + self.many[b] > 200:
                n = 200
            total = self.many[a] + self.many[b]
            self.c0[i] = (self.c0[a] + self.c0[b]) * n // total
            self.c1[i] = (self.c1[a] + self.c1[b]) * n // total
            self.c2[i] = (self.c2[a] + self.c2[b]) * n // total
            self.c3[i] = (self.c3[a] + self.c3[b]) * n // total
            self.many[i] = n
        self.count = half
        self.width *= 2

    def sort(self):
        """Cells in order of place; a robot that backs up brings them out of it."""
        for i in range(1, self.count):
            j = i
            while j > 0 and self.pos[j - 1] > self.pos[j]:
                self.swap(self.pos, j)
                self.swap(self.many, j)
                self.swap(self.c0, j)
                self.swap(self.c1, j)
                self.swap(self.c2, j)
                self.swap(self.c3, j)
                self.swap(self.code, j)
                j -= 1

    def swap(self, row, j):
        kept = row[j]
        row[j] = row[j - 1]
        row[j - 1] = kept

    def apart(self, i, at):
        """Squared difference of cell ``i`` from the four numbers ``at``."""
        a = self.c0[i] - at[0]
        b = self.c1[i] - at[1]
        c = self.c2[i] - at[2]
        d = self.c3[i] - at[3]
        return a * a + b * b + c * c + d * d

    def average(self):
        """The sums of the channels become means."""
        for i in range(self.count):
            n = self.many[i]
            self.c0[i] //= n
            self.c1[i] //= n
            self.c2[i] //= n
            self.c3[i] //= n
