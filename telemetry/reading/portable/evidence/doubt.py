"""How much of a margin counts: what a margin of likelihoods cannot show makes it count less. Portable: see moment.py.

A margin says how much better one colour fits than another. It does not say that the samples fit badly everywhere, that the
places were found where a robot hardly ever is, that another way of reading them says something else, or that a surface's
samples err together. Each of these is held against it.
"""

USUAL = 288  # weight (1/64) of a slot's cells at which its margin counts as it is; more cells of a surface err alike
LEAST = 192
MOST = 4000
MISFIT = 4  # 1/64 for each 1/16 nat by which a cell misfits on the average
OUTVOTED = 64  # 1/64 where all cells of a slot are nearest to another colour
APART = 64  # 1/64 where the codes fit their own colour as badly as the next one
ROOM = 12  # see Marker
INNER = 180  # coverage (1/256) from which on a cell shows the marker's own colour


class Doubt:
    """Holds against a run's margins what speaks against them. ``odd``: leg -> how improbable its places are, 1/64, filled by
    ByDistance. ``calm``: 64 where poses are steady, more where the palette's captures waver in a common gain.
    """

    def __init__(self, hypotheses, misfit, odd, calm):
        self.hypotheses = hypotheses
        self.misfit = misfit
        self.odd = odd
        self.calm = calm
        self.share = [0, 0, 0]
        self.reset()

    def reset(self):
        self.run = self.calm

    def weigh(self, fits, first, final):
        """What speaks against all slots: ``fits`` from ``first`` on are the best combination's, ``final`` its answer."""
        total = 0
        slots = 0
        for i in range(len(final)):
            weight = self.weight(i)
            if final[i] >= 0 and weight:
                misfit = -fits[first + i * self.hypotheses.colours + final[i]]
                total += min(misfit, MOST * 8) * 64 // weight
                slots += 1
        self.run = self.calm
        if slots:
            self.run += total * MISFIT // slots
        worst = 0
        for leg in range(len(self.odd)):
            if self.odd[leg] > worst:
                worst = self.odd[leg]
        self.run += worst

    def weight(self, i):
        """What the cells of slot ``i`` weigh, 1/64."""
        total = 0
        for j in range(self.misfit.seen[i * 4 + 1]):
            total += self.misfit.shown[(i * ROOM + j) * 6 + 5]
        return total

    def left(self, i, k, margin, fit):
        """What is left of the ``margin`` by which colour ``k`` with its ``fit`` leads at slot ``i``."""
        if margin <= 0:
            return 0
        margin = min(margin, MOST)
        against = self.run
        if self.hypotheses.raw:
            against += self.outvoted(i, k)
            weight = self.weight(i)
            margin = margin * USUAL // (weight if weight > LEAST else LEAST)
        else:
            against += min(-fit, MOST) * APART // margin
        margin = margin * 64 // against
        return margin if margin > 0 else 1

    def outvoted(self, i, k):
        """OUTVOTED times the part of their weight by which the cells of slot ``i`` are nearest to another colour than ``k``.

        Nearest by the shares of the channels in all light there is, field and marker together: another way of reading, which
        errs where departures from the field do not carry over, and not where those do.
        """
        shown = self.misfit.shown
        if self.misfit.white[1] == 0:
            return 0
        total = 0
        other = 0
        for j in range(self.misfit.seen[i * 4 + 1]):
            p = (i * ROOM + j) * 6
            if shown[p + 4] > INNER:
                total += shown[p + 5]
                if self.nearest(i, p) != k:
                    other += shown[p + 5]
        return OUTVOTED * other // total if total else 0

    def nearest(self, i, p):
        """The colour that may stand at slot ``i`` whose shares are nearest to those of the cell at ``p``."""
        share = self.share
        light = 0
        for c in range(3):
            have = self.misfit.shown[p + c] * 256 // self.misfit.keen[i * 3 + c]
            have += self.hypotheses.fields[self.hypotheses.leg[i] * 3 + c]
            share[c] = have if have > 1 else 1
            light += share[c]
        for c in range(3):
            share[c] = share[c] * 1024 // light
        best = -1
        least = 4 * 1024 * 1024
        for k in range(1, self.hypotheses.colours):
            if self.hypotheses.assignment.barred[i * self.hypotheses.colours + k] == 0:
                apart = self.apart(k)
                if apart < least:
                    least = apart
                    best = k
        return best

    def apart(self, k):
        """Squared distance of ``share`` from the shares of colour ``k`` in the palette."""
        light = 0
        for c in range(3):
            have = self.hypotheses.marks[k * 3 + c] + self.hypotheses.none[c]
            light += have if have > 1 else 1
        total = 0
        for c in range(3):
            have = self.hypotheses.marks[k * 3 + c] + self.hypotheses.none[c]
            gap = (have if have > 1 else 1) * 1024 // light - self.share[c]
            total += gap * gap
        return total
