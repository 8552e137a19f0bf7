"""How badly the cells of one slot fit one colour. Portable: see moment.py.

A sample over a marker departs from the field by cover * (marker - field), times a gain that all channels share for a
moment, perhaps with a share of white on top: a highlight, a cut edge. What is left is its misfit. Beyond CAP it hardly
grows: a sample may also show a line, a torn corner or nothing that is known, and then speaks against all colours alike.
Where all samples fit badly, the colour that they fit least badly is still the best guess. A highlight is one event over a
row of cells; it costs most where it begins, and more again where it would cover over half of a marker.
"""

FAR = 1000000000
CAP = 64  # 4 nat
BEYOND = 40  # by which a misfit beyond it may still grow, and the misfit at which it has grown half as much
HALF_BEYOND = 1000
STILL_SHINES = 24  # what it costs that a highlight goes on, a cell
SHINES_LONG = 96  # and from half of the cells on
DULL = 16  # a cell that fits better than this shows no highlight
MOST = 60000000
ROOM = 12  # see Marker
EDGE = 60  # per cent by which the coverage at a marker's edge may be out


class Misfit:
    """``now``: colour * 3 + channel, the departures to expect, filled by Hypotheses. ``fields``, ``leg``: see there.

    ``seen``, ``shown``, ``keen``: filled by Marker. ``white``: the direction of white, length 1024. ``loose`` (%): how far
    the cover may be out. ``common`` (1/4096): variance of the gain that all channels share. ``shines``: what it costs that a
    highlight begins, 1/16 nat.
    """

    def __init__(self, seen, shown, keen, fields, leg, now, white, loose, common, shines):
        self.seen = seen
        self.shown = shown
        self.keen = keen
        self.fields = fields
        self.leg = leg
        self.now = now
        self.white = white
        self.loose = loose
        self.common = common
        self.shines = shines
        self.mark = [0, 0, 0]
        self.ground = [0, 0, 0]
        self.pale = [0, 0, 0]
        self.plain = [0, 0, 0]  # what of the colour is not white
        self.reset()

    def reset(self):
        self.size = 0
        self.plain_size = 0
        self.bright = 1
        self.shining = 0  # the misfit of the cell asked last, were it a highlight

    def turn(self, i):
        """The field and white in the units of slot ``i``."""
        bright = 0
        for c in range(3):
            r = self.keen[i * 3 + c]
            self.ground[c] = min(self.fields[self.leg[i] * 3 + c] * r >> 8, 4095)
            w = self.white[c] * r >> 8
            self.pale[c] = w
            bright += w * w
        self.bright = (bright >> 10) + 1

    def stretch(self, i, k):
        """Colour ``k``'s departure in the units of slot ``i``."""
        size = 0
        for c in range(3):
            x = self.now[k * 3 + c] * self.keen[i * 3 + c] >> 8
            x = x if -4095 <= x <= 4095 else (4095 if x > 0 else -4095)
            self.mark[c] = x
            size += x * x
        self.size = size
        white = 0
        for c in range(3):
            white += self.mark[c] * self.pale[c] >> 10
        share = (white << 10) // self.bright
        size = 0
        for c in range(3):
            x = self.mark[c] - (share * self.pale[c] >> 10)
            self.plain[c] = x
            size += x * x
        self.plain_size = size

    def of(self, i, k, whole):
        """How badly the cells of slot ``i`` fit colour ``k``: the sum of their capped misfits, each as it weighs."""
        shown = self.shown
        at = i * ROOM * 6
        kept = self.seen[i * 4 + 1]
        total = 0
        if kept:
            self.stretch(i, k)
        if whole:
            shone = FAR
            long = 0
            for j in range(kept):
                w = shown[at + j * 6 + 5]
                plain = self.one(at + j * 6) * w
                best = total if total < shone else shone
                shone += (STILL_SHINES if long * 2 < kept else SHINES_LONG) * w
                long += 1
                if total + self.shines * w < shone:
                    shone = total + self.shines * w
                    long = 1
                shone += self.shining * w
                total = best + plain
            if shone < total:
                total = shone
        elif kept:
            cost = self.one(at + self.seen[i * 4 + 2] * 6)
            if self.shining + self.shines < cost:
                cost = self.shining + self.shines
            for j in range(kept):
                total += cost * shown[at + j * 6 + 5]
        return total >> 6

    def one(self, p):
        """The capped misfit of the cell at ``shown[p]`` to the colour that ``mark`` holds; ``shining``: were it a highlight.

        Cover and common gain move as far as their variances let them (two rounds of least squares, one at a time); the gain
        is of the mean of what is seen and what is expected, so that half as bright counts as much as twice.
        """
        shown = self.shown
        x = self.mark[0]
        y = self.mark[1]
        z = self.mark[2]
        spread = shown[p + 3]
        cover = shown[p + 4]
        a = shown[p] - (cover * x >> 8)
        b = shown[p + 1] - (cover * y >> 8)
        c = shown[p + 2] - (cover * z >> 8)
        u = shown[p] + self.ground[0] - a // 2
        v = shown[p + 1] + self.ground[1] - b // 2
        w = shown[p + 2] + self.ground[2] - c // 2
        give = (self.loose * 64 + (256 - cover) * EDGE // 4) // 100
        give = give * give
        spread_cover = ((spread << 12) // give + self.size >> 8) + 1
        spread_gain = ((spread << 12) // self.common + u * u + v * v + w * w >> 8) + 1
        move = moved(a * x + b * y + c * z, spread_cover)
        d = a - (move * x >> 12)
        e = b - (move * y >> 12)
        g = c - (move * z >> 12)
        gain = moved(d * u + e * v + g * w, spread_gain)
        d = a - (gain * u >> 12)
        e = b - (gain * v >> 12)
        g = c - (gain * w >> 12)
        move = moved(d * x + e * y + g * z, spread_cover)
        d -= move * x >> 12
        e -= move * y >> 12
        g -= move * z >> 12
        rest = d * d + e * e + g * g
        if rest > MOST:
            rest = MOST
        cost = rest * 8 // spread + move * move // (512 * give) + gain * gain // (512 * self.common)
        self.shining = capped(cost)
        if cost > DULL:
            white = (a * self.pale[0] >> 10) + (b * self.pale[1] >> 10) + (c * self.pale[2] >> 10)
            if white > 0:
                share = (white << 10) // self.bright
                a -= share * self.pale[0] >> 10
                b -= share * self.pale[1] >> 10
                c -= share * self.pale[2] >> 10
                x = self.plain[0]
                y = self.plain[1]
                z = self.plain[2]
                move = moved(a * x + b * y + c * z, ((spread << 12) // give + self.plain_size >> 8) + 1)
                a -= move * x >> 12
                b -= move * y >> 12
                c -= move * z >> 12
                rest = a * a + b * b + c * c
                if rest > MOST:
                    rest = MOST
                if white > 4000:
                    white = 4000
                spread += white * white >> 6  # a highlight is not quite white
                white = rest * 8 // spread + move * move // (512 * give)
                if white < cost:
                    self.shining = capped(white)
        return capped(cost)


def capped(cost):
    """A misfit, which beyond CAP hardly grows."""
    return cost if cost < CAP else CAP + BEYOND * (cost - CAP) // (cost + HALF_BEYOND)


def moved(along, spread):
    """``along`` / ``spread`` in 1/4096 (``spread`` is in 256), within +-1."""
    if along > MOST:
        along = MOST
    elif along < -MOST:
        along = -MOST
    t = (along << 4) // spread
    if t > 4096:
        return 4096
    return t if t > -4096 else -4096
