"""Decides all slots together from what was gathered about each. Portable: see moment.py.

How high the sensor was, how worn the colours are and which tint the light had is not known, but was the same for the whole
run: each of a few combinations is tried, and the one under which all slots fit the palette best, the rules of their groups
included, decides. Numbers are log-likelihoods in 1/16 nat.
"""

FAR = 1000000000
NEVER = 1000000
MOST = 12  # combinations that are worked out in full


class Decide:
    """At the end of the run: one label a step, for the slot in ``m.slot``, with ``m.how`` and ``m.sure``.

    ``seen``: filled by Gather. ``unseen``: slot -> 1. ``ready``: shared, how many sensors have closed; ``sensors`` of them
    there are. ``timid``: below this m.sure a slot stays open. The parts: see their files.
    """

    def __init__(self, hypotheses, assignment, certainty, seen, unseen, ready, sensors, timid):
        self.hypotheses = hypotheses
        self.assignment = assignment
        self.certainty = certainty
        self.seen = seen
        self.unseen = unseen
        self.ready = ready
        self.sensors = sensors
        self.timid = timid
        self.slots = len(unseen)
        self.final = [0] * self.slots
        self.margin = [0] * self.slots
        self.reset()

    def reset(self):
        self.hypotheses.reset()
        self.assignment.reset()
        self.certainty.reset()
        self.next = -1
        self.weakest = -1
        self.some = 0  # 1: something was seen of some slot
        self.ready[0] = 0
        self.told_all = 0

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
                elif self.seen[i * 8] == 0:
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
        """The best combination's answer, and how far behind the best other answer for each slot is.

        One loop does it all: first every combination's upper bound, then the answers of those that can still win, the most
        promising first, then for each slot what the whole loses when it must have another colour.
        """
        tries = self.hypotheses.tries
        top = -FAR
        winner = -1
        for i in range(self.slots):
            self.final[i] = -1
            self.margin[i] = 0
            if self.seen[i * 8]:
                self.some = 1
        for job in range(tries + MOST + self.slots):
            t = job
            ban = -1
            if job >= tries + MOST:
                t = winner
                ban = job - tries - MOST
                if winner >= 0 and self.final[ban] < 0:
                    t = -1
            elif job >= tries:
                t = self.hypotheses.promising(top)
            if t >= 0:
                cost = self.hypotheses.fill(t)
                if job < tries:
                    self.hypotheses.bound[t] = self.assignment.most() - cost
                else:
                    if ban >= 0:
                        self.assignment.fit[ban * self.assignment.colours + self.final[ban]] = -NEVER
                    total = self.assignment.solve() - cost
                    if ban >= 0:
                        gap = top - total
                        self.margin[ban] = gap if gap < NEVER // 2 else NEVER // 2
                    elif total > top:
                        top = total
                        winner = t
                        for i in range(self.slots):
                            self.final[i] = self.assignment.answer[i]
