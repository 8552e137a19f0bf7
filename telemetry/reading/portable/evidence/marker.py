"""What stood at a place: the cells there, each with how far it is to be trusted. Portable: see moment.py."""

MISSING = -1073741824
ROOM = 12  # cells kept of one slot
ENOUGH = 384  # what all cells of a slot may weigh: as much as six samples that know nothing of each other, in 1/64
ROUGH = 200  # variance that no sensor is better than, scaled
LARGEST = 240000


class Marker:
    """Fills ``seen``, ``shown`` and ``told`` from the cells around a place.

    A row of 4 of ``seen``: 1 something there / 2 nothing departs there / 0 never passed; how many cells are kept; which of
    them is the most like all others; where (0.1 mm). ``shown``: (slot * ROOM + cell) * 6: its departure from the field in
    three channels (scaled), its variance, how much of the spot was on the marker (1/256), its weight (1/64).
    ``keen`` (slot * 3 + channel, 1/256): by how much a channel is stretched, so that all three err alike: an error goes with
    the light in its channel. ``told`` (slot * colours + colour): what the codes say, 1/16 nat.
    ``place``, ``where``, ``wide``: see ByDistance and ByOrder; ``half``: half widths, 0.1 mm; ``less``: place * 2 + side,
    by how much less than usual cells may be aside before and after it, for another marker is near. ``raw`` 1: raw channels
    count, ``light`` 1: of them only reflected light. ``own``: per cent of its light by which a surface may differ from its
    palette colour.
    ``coded``: code * colours + colour -> log-likelihood, 1/16 nat, its last row for every further code; empty: no codes
    used. There may be two such ``tables``, one behind the other; ``told`` then has a part for each.
    """

    def __init__(
        self, cells, field, place, half, less, where, wide, raw, light, own, coded, tables, colours, seen, shown, told, keen
    ):
        self.cells = cells
        self.field = field
        self.place = place
        self.half = half
        self.less = less
        self.where = where
        self.wide = wide
        self.raw = raw
        self.light = light
        self.own = own
        self.coded = coded
        self.tables = tables
        self.colours = colours
        self.seen = seen
        self.shown = shown
        self.told = told
        self.keen = keen
        self.reset()

    def reset(self):
        for i in range(len(self.seen)):
            self.seen[i] = 0
        for i in range(len(self.told)):
            self.told[i] = 0
        for i in range(len(self.half)):
            self.wide[i] = self.half[i]

    def keep(self, k):
        """What the cells around place ``k`` show of its marker."""
        slot = self.place[k]
        c = self.where[k]
        if c == MISSING:
            return
        low = c - self.wide[k] + self.less[2 * k]
        high = c + self.wide[k] - self.less[2 * k + 1]
        h = 35 if self.raw else 15
        departs = self.departs(low - h, high + h)
        if departs == MISSING:
            return
        self.seen[slot * 4] = 1 if departs > 0 else 2
        self.seen[slot * 4 + 3] = c
        if self.raw:
            self.pick(slot, c, self.wide[k], low - 10, high + 10)
        if len(self.coded):
            self.listen(slot, c, self.wide[k] + h, low - h, high + h)

    def departs(self, low, high):
        """How much the cells of a stretch speak against the field; MISSING: there are none."""
        total = MISSING
        for i in range(self.cells.count):
            if low <= self.cells.pos[i] <= high:
                if total == MISSING:
                    total = 0
                total += self.cells.away[i]
        return total

    def pick(self, slot, c, half, low, high):
        """Keep the cells on the marker; of more than there is room for, the mean of each few in a row."""
        pos = self.cells.pos
        n = 0
        near = pos[0]
        for i in range(self.cells.count):
            if low <= pos[i] <= high:
                n += 1
            if abs(pos[i] - c) < abs(near - c):
                near = pos[i]
        if n == 0:
            low = near
            high = near
            n = 1
        few = (n + ROOM - 1) // ROOM
        at = slot * ROOM * 6
        kept = 0
        joined = 0
        for i in range(self.cells.count):
            if low <= pos[i] <= high and kept < ROOM:
                self.join(at + kept * 6, i, abs(pos[i] - c), joined)
                joined += 1
                if joined == few:
                    self.settle(at + kept * 6, joined, half)
                    kept += 1
                    joined = 0
        if joined:
            self.settle(at + kept * 6, joined, half)
            kept += 1
        self.seen[slot * 4 + 1] = kept
        self.balance(at, kept)
        middle = self.middle(at, kept)
        self.seen[slot * 4 + 2] = middle
        self.even_out(slot * 3, at, kept, at + middle * 6)

    def even_out(self, row, at, kept, middle):
        """Stretch the channels of a slot so that all err alike, by the light in each at the cell ``middle``."""
        shown = self.shown
        keen = self.keen
        own = self.own * self.own
        level = self.field.level
        total = 0
        channels = 1 if self.light else 3
        for c in range(channels):
            light = shown[middle + c] + (level[3] if self.light else level[c])
            keen[row + c] = self.field.rough // 3 + ROUGH + light * light // 100 * own // 100
            total += keen[row + c]
        total //= channels
        for c in range(channels):
            square = total * 64 // keen[row + c] * 1024
            root = 256
            for _ in range(6):  # Newton's
                root = (root + square // root) // 2
            root = max(100, min(root, 800))
            keen[row + c] = root
            for p in range(at + c, at + kept * 6, 6):
                shown[p] = max(-4095, min(shown[p] * root >> 8, 4095))

    def join(self, at, i, gap, joined):
        """Add cell ``i`` to the row at ``at``: departures, samples, distances from the middle."""
        shown = self.shown
        level = self.field.level
        if joined == 0:
            for q in range(6):
                shown[at + q] = 0
        if self.light:
            shown[at] += self.cells.c3[i] - level[3]
        else:
            shown[at] += self.cells.c0[i] - level[0]
            shown[at + 1] += self.cells.c1[i] - level[1]
            shown[at + 2] += self.cells.c2[i] - level[2]
        shown[at + 3] += self.cells.many[i]
        shown[at + 4] += gap

    def settle(self, at, joined, half):
        """The sums of a row become a mean departure, its variance, cover and weight."""
        shown = self.shown
        a = shown[at] // joined
        b = shown[at + 1] // joined
        c = shown[at + 2] // joined
        shown[at] = a
        shown[at + 1] = b
        shown[at + 2] = c
        many = shown[at + 3]
        level = self.field.level
        if self.light:
            a += level[3]
        else:
            a += level[0]
            b += level[1]
            c += level[2]
        size = (a * a + b * b + c * c) // (1 if self.light else 3)
        spread = self.field.rough // (many if many < 3 else 3) + ROUGH + size // 100 * self.own * self.own // 100
        shown[at + 3] = spread if spread < LARGEST else LARGEST
        cover = self.covered(half - shown[at + 4] // joined)
        shown[at + 4] = cover
        # Neighbouring cells say much the same; those at an edge may be half of something else.
        shown[at + 5] = 38 if cover > 230 else 23

    def balance(self, at, kept):
        """No slot weighs more than ENOUGH, however many cells it has."""
        total = 0
        for j in range(kept):
            total += self.shown[at + j * 6 + 5]
        if total > ENOUGH:
            for j in range(kept):
                self.shown[at + j * 6 + 5] = self.shown[at + j * 6 + 5] * ENOUGH // total

    def middle(self, at, kept):
        """Which cell differs least from all others, each difference capped: what lasts outweighs what shines."""
        shown = self.shown
        best = 0
        least = 1000000000
        for j in range(kept):
            total = 0
            p = at + j * 6
            for i in range(kept):
                q = at + i * 6
                a = shown[p] - shown[q]
                b = shown[p + 1] - shown[q + 1]
                c = shown[p + 2] - shown[q + 2]
                size = a * a + b * b + c * c
                apart = size // ((shown[p + 3] + shown[q + 3]) // 8 + 1)
                total += (apart if apart < 64 else 64) * shown[q + 5]
            if total < least:
                least = total
                best = j
        return best

    def covered(self, inside):
        """Share of the spot (1/256) that lies on a marker whose edge is ``inside`` 0.1 mm away: a spot of 8 mm, roughly."""
        cover = 128 + inside * 128 // 40
        if cover > 256:
            return 256
        return cover if cover > 50 else 50

    def listen(self, slot, c, h, low, high):
        """Add up what the codes in the stretch say about each colour; those near its edges count a quarter."""
        colours = self.colours
        rows = len(self.coded) // self.tables
        for table in range(self.tables):
            first = table * rows
            row = table * (len(self.told) // self.tables) + slot * colours
            for i in range(self.cells.count):
                gap = abs(self.cells.pos[i] - c)
                if low <= self.cells.pos[i] <= high and self.cells.code[i] >= 0:
                    n = self.cells.many[i]
                    if n > 3:
                        n = 3
                    w = 4 * n if gap * 2 <= h else n
                    code = self.cells.code[i]
                    at = code * colours
                    if at >= rows:
                        at = rows - colours
                    for k in range(colours):
                        says = self.coded[first + at + k]
                        if code == self.field.code and self.coded[first + k] > says:
                            says = self.coded[first + k]  # the field's own code is none
                        self.told[row + k] += says * w // 8
