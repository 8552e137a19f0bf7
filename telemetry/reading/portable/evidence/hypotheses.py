"""What light and height a run may have had, and how well each slot's colours fit then. Portable: see moment.py.

A sample over a marker departs from the field by cover * (marker - field), times a gain that all channels share for a
moment, perhaps with a share of white on top: a highlight, a cut edge. What is left is its misfit. Beyond CAP it hardly
grows: a sample may also show a line, a torn corner or nothing that is known, and then speaks against all colours alike.
Where all samples fit badly, the colour that they fit least badly is still the best guess.
"""

NEVER = 1000000
FAR = 1000000000
CAP = 64  # 4 nat
BEYOND = 40  # by which a misfit beyond it may still grow, and the misfit at which it has grown half as much
HALF_BEYOND = 1000
WHITE = 32  # what a share of white costs
LITERAL = 24  # what it costs that codes mean what they are called, and not what they meant at calibration
MOST = 60000000
ROOM = 12  # see Marker
EDGE = 60  # per cent by which the coverage at a marker's edge may be out
TIED = 1100  # 1/1000 of the field's gain from which a gain is improbable: nothing takes light from the field alone


class Hypotheses:
    """Combinations of gain and kind of light, each tried for the whole run at its cost; numbers: 1/16 nat.

    ``seen``, ``shown``, ``told``, ``fields``: filled by Gather. ``marks``: colour * 3 + channel, the palette's departure
    from its own field, scaled. ``none``: the palette's field. ``white``: the direction of white, length 1024.
    ``leg``: slot -> leg. ``keen``: filled by Marker. ``raw`` 1: raw channels count. ``loose`` (%): how far the cover may be
    out. ``common`` (1/4096): variance of the gain that all channels share. ``gains`` (1/1000 of the palette's departures)
    and the four modes of ``mode_cost`` (see ``shade``) are tried in every combination. The assignment's ``fit`` is filled.
    """

    def __init__(
        self, assignment, seen, shown, told, fields, marks, none, white, leg, keen, raw, loose, common, gains, gain_cost,
        mode_cost,
    ):  # fmt: skip
        self.assignment = assignment
        self.seen = seen
        self.shown = shown
        self.told = told
        self.fields = fields
        self.marks = marks
        self.none = none
        self.white = white
        self.leg = leg
        self.keen = keen
        self.raw = raw
        self.loose = loose
        self.common = common
        self.gains = gains
        self.gain_cost = gain_cost
        self.mode_cost = mode_cost
        self.slots = len(leg)
        self.colours = len(marks) // 3
        self.tries = 4 * len(gains) if raw else len(told) // len(assignment.fit)
        self.bound = [0] * self.tries
        self.now = [0] * (self.colours * 3)
        self.mark = [0, 0, 0]
        self.ground = [0, 0, 0]
        self.pale = [0, 0, 0]
        self.reset()

    def reset(self):
        self.legs_gain = 0
        self.size = 0
        self.bright = 1

    def promising(self):
        """The combination with the highest bound, which is then used up; -1: none is left."""
        t = -1
        high = -FAR
        for k in range(self.tries):
            if self.bound[k] > high:
                high = self.bound[k]
                t = k
        if t >= 0:
            self.bound[t] = -FAR
        return t

    def fill(self, t, whole):
        """The assignment's ``fit`` under combination ``t``; returns what the combination costs beforehand.

        ``whole`` 0: a sketch, from each slot's middle cell alone.
        """
        cost = 0
        fit = self.assignment.fit
        barred = self.assignment.barred
        if self.raw:
            mode = t // len(self.gains)
            gain = self.gains[t % len(self.gains)]
            cost = self.gain_cost[t % len(self.gains)] + self.mode_cost[mode]
            if mode < 2:
                cost += self.untied(gain)
            for i in range(self.slots):
                if i == 0 or self.leg[i] != self.leg[i - 1]:
                    self.shade(self.leg[i] * 3, mode, gain)
                self.turn(i)
                for k in range(self.colours):
                    at = i * self.colours + k
                    if barred[at]:
                        fit[at] = -NEVER
                    else:
                        worth = self.misfit(i, k, whole)
                        fit[at] = self.told[at] - worth
        else:
            cost = t * LITERAL
            for at in range(len(fit)):
                fit[at] = -NEVER if barred[at] else self.told[t * len(fit) + at]
        return cost

    def untied(self, gain):
        """What it costs that the markers' gain is greater than the field's own."""
        if self.legs_gain == 0:
            have = 0
            want = 0
            for at in range(0, len(self.fields), 3):
                if self.fields[at] + self.fields[at + 1] + self.fields[at + 2] > 0:
                    for c in range(3):
                        have += self.fields[at + c]
                        want += self.none[c]
            self.legs_gain = have * 1000 // want + 1 if want > 60 else 1000000
        apart = gain * 1000 // self.legs_gain
        if apart <= TIED:
            return 0
        over = (apart - TIED) * 1000 // apart
        return 320 * over // 1000 * over // 1000

    def shade(self, at, mode, gain):
        """``now``: the departures to expect on a leg whose field is at ``fields[at]``.

        Mode 0: those of the palette, as light that adds to everything leaves them. 2: the palette's colours beside the field
        as it is, for a field that is another than the palette's. 1 and 3: likewise, in light of the field's tint.
        """
        marks = self.marks
        none = self.none
        fields = self.fields
        now = self.now
        total = none[0] + none[1] + none[2]
        have = fields[at] + fields[at + 1] + fields[at + 2]
        for c in range(3):
            # the light's tint, from how the field's channels stand to each other now and in the palette
            share = 256
            if mode % 2 and none[c] > 20 and have > 20:
                share = max(160, min(fields[at + c] * 256 // none[c] * total // have, 400))
            for k in range(self.colours):
                if mode >= 2:
                    x = (marks[k * 3 + c] + none[c]) * gain // 1000 * share // 256 - fields[at + c]
                else:
                    x = marks[k * 3 + c] * gain // 1000 * share // 256
                now[k * 3 + c] = x if -4095 <= x <= 4095 else (4095 if x > 0 else -4095)

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

    def misfit(self, i, k, whole):
        """How badly the cells of slot ``i`` fit colour ``k``: the sum of their capped misfits, each as it weighs."""
        shown = self.shown
        at = i * ROOM * 6
        kept = self.seen[i * 4 + 1]
        total = 0
        if kept:
            self.stretch(i, k)
        if whole:
            for j in range(kept):
                total += self.one(at + j * 6) * shown[at + j * 6 + 5]
        elif kept:
            cost = self.one(at + self.seen[i * 4 + 2] * 6)
            for j in range(kept):
                total += cost * shown[at + j * 6 + 5]
        return total >> 6

    def one(self, p):
        """The capped misfit of the cell at ``shown[p]`` to the colour that ``mark`` holds.

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
        cost = rest * 8 // spread
        white = (d * self.pale[0] >> 10) + (e * self.pale[1] >> 10) + (g * self.pale[2] >> 10)
        if white > 0:
            without = rest - white * white // self.bright * 1024 if white < 7700 else 0
            if without < 0:
                without = 0
            without = without * 8 // spread + WHITE
            if without < cost:
                cost = without
        cost += move * move // (512 * give) + gain * gain // (512 * self.common)
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
