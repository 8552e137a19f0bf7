"""Where the slots of a leg lie, found from the places in the course and the robot's distance. Portable: see moment.py."""

FAR = 1000000000
CLOSE = 2  # 0.1 mm between what may show of two places from which they are one
ODD = 31  # parts of 1/64 by which places at the end of what may be make a margin count less: see Doubt


class ByDistance:
    """Fits the course's places to where the cells depart from the field; the distance may be wrong, the start off.

    ``place``: the places of all legs (slot, -2 a decoy, -1 the end of a leg), ``at``: their middles, ``low`` and ``high``:
    between which each may show, 0.1 mm; ``where``: the middles as found. ``wrong`` (1/1000) and ``off`` (0.1 mm): how far
    the distance and the start may be out. ``cap``: beyond this a slot is surely there, and more counts an eighth;
    ``least``: less says nothing more. Where slots may be empty they are out of reach and 0, else two slots would share a
    marker. ``odd``: leg -> how far they were out, filled for Doubt.
    """

    def __init__(self, cells, place, at, low, high, where, wrong, off, cap, least, odd):
        self.cells = cells
        self.place = place
        self.at = at
        self.low = low
        self.high = high
        self.where = where
        self.wrong = wrong
        self.off = off
        self.cap = cap
        self.least = least
        self.odd = odd
        self.upto = [0] * 514  # position on a grid -> sum of ``away`` below it
        self.reset()

    def reset(self):
        self.base = 0
        self.size = 1
        self.score = 0
        self.factor = 1000
        self.shift = 0
        for leg in range(len(self.odd)):
            self.odd[leg] = 0

    def grid(self):
        """``upto``: sums of ``away`` by place."""
        pos = self.cells.pos
        low = pos[0] - 1
        size = (pos[self.cells.count - 1] - low) // 512 + 1
        self.base = low
        self.size = size
        total = 0
        i = 0
        for g in range(514):
            edge = low + g * size
            while i < self.cells.count and pos[i] < edge:
                total += self.cells.away[i]
                i += 1
            self.upto[g] = total

    def inside(self, a, b):
        """Sum of ``away`` between two places."""
        g = (a - self.base) // self.size
        h = (b - self.base) // self.size
        if g < 0:
            g = 0
        elif g > 513:
            g = 513
        if h < 0:
            h = 0
        elif h > 513:
            h = 513
        return self.upto[h] - self.upto[g]

    def find(self, first, leg):
        """Factor and start that put the most departures into the slots' windows, then each place alone."""
        self.grid()
        place = self.place
        wrong = self.wrong
        off = self.off
        top = -FAR
        top_s = 1000
        top_o = 0
        step_s = wrong // 7 + 1
        s = 1000 - 7 * step_s
        while s <= 1000 + 7 * step_s:
            o = -(off // 50) * 50
            while o <= off:
                bent = (s - 1000) * 100 // (wrong + 1)
                late = o * 100 // (off + 1)
                score = -(bent * bent + late * late) // 250
                k = first
                while place[k] != -1:
                    here = self.inside((self.low[k] + o) * s // 1000, (self.high[k] + o) * s // 1000)
                    here = max(here, self.least)
                    if here > self.cap:
                        here = self.cap + (here - self.cap) // 8
                    score += here
                    k += 1
                if score > top:
                    top = score
                    top_s = s
                    top_o = o
                o += 50
            s += step_s
        self.score = top
        self.factor = top_s
        self.shift = top_o
        bent = (top_s - 1000) * 100 // (wrong + 1)
        late = top_o * 100 // (off + 1)
        self.odd[leg] = max(self.odd[leg], (bent * bent + late * late) // ODD)
        carry = 0
        behind = -FAR
        k = first
        while place[k] != -1:
            last = k  # markers that stand close move as one: inside them nothing tells where one ends
            while place[last + 1] != -1 and self.low[last + 1] - self.high[last] < CLOSE:
                last += 1
            low = self.put(self.low[k]) + carry
            high = self.put(self.high[last]) + carry
            best = -FAR
            move = 0
            d = -120
            while d <= 120:
                left = low + d
                if left < behind:
                    left = behind
                score = self.inside(left, high + d) * 4 - d * d // 60
                if score > best:
                    best = score
                    move = d
                d += 15
            carry += move
            while k <= last:
                self.where[k] = self.put(self.at[k]) + carry
                k += 1
            behind = high + move - 35
            carry -= move - move * 3 // 4

    def put(self, at):
        """A place of the course as the leg's factor and start have it."""
        return (at + self.shift) * self.factor // 1000
