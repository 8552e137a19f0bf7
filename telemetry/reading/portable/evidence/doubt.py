"""How much of a margin counts: what a margin of likelihoods cannot show makes it count less. Portable: see moment.py.

A margin says how much better one colour fits than another. It does not say that the samples fit badly everywhere, that the
places were found where a robot hardly ever is, that another way of reading them says something else, or that a surface's
samples err together. Each of these is held against it.
"""

USUAL = 288  # weight (1/64) of a slot's cells at which its margin counts as it is; more cells of a surface err alike
LEAST = 192
MOST = 4000
MISFIT = 4  # 1/64 for each 1/16 nat by which a cell misfits on the average
OUTVOTED = 64  # 1/64 where all cells of a slot vote for another colour
APART = 64  # 1/64 where the codes fit their own colour as badly as the next one
ROW = 72  # of ``shown`` a slot, see Marker
FARTHEST = 40000  # squared, 1/1024: from there on a vote is for none
INNER = 180  # coverage (1/256) from which on a cell shows the marker's own colour


class Doubt:
    """Holds against a run's margins what speaks against them. ``odd``: leg -> how improbable its places are, 1/64, filled by
    ByDistance. ``calm``: 64 where poses are steady, more where the palette's captures waver in a common gain.
    ``shares``: colour * 3 + channel, 1/1024 of the palette's light. ``voice``: 1/16 nat that a vote speaks for its colour.
    """

    def __init__(self, hypotheses, misfit, odd, calm, shares, voice):
        self.hypotheses = hypotheses
        self.misfit = misfit
        self.odd = odd
        self.calm = calm
        self.shares = shares
        self.voice = voice
        self.share = [0, 0, 0]
        self.votes = [0] * len(hypotheses.assignment.fit)
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
                if misfit > 0:
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
        for p in range(i * ROW + 5, i * ROW + self.misfit.seen[i * 4 + 1] * 6, 6):
            total += self.misfit.shown[p]
        return total

    def left(self, i, k, margin, fit):
        """What is left of the ``margin`` by which colour ``k`` with its ``fit`` leads at slot ``i``."""
        if margin <= 0:
            return 0
        margin = min(margin, MOST)
        against = self.run
        if self.hypotheses.raw:
            row = i * self.hypotheses.colours
            if self.votes[row]:
                against += OUTVOTED * (self.votes[row] - self.votes[row + k]) // self.votes[row]
            weight = self.weight(i)
            margin = margin * USUAL // (weight if weight > LEAST else LEAST)
        else:
            against += min(-fit, MOST) * APART // margin
        margin = margin * 64 // against
        return margin if margin > 0 else 1

    def ask(self):
        """Each cell votes for the colour whose shares of the channels, in all light there is, are nearest to its own.

        Another way of reading, which errs where the light has a tint, and not where departures from the field do not carry
        over. The tint that the field shows counts where all cells are nearer to some colour then, and votes a quarter.
        """
        if self.misfit.white[1]:
            plain = self.count(0)
            voice = self.voice // 4
            if self.count(1) >= plain:
                voice = self.voice
                self.count(0)
            for at in range(len(self.votes)):
                if at % self.hypotheses.colours:
                    self.hypotheses.told[at] += voice * self.votes[at] >> 6

    def count(self, tinted):
        """Fill ``votes``, of a slot's first colour their sum; returns how far all cells are from what they vote for."""
        votes = self.votes
        shown = self.misfit.shown
        share = self.share
        colours = self.hypotheses.colours
        for at in range(len(votes)):
            votes[at] = 0
        total = 0
        for i in range(len(votes) // colours):
            leg = self.hypotheses.leg[i] * 3
            for p in range(i * ROW, i * ROW + self.misfit.seen[i * 4 + 1] * 6, 6):
                if shown[p + 4] > INNER:
                    light = 0
                    for c in range(3):
                        have = shown[p + c] * 256 // self.misfit.keen[i * 3 + c] + self.hypotheses.fields[leg + c]
                        if tinted:
                            have = have * 256 // self.hypotheses.tint(leg, c)
                        share[c] = have if have > 1 else 1
                        light += share[c]
                    best = 0
                    least = FARTHEST
                    for k in range(1, colours):
                        apart = 0
                        for c in range(3):
                            gap = self.shares[k * 3 + c] - share[c] * 1024 // light
                            apart += gap * gap
                        if apart < least and self.hypotheses.assignment.barred[i * colours + k] == 0:
                            least = apart
                            best = k
                    total += least
                    votes[i * colours] += shown[p + 5]
                    if best:
                        votes[i * colours + best] += shown[p + 5]
        return total
