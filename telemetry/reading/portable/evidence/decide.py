"""Decides all slots together from what was gathered about each. Portable: see moment.py.

How high the sensor was, how worn the colours are and which tint the light had is not known, but was the same for the whole
run: each of a few combinations is tried, and the one under which all slots fit the palette best, the rules of their groups
included, decides. Numbers are log-likelihoods in 1/16 nat.
"""

FAR = 1000000000
NEVER = 1000000
MOST = 8  # combinations that are worked out in full
FINER = 4  # gains between those of the list that are tried besides, around the best
NEAR = 64  # so far behind the best combination another still has a say


class Decide:
    """At the end of the run: one label a step, for the slot in ``m.slot``, with ``m.how`` and ``m.sure``.

    ``seen``: filled by Gather. ``unseen``: slot -> 1. ``ready``: shared, how many sensors have closed; ``sensors`` of them
    there are. ``timid``: below this m.sure a slot stays open. The parts: see their files.
    """

    def __init__(self, hypotheses, assignment, doubt, certainty, seen, unseen, ready, sensors, timid):
        self.hypotheses = hypotheses
        self.assignment = assignment
        self.doubt = doubt
        self.certainty = certainty
        self.seen = seen
        self.unseen = unseen
        self.ready = ready
        self.sensors = sensors
        self.timid = timid
        self.slots = len(unseen)
        self.fits = [0] * ((MOST + FINER) * len(assignment.fit))
        self.totals = [0] * (MOST + FINER)
        self.final = [0] * self.slots
        self.margin = [0] * self.slots
        self.reset()

    def reset(self):
        self.hypotheses.reset()
        self.assignment.reset()
        self.doubt.reset()
        self.certainty.reset()
        self.next = -1
        self.weakest = -1
        self.some = 0  # 1: something was seen of some slot
        self.ready[0] = 0
        self.told_all = 0
        self.mid = 1000
        self.from_here = 1000

    def step(self, label, m):
        if m.end == 0:
            return label
        if self.told_all == 0:
            self.told_all = 1
            self.ready[0] += 1
            if self.ready[0] == self.sensors:
                self.decide()
                self.find_weakest()
                self.next = 0
        while 0 <= self.next < self.slots:
            i = self.next
            self.next = i + 1
            sure = self.certainty.of(self.margin[i])
            if i != self.weakest:
                sure = self.certainty.alone(sure)
            if self.final[i] >= 0 and sure >= self.timid and self.some:
                m.slot = i
                m.sure = sure
                if self.unseen[i]:
                    m.how = 1
                elif self.seen[i * 4] == 0:
                    m.how = 1 if self.margin[i] > 0 else 2
                elif self.final[i] == 0:
                    m.how = 3
                return self.final[i]
        return -1

    def find_weakest(self):
        """The slot with the least margin: it carries the doubt about the whole run."""
        least = FAR
        for i in range(self.slots):
            if self.final[i] >= 0 and self.margin[i] < least:
                least = self.margin[i]
                self.weakest = i

    def decide(self):
        """The answer of the best combination, and how far behind the best other answer for each slot is.

        First a sketch of every combination, then the fits of the most promising ones, whose answers are compared; then, for
        each slot, what the whole loses under any of them that comes near when the slot must have another colour, as far as
        that counts.
        """
        final = self.final
        for i in range(self.slots):
            final[i] = -1
            self.margin[i] = 0
            if self.seen[i * 4]:
                self.some = 1
        if self.hypotheses.raw:
            self.doubt.ask()
        for t in range(self.hypotheses.tries):
            self.work(t, 0)
        top = -FAR
        first = 0
        best = -1
        for j in range(MOST + FINER):
            if j < MOST:
                t = self.hypotheses.promising()
            else:
                t = self.finer(best, j)
            self.totals[j] = -FAR
            if t >= 0:
                total = self.work(t, 1)
                self.totals[j] = total
                self.store(j)
                if total > top:
                    top = total
                    first = j * len(self.assignment.fit)
                    best = t
                    self.mid = self.hypotheses.nudge
                    for i in range(self.slots):
                        final[i] = self.assignment.answer[i]
        self.hypotheses.nudge = 1000
        self.doubt.weigh(self.fits, first, self.final)
        for i in range(self.slots):
            if final[i] >= 0:
                fit = self.fits[first + i * self.assignment.colours + final[i]]
                self.margin[i] = self.doubt.left(i, final[i], self.behind(i, top), fit)

    def finer(self, t, j):
        """Combination ``t`` with its gain a tenth up or down, then a twentieth; -1: there is no gain to alter."""
        if self.hypotheses.raw == 0:
            return -1
        if j == MOST or j == MOST + 2:
            self.from_here = self.mid
        part = 105 if j < MOST + 2 else 52
        if j % 2:
            part = -part
        self.hypotheses.nudge = self.from_here + self.from_here * part // 1000
        return t

    def work(self, t, whole):
        """Combination ``t``: a sketch of it (``whole`` 0) goes to its bound, else what its best answer is worth."""
        cost = self.hypotheses.fill(t, whole)
        if whole:
            return self.assignment.solve() - cost
        self.hypotheses.bound[t] = self.assignment.most() - cost
        return 0

    def store(self, j):
        """Keep the fits of the combination worked out as the ``j``-th; its cost is the difference to its total."""
        fit = self.assignment.fit
        at = j * len(fit)
        for i in range(len(fit)):
            self.fits[at + i] = fit[i]

    def behind(self, i, top):
        """How far the best answer with another colour for slot ``i`` is behind, under every combination that comes near."""
        least = NEVER // 2
        fit = self.assignment.fit
        for j in range(MOST + FINER):
            if self.totals[j] > top - NEAR:
                at = j * len(fit)
                for n in range(len(fit)):
                    fit[n] = self.fits[at + n]
                whole = self.assignment.solve()
                fit[i * self.assignment.colours + self.final[i]] = -NEVER
                other = self.assignment.solve()
                gap = top - self.totals[j] + whole - other
                if gap < least:
                    least = gap
        return least if least > 0 else 0
