"""Collects what the sensor saw over each slot, found from signal and distance together. Portable: see moment.py.

While driving, samples are only added up in cells (a few millimetres each). When a leg ends, the field's own level is found
among the cells, the slots' places are fitted to where the signal departs from it (the distance may be wrong by a factor, and
the start off), and each slot's departure from the field is kept. Ambient light that adds to everything cancels in it.
"""

MISSING = -1073741824
FAR = 1000000000
BRIDGE = 10  # how much more a cell of the field counts against one marker on both sides of it
CAP = 400  # beyond this a slot is surely there, and more counts an eighth
MOST = 4095  # four times the palette's span: what is brighter still is no different


class Gather:
    """Fills ``seen`` (a row of 8 a slot) and ``told`` (slot * colours + colour) for the slots of one sensor.

    A row of ``seen``: 1 something there / 2 nothing departs there / 0 never passed; the departure in the four channels
    (scaled); its variance; where (0.1 mm); how much of the spot was on the marker (1/256).

    ``mul``: channel -> factor / 256 to scaled units, 0 where not used. ``none``: the palette's field, scaled. ``noise``:
    variance of one sample, scaled. ``coded``: code * colours + colour -> log-likelihood, 1/16 nat; empty: no codes used.
    ``begin`` (leg -> first place), ``place`` (slot, -2 a decoy, -1 the end of a leg), ``at`` and ``half`` (0.1 mm; ``at``
    MISSING: only the order is known). ``room``: cells kept; ``grain``: their width, 0.1 mm; ``split`` 1: another
    code begins another. ``ordered`` 1: distances are not used. ``wrong`` (1/1000) and ``off`` (0.1 mm): how far the distance
    and the start may be out.
    """

    def __init__(
        self, mul, none, noise, coded, colours, begin, place, at, half, seen, told, fields, room, grain, split, ordered,
        wrong, off,
    ):  # fmt: skip
        self.mul = mul
        self.none = none
        self.noise = noise
        self.coded = coded
        self.colours = colours
        self.begin = begin
        self.place = place
        self.at = at
        self.half = half
        self.seen = seen
        self.told = told
        self.fields = fields
        self.room = room
        self.grain = grain
        self.split = split
        self.ordered = ordered
        self.wrong = wrong
        self.off = off
        self.raw = 1 if mul[0] or mul[1] or mul[2] or mul[3] else 0
        self.pos = [0] * room
        self.many = [0] * room
        self.c0 = [0] * room
        self.c1 = [0] * room
        self.c2 = [0] * room
        self.c3 = [0] * room
        self.code = [0] * room
        self.away = [0] * room  # evidence against the field, 1/16 nat
        self.upto = [0] * 514  # position on a grid -> sum of ``away`` below it
        self.field = [0, 0, 0, 0]
        self.mean = [0, 0, 0, 0]
        self.where = [0] * len(place)
        self.wide = [0] * len(place)  # half the width, as found
        most = 2
        run = 0
        for k in range(len(place)):
            run = 0 if place[k] == -1 else run + 1
            if run > most:
                most = run
        self.cuts = [0] * ((most + 1) * 2 * room if ordered else 0)
        self.best = [0] * ((most + 2) * 2)
        self.reset()

    def reset(self):
        self.leg = 0
        self.cells = 0
        self.width = self.grain
        self.here = 0
        self.start = MISSING
        self.t0 = MISSING
        self.sigma = self.noise
        self.low = 0
        self.size = 1
        self.score = 0
        self.factor = 1000
        self.shift = 0
        self.found = 0
        self.gap = 0
        for i in range(len(self.seen)):
            self.seen[i] = 0
        for i in range(len(self.told)):
            self.told[i] = 0
        for i in range(len(self.half)):
            self.wide[i] = self.half[i]

    def step(self, label, m):
        if m.end:
            if self.cells:
                self.close()
            return -1
        if m.leg != self.leg:
            if self.cells:
                self.close()
            self.leg = m.leg
        if self.ordered:
            if self.t0 == MISSING:
                self.t0 = m.t
            here = ((m.t - self.t0) & 1073741823) * 10
        else:
            here = m.pos
            if here == MISSING:
                here = self.here
        self.here = here
        code = m.code
        if self.raw:
            mul = self.mul
            if (
                (mul[0] and m.red < 0)
                or (mul[1] and m.green < 0)
                or (mul[2] and m.blue < 0)
                or (mul[3] and m.refl < 0)
                or (mul[0] and m.red + m.green + m.blue == 0)
            ):
                return -1  # a drop-out: it says nothing about any colour
        elif code < 0:
            return -1
        self.add(here, code, m)
        return -1

    def add(self, here, code, m):
        """One sample into the cell it belongs to."""
        k = self.cells - 1
        gone = here - self.start if k >= 0 else 0
        if k < 0 or gone >= self.width or -gone >= self.width or (self.split and code != self.code[k]):
            if self.cells == self.room:
                self.halve()
            k = self.cells
            self.cells = k + 1
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
        self.cells = half
        self.width *= 2

    def close(self):
        """The leg is over: find the field, fit the places, keep what stood there."""
        place = self.place
        first = self.begin[self.leg]
        if place[first] != -1 and self.cells:
            for i in range(self.cells):
                n = self.many[i]
                self.c0[i] //= n
                self.c1[i] //= n
                self.c2[i] //= n
                self.c3[i] //= n
            if self.ordered == 0:
                self.sort()
            if self.raw:
                self.find_field()
            self.weigh()
            if self.ordered:
                self.by_order(first)
            else:
                self.by_distance(first)
            k = first
            while place[k] != -1:
                if place[k] >= 0:
                    self.keep(k)
                k += 1
        self.cells = 0
        self.width = self.grain
        self.start = MISSING

    def sort(self):
        """Cells in order of place; a robot that backs up brings them out of it."""
        for i in range(1, self.cells):
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
        z = a * a + b * b + c * c + d * d
        return z if z < FAR else FAR

    def find_field(self):
        """The field is the level that most cells have: try some, settle on the mean of those near it."""
        cells = self.cells
        most = -1
        tries = 16 if cells > 16 else cells
        stride = cells // 64 + 1
        at = self.mean
        for k in range(tries):
            i = k * cells // tries
            at[0] = self.c0[i]
            at[1] = self.c1[i]
            at[2] = self.c2[i]
            at[3] = self.c3[i]
            near = 0
            reach = self.wide_reach(at)
            j = 0
            while j < cells:  # MicroPython would make an object of a range with such a step
                if self.apart(j, at) < reach:
                    near += 1
                j += stride
            near = near * 8 + (4 if k < 3 else 0)
            if near > most:
                most = near
                for c in range(4):
                    self.field[c] = at[c]
        reach = self.wide_reach(self.field)
        for _ in range(4):
            n = 0
            spread = 0
            for c in range(4):
                at[c] = 0
            for j in range(cells):
                z = self.apart(j, self.field)
                if z < reach:
                    at[0] += self.c0[j]
                    at[1] += self.c1[j]
                    at[2] += self.c2[j]
                    at[3] += self.c3[j]
                    spread += z if z < 100000 else 100000
                    n += 1
            for c in range(4):
                self.field[c] = at[c] // n
            self.sigma = spread // n // 3 + 1
            # Cells farther than about four deviations are edges or something else.
            reach = 16 * self.sigma + 300
        k = self.leg * 4
        for c in range(4):
            self.fields[k + c] = self.field[c]

    def wide_reach(self, at):
        """How far from a level cells may be that belong to it: noise, and a twentieth of the level for an uneven field."""
        size = at[0] * at[0] + at[1] * at[1] + at[2] * at[2] + at[3] * at[3]
        return 27 * self.noise + size // 400 + 300

    def weigh(self):
        """How much each cell speaks against the field, and the running sum over the way."""
        floor = self.sigma + 150
        for i in range(self.cells):
            if self.raw:
                z = self.apart(i, self.field) * 8 // floor
                if z > 260:
                    z = 260
                self.away[i] = z - 80
            elif self.code[i] > 0:
                n = self.many[i]
                self.away[i] = 60 * (n if n < 3 else 3)
            else:
                self.away[i] = -70

    def grid(self):
        """``upto``: sums of ``away`` by place."""
        low = self.pos[0] - 1
        size = (self.pos[self.cells - 1] - low) // 512 + 1
        self.low = low
        self.size = size
        total = 0
        i = 0
        for g in range(514):
            edge = low + g * size
            while i < self.cells and self.pos[i] < edge:
                total += self.away[i]
                i += 1
            self.upto[g] = total

    def inside(self, a, b):
        """Sum of ``away`` between two places."""
        g = (a - self.low) // self.size
        h = (b - self.low) // self.size
        if g < 0:
            g = 0
        elif g > 513:
            g = 513
        if h < 0:
            h = 0
        elif h > 513:
            h = 513
        return self.upto[h] - self.upto[g]

    def by_distance(self, first):
        """Factor and start that put the most departures into the slots' windows, then each place on its own."""
        self.grid()
        place = self.place
        wrong = self.wrong
        off = self.off
        top = -FAR
        top_s = 1000
        top_o = 0
        step_s = wrong // 7 + 1
        step_o = 50
        s = 1000 - 7 * step_s
        while s <= 1000 + 7 * step_s:
            o = -(off // step_o) * step_o
            while o <= off:
                bent = (s - 1000) * 100 // (wrong + 1)
                late = o * 100 // (off + 1)
                score = -(bent * bent + late * late) // 250
                k = first
                while place[k] != -1:
                    c = (self.at[k] + o) * s // 1000
                    h = self.half[k] + 25
                    here = self.inside(c - h, c + h)
                    if here > CAP:
                        here = CAP + (here - CAP) // 8
                    score += here
                    k += 1
                if score > top:
                    top = score
                    top_s = s
                    top_o = o
                o += step_o
            s += step_s
        self.score = top
        self.factor = top_s
        self.shift = top_o
        carry = 0
        behind = -FAR
        k = first
        while place[k] != -1:
            c = (self.at[k] + top_o) * top_s // 1000 + carry
            h = self.half[k] + 25
            best = -FAR
            move = 0
            d = -120
            while d <= 120:
                left = c + d - h
                if left < behind:
                    left = behind
                score = self.inside(left, c + d + h) * 4 - d * d // 60
                if score > best:
                    best = score
                    move = d
                d += 15
            self.where[k] = c + move
            behind = c + move + self.half[k] - 10
            carry += move * 3 // 4
            k += 1

    def by_order(self, first):
        """Only the order is known: the best so many stretches that depart from the field, found together."""
        place = self.place
        slots = 0
        while place[first + slots] != -1:
            slots += 1
        cells = self.cells
        best = self.best
        cuts = self.cuts
        # best[2j]: j stretches closed, best[2j + 1]: inside the j-th (counted from 1).
        for j in range(2 * slots + 2):
            best[j] = -FAR
        best[0] = 0
        row = 2 * slots + 2
        for i in range(cells):
            join = self.join(i)
            gain = self.away[i]
            if gain < 0:
                gain *= BRIDGE
            j = slots
            while j >= 1:
                stay = best[2 * j - 1] - join
                fresh = best[2 * j - 2] - 120
                done = best[2 * j - 1]
                # the stretch before may end right here and the next begin
                if j >= 2 and best[2 * j - 3] - 120 > fresh:
                    fresh = best[2 * j - 3] - 120
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
        best = self.best
        cuts = self.cuts
        state = 2 * slots if best[2 * slots] > best[2 * slots - 1] else 2 * slots - 1
        i = self.cells - 1
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
                self.where[first + j] = (self.pos[i] + self.pos[end]) // 2
                self.wide[first + j] = (self.pos[end] - self.pos[i]) // 2 + 1
                if cut == 2:
                    state -= 2
                    end = i - 1
                else:
                    state -= 1
            i -= 1

    def join(self, i):
        """What it costs that cell ``i`` belongs to the same marker as the one before: the turn of their departures."""
        if i == 0:
            return 0
        if self.raw == 0:
            if self.code[i] != self.code[i - 1] and self.code[i] > 0 and self.code[i - 1] > 0:
                return 40
            return 0
        f = self.field
        a0 = (self.c0[i - 1] - f[0]) >> 2
        a1 = (self.c1[i - 1] - f[1]) >> 2
        a2 = (self.c2[i - 1] - f[2]) >> 2
        b0 = (self.c0[i] - f[0]) >> 2
        b1 = (self.c1[i] - f[1]) >> 2
        b2 = (self.c2[i] - f[2]) >> 2
        x = a1 * b2 - a2 * b1
        y = a2 * b0 - a0 * b2
        z = a0 * b1 - a1 * b0
        if x < 0:
            x = -x
        if y < 0:
            y = -y
        if z < 0:
            z = -z
        turn = x + y + z
        size = a0 * a0 + a1 * a1 + a2 * a2
        other = b0 * b0 + b1 * b1 + b2 * b2
        if other < size:
            size = other
        turn = turn * 60 // (size + self.sigma // 16 + 400)
        return turn if turn < 100 else 100

    def keep(self, k):
        """What the cells around place ``k`` show of its marker: the departure where it is covered best."""
        slot = self.place[k]
        c = self.where[k]
        h = self.wide[k] + (35 if self.raw else 15)
        row = slot * 8
        seen = self.seen
        if c == MISSING:
            return
        f = self.field
        mean = self.mean
        for q in range(4):
            mean[q] = 0
        cells = self.cells
        weight = 0
        for i in range(cells):
            gap = self.pos[i] - c
            if gap < 0:
                gap = -gap
            if gap <= h:
                w = 4 - 3 * gap // h
                weight += w
                mean[0] += w * (self.c0[i] - f[0])
                mean[1] += w * (self.c1[i] - f[1])
                mean[2] += w * (self.c2[i] - f[2])
                mean[3] += w * (self.c3[i] - f[3])
        if weight == 0:
            return
        if self.raw:
            for q in range(4):
                mean[q] //= weight
            self.peak(c, h)
            for q in range(4):
                seen[row + 1 + q] = self.mean[q]
            n = self.found
            seen[row + 5] = self.sigma // (n if n < 12 else 12) + 200
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
        for i in range(self.cells):
            if c - h <= self.pos[i] <= c + h:
                total += self.away[i]
        return total

    def peak(self, c, h):
        """The mean of the cells that go at least two thirds as far as the farthest in the stretch's own direction."""
        f = self.field
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
            for i in range(self.cells):
                gap = self.pos[i] - c
                if -h <= gap <= h:
                    a = self.c0[i] - f[0]
                    b = self.c1[i] - f[1]
                    g = self.c2[i] - f[2]
                    d = self.c3[i] - f[3]
                    along = (a * u0 + b * u1 + g * u2 + d * u3) >> 4
                    if turn == 0:
                        if along > far:
                            far = along
                    elif along * 3 >= far * 2:
                        w = self.many[i]
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
        for i in range(self.cells):
            gap = self.pos[i] - c
            if gap < 0:
                gap = -gap
            if gap <= h and self.code[i] >= 0:
                n = self.many[i]
                if n > 3:
                    n = 3
                w = 4 * n if gap * 2 <= h else n
                at = self.code[i] * colours
                for k in range(colours):
                    self.told[row + k] += self.coded[at + k] * w // 8
