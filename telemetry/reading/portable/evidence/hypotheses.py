"""What light and height a run may have had, and how well each slot's colours fit then. Portable: see moment.py."""

NEVER = 1000000
FAR = 1000000000
LITERAL = 24  # what it costs that codes mean what they are called, and not what they meant at calibration
TIED = 1100  # 1/1000 of the field's gain from which a gain is improbable: nothing takes light from the field alone


class Hypotheses:
    """Combinations of gain and kind of light, each tried for the whole run at its cost; numbers: 1/16 nat.

    ``told``, ``fields``: filled by Gather. ``marks``: colour * 3 + channel, the palette's departure from its own field,
    scaled; ``now``: those to expect, filled for ``misfit``, a part. ``none``: the palette's field. ``leg``: slot -> leg.
    ``raw`` 1: raw channels count. ``gains`` (1/1000 of the palette's departures) and the four modes of ``mode_cost`` (see
    ``shade``) are tried in every combination. The assignment's ``fit`` is filled.
    """

    def __init__(self, assignment, misfit, told, fields, marks, now, none, leg, raw, gains, gain_cost, mode_cost):
        self.assignment = assignment
        self.misfit = misfit
        self.told = told
        self.fields = fields
        self.marks = marks
        self.now = now
        self.none = none
        self.leg = leg
        self.raw = raw
        self.gains = gains
        self.gain_cost = gain_cost
        self.mode_cost = mode_cost
        self.slots = len(leg)
        self.colours = len(marks) // 3
        self.tries = 4 * len(gains) if raw else len(told) // len(assignment.fit)
        self.bound = [0] * self.tries
        self.reset()

    def reset(self):
        self.misfit.reset()
        self.legs_gain = 0
        self.nudge = 1000  # 1/1000 by which a gain is altered

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
            gain = self.gains[t % len(self.gains)] * self.nudge // 1000
            cost = self.gain_cost[t % len(self.gains)] + self.mode_cost[mode]
            if mode < 2:
                cost += self.untied(gain)
            for i in range(self.slots):
                if i == 0 or self.leg[i] != self.leg[i - 1]:
                    self.shade(self.leg[i] * 3, mode, gain)
                self.misfit.turn(i)
                for k in range(self.colours):
                    at = i * self.colours + k
                    if barred[at]:
                        fit[at] = -NEVER
                    else:
                        worth = self.misfit.of(i, k, whole)
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
        for c in range(3):
            share = 256
            if mode % 2:
                share = self.tint(at, c)
            for k in range(self.colours):
                if mode >= 2:
                    x = (marks[k * 3 + c] + none[c]) * gain // 1000 * share // 256 - fields[at + c]
                else:
                    x = marks[k * 3 + c] * gain // 1000 * share // 256
                now[k * 3 + c] = x if -4095 <= x <= 4095 else (4095 if x > 0 else -4095)

    def tint(self, at, c):
        """The light's tint in a channel (1/256), from how the field's channels stand to each other."""
        none = self.none
        fields = self.fields
        have = fields[at] + fields[at + 1] + fields[at + 2]
        if none[c] > 20 and have > 20:
            return max(160, min(fields[at + c] * 256 // none[c] * (none[0] + none[1] + none[2]) // have, 400))
        return 256
