"""What light and height a run may have had, and how well each slot's colours fit then. Portable: see moment.py."""

EDGE = 60  # per cent by which the coverage at a marker's edge may be out
NEVER = 1000000
FAR = 1000000000


def fits(a, b, c, d, x, y, z, w, reach, loose, spread):
    """How badly a departure (a..d) fits a colour's (x..w), 1/16 nat: beside its direction, and along it from ``reach``.

    ``reach``: the share of it to expect, 1/4096; ``loose`` per cent: how much that may vary. ``spread``: variance.
    """
    own = a * a + b * b + c * c + d * d
    size = x * x + y * y + z * z + w * w
    along = a * x + b * y + c * z + d * w
    if along < 0:
        along = 0
    if along > 16000000:
        along = 16000000
    cover = (along << 6) // ((size >> 6) + 1)
    if cover > 8191:
        cover = 8191
    beside = own - (((along >> 6) * cover) >> 6)
    if beside < 0:
        beside = 0
    off = cover - reach
    if off < 0:
        off = -off
    if off > 4095:
        off = 4095
    far = (((off * off) >> 12) * (size >> 6)) >> 6
    give = (((reach * reach) >> 12) * (size >> 6) >> 6) // 100 * loose // 100 * loose
    if beside > 100000000:
        beside = 100000000
    cost = beside * 8 // spread + far * 8 // (spread + give)
    return cost if cost < 4000 else 4000


class Hypotheses:
    """Combinations of wear, gain and kind of light, each tried for the whole run at its cost; numbers: 1/16 nat.

    ``seen``, ``told``, ``fields``: filled by Gather. ``marks`` and ``wear``: colour * 4 + channel, the palette's departure
    from its own field and what wear adds to it, scaled. ``none``: the palette's field. ``leg``: slot -> leg. ``raw`` 1: raw
    channels count. ``own``: per cent of its departure by which a slot may lie beside its colour's, ``loose`` along it (wear,
    coverage). ``worns`` (1/1000 of the way to grey), ``gains`` (per cent of the palette's departures) and the four modes of
    ``mode_cost`` (see ``shade``) are tried in every combination. ``assignment``: its ``fit`` is filled.
    """

    def __init__(
        self, assignment, seen, told, fields, marks, wear, none, leg, raw, own, loose, worns, worn_cost, gains, gain_cost,
        mode_cost,
    ):  # fmt: skip
        self.assignment = assignment
        self.seen = seen
        self.told = told
        self.fields = fields
        self.marks = marks
        self.wear = wear
        self.none = none
        self.leg = leg
        self.raw = raw
        self.own = own
        self.loose = loose
        self.worns = worns
        self.worn_cost = worn_cost
        self.gains = gains
        self.gain_cost = gain_cost
        self.mode_cost = mode_cost
        self.slots = len(leg)
        self.colours = len(marks) // 4
        self.tries = 4 * len(worns) * len(gains) if raw else 1
        self.bound = [0] * self.tries
        self.now = [0] * (self.colours * 4)
        self.reset()

    def reset(self):
        pass

    def promising(self, top):
        """The combination with the highest bound above ``top``, which is then used up; -1: none."""
        t = -1
        high = top
        for k in range(self.tries):
            if self.bound[k] > high:
                high = self.bound[k]
                t = k
        if t >= 0:
            self.bound[t] = -FAR
        return t

    def fill(self, t):
        """``fit``: slot * colours + colour, under combination ``t``; returns what the combination costs beforehand."""
        cost = 0
        if self.raw:
            gains = len(self.gains)
            mode = t // (gains * len(self.worns))
            w = t // gains % len(self.worns)
            gain = self.gains[t % gains]
            cost = self.worn_cost[w] + self.gain_cost[t % gains] + self.mode_cost[mode]
            for i in range(self.slots):
                if i == 0 or self.leg[i] != self.leg[i - 1]:
                    self.shade(self.leg[i] * 4, mode, self.worns[w], gain)
                self.compare(i, gain, mode)
        else:
            for i in range(self.slots * self.colours):
                self.assignment.fit[i] = -NEVER if self.assignment.barred[i] else self.told[i]
        return cost

    def shade(self, at, mode, worn, gain):
        """``now``: the departures to expect on a leg whose field is at ``fields[at]``.

        Mode 0: those of the palette, as light that adds to everything leaves them. 2: the palette's colours beside the field
        as it is, for a field that is another than the palette's. 1 and 3: likewise, in light of the field's tint.
        """
        marks = self.marks
        wear = self.wear
        none = self.none
        total = 0
        have = 0
        for c in range(4):
            total += none[c]
            have += self.fields[at + c]
        for c in range(4):
            # the light's tint, from how the field's channels stand to each other now and in the palette
            share = 256
            if mode % 2 and none[c] > 20 and have > 20:
                share = self.fields[at + c] * 256 // none[c] * total // have
                if share < 160:
                    share = 160
                elif share > 400:
                    share = 400
            for k in range(self.colours):
                x = marks[k * 4 + c] + wear[k * 4 + c] * worn // 1000
                if mode >= 2:
                    self.now[k * 4 + c] = (x + none[c]) * gain // 100 * share // 256 - self.fields[at + c]
                else:
                    self.now[k * 4 + c] = x * share // 256

    def compare(self, i, gain, mode):
        """``fit`` of slot ``i``: how far its departure lies beside each colour's direction, and how far along it."""
        seen = self.seen
        now = self.now
        colours = self.colours
        row = i * 8
        out = i * colours
        if seen[row] == 0:
            for k in range(colours):
                self.assignment.fit[out + k] = -NEVER if self.assignment.barred[out + k] else self.told[out + k]
        else:
            a = seen[row + 1]
            b = seen[row + 2]
            c = seen[row + 3]
            d = seen[row + 4]
            size = a * a + b * b + c * c + d * d
            spread = seen[row + 5] + size // 10000 * self.own * self.own // 3
            reach = (4096 if mode >= 2 else gain * 4096 // 100) * seen[row + 7] >> 8
            loose = self.loose + (256 - seen[row + 7]) * EDGE // 256
            for k in range(colours):
                if self.assignment.barred[out + k]:
                    self.assignment.fit[out + k] = -NEVER
                else:
                    at = k * 4
                    worth = fits(a, b, c, d, now[at], now[at + 1], now[at + 2], now[at + 3], reach, loose, spread)
                    self.assignment.fit[out + k] = self.told[out + k] - worth
