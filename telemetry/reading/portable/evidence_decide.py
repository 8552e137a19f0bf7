"""Decides all slots together from what was gathered about each. Portable: see moment.py.

How high the sensor was, how worn the colours are and which tint the light had is not known, but was the same for the whole
run: each of a few combinations is tried, and the one under which all slots fit the palette best, the rules of their groups
included, decides. Numbers are log-likelihoods in 1/16 nat.
"""

FAR = 1000000000
NEVER = 1000000


class Decide:
    """At the end of the run: one label a step, for the slot in ``m.slot``, with ``m.how`` and ``m.sure``.

    ``seen``, ``told``, ``fields``: filled by Gather. ``marks`` and ``wear``: colour * 4 + channel, the palette's departure
    from its own field and what wear adds to it, scaled. ``none``: the palette's field. ``leg``: slot -> leg.
    ``group``: slot -> group, ``kind``: group -> 0 any colours, 1 each of ``pool`` at the most once. ``pool``: group * 30 +
    item -> colour, -1 after the last. ``bare``: slot -> 1 where nothing may stand. ``unseen``: slot -> 1.
    ``raw`` 1: raw channels count. ``own``: per cent by which a slot's own error may grow with its departure.
    ``sure_at``: margins (1/16 nat) at which m.sure reaches the values of ``sure`` (1/10000). ``ready``: shared, how many
    sensors have closed; ``sensors`` of them there are. ``timid``: below this m.sure a slot stays open. ``worns`` (1/1000 of
    the way to grey) and ``gains`` (per cent of the palette's departures) are tried in every combination, each at its cost.
    """

    def __init__(
        self, seen, told, fields, marks, wear, none, leg, group, kind, pool, bare, unseen, raw, own, sure_at, sure, ready,
        sensors, timid, worns, worn_cost, gains, gain_cost,
    ):  # fmt: skip
        self.seen = seen
        self.told = told
        self.fields = fields
        self.marks = marks
        self.wear = wear
        self.none = none
        self.leg = leg
        self.group = group
        self.kind = kind
        self.pool = pool
        self.bare = bare
        self.unseen = unseen
        self.raw = raw
        self.own = own
        self.sure_at = sure_at
        self.sure = sure
        self.ready = ready
        self.sensors = sensors
        self.timid = timid
        self.worns = worns
        self.worn_cost = worn_cost
        self.gains = gains
        self.gain_cost = gain_cost
        self.slots = len(leg)
        self.colours = len(marks) // 4
        self.tries = 2 * len(self.worns) * len(self.gains) if raw else 1
        self.bound = [0] * self.tries
        self.fit = [0] * (self.slots * self.colours)
        self.now = [0] * (self.colours * 4)
        self.answer = [0] * self.slots
        self.final = [0] * self.slots
        self.margin = [0] * self.slots
        self.rest = [0] * self.slots
        most = 1
        for g in range(len(kind)):
            n = 0
            while pool[g * 31 + n] != -1:
                n += 1
            if n > most:
                most = n
        # the assignment's own tables: rows are slots, columns the pool's items and one 'empty' for each slot
        wide = most + self.slots + 2
        self.u = [0] * (self.slots + 2)
        self.v = [0] * wide
        self.p = [0] * wide
        self.back = [0] * wide
        self.low = [0] * wide
        self.used = [0] * wide
        self.rows = [0] * (self.slots + 1)
        self.reset()

    def reset(self):
        self.next = -1
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
                self.next = 0
        while 0 <= self.next < self.slots:
            i = self.next
            self.next = i + 1
            sure = self.sureness(self.margin[i])
            if self.final[i] >= 0 and sure >= self.timid:
                m.slot = i
                m.sure = sure
                if self.unseen[i]:
                    m.how = 1
                elif self.final[i] == 0:
                    m.how = 3
                return self.final[i]
        return -1

    def sureness(self, margin):
        """The margin as a probability in 1/10000, between the table's points straight."""
        at = self.sure_at
        k = 1
        last = len(at) - 1
        while k < last and margin > at[k]:
            k += 1
        if margin >= at[last]:
            return self.sure[last]
        if margin <= at[0]:
            return self.sure[0]
        return self.sure[k - 1] + (self.sure[k] - self.sure[k - 1]) * (margin - at[k - 1]) // (at[k] - at[k - 1])

    def decide(self):
        """The best combination's answer, and how far behind the best other answer for each slot is."""
        top = -FAR
        for t in range(self.tries):
            cost = self.fill(t)
            total = -cost
            for i in range(self.slots):
                best = -NEVER
                row = i * self.colours
                for k in range(self.colours):
                    if self.fit[row + k] > best:
                        best = self.fit[row + k]
                if best > -NEVER:
                    total += best
            self.bound[t] = total
        for i in range(self.slots):
            self.rest[i] = -FAR
            self.final[i] = -1
        winner = -1
        for turn in range(self.tries):
            # the most promising first; those that cannot reach the best are left out
            t = -1
            high = -FAR
            for k in range(self.tries):
                if self.bound[k] > high:
                    high = self.bound[k]
                    t = k
            if t < 0 or high <= top or turn >= 12:
                break
            self.bound[t] = -FAR
            cost = self.fill(t)
            total = self.solve() - cost
            if total > top:
                top = total
                winner = t
                for i in range(self.slots):
                    self.final[i] = self.answer[i]
        if winner < 0:
            return
        self.fill(winner)
        self.rivals()

    def rivals(self):
        """The margin of each slot: what the whole loses when this slot must have another colour."""
        whole = self.solve()
        for i in range(self.slots):
            if self.final[i] < 0:
                self.margin[i] = 0
                continue
            at = i * self.colours + self.final[i]
            kept = self.fit[at]
            self.fit[at] = -NEVER
            other = self.solve()
            self.fit[at] = kept
            gap = whole - other
            self.margin[i] = gap if gap < NEVER // 2 else NEVER // 2

    def fill(self, t):
        """``fit``: slot * colours + colour, under combination ``t``; returns what the combination costs beforehand."""
        colours = self.colours
        if self.raw == 0:
            for i in range(self.slots * colours):
                self.fit[i] = self.told[i]
            self.bar()
            return 0
        gains = len(self.gains)
        tint = t // (gains * len(self.worns))
        w = t // gains % len(self.worns)
        gain = self.gains[t % gains]
        worn = self.worns[w]
        for i in range(self.slots):
            if i == 0 or self.leg[i] != self.leg[i - 1]:
                self.shade(self.leg[i] * 4, tint, worn)
            self.compare(i, gain)
        self.bar()
        return self.worn_cost[w] + self.gain_cost[t % gains]

    def shade(self, at, tint, worn):
        """``now``: the departures to expect on a leg whose field is at ``fields[at]``."""
        marks = self.marks
        wear = self.wear
        none = self.none
        now = self.now
        total = 0
        have = 0
        for c in range(4):
            total += none[c]
            have += self.fields[at + c]
        for k in range(self.colours):
            for c in range(4):
                x = marks[k * 4 + c] + wear[k * 4 + c] * worn // 1000
                if tint and none[c] > 20 and have > 20:
                    # the light's tint, from how the field's channels stand to each other now and in the palette
                    share = self.fields[at + c] * 256 // none[c] * total // have
                    if share < 170:
                        share = 170
                    elif share > 380:
                        share = 380
                    x = x * share // 256
                now[k * 4 + c] = x

    def compare(self, i, gain):
        """``fit`` of slot ``i``: the distance of its departure from each colour's, the best coverage near ``gain`` taken."""
        seen = self.seen
        now = self.now
        colours = self.colours
        row = i * 8
        if seen[row] == 0:
            for k in range(colours):
                self.fit[i * colours + k] = self.told[i * colours + k]
            return
        a = seen[row + 1]
        b = seen[row + 2]
        c = seen[row + 3]
        d = seen[row + 4]
        own = a * a + b * b + c * c + d * d
        spread = seen[row + 5] + own // 10000 * self.own * self.own // 3
        low = gain * 88 // 100
        high = gain * 108 // 100
        for k in range(colours):
            at = k * 4
            x = now[at]
            y = now[at + 1]
            z = now[at + 2]
            w = now[at + 3]
            size = x * x + y * y + z * z + w * w
            along = a * x + b * y + c * z + d * w
            cover = along // (size // 100 + 1)
            if cover < low:
                cover = low
            elif cover > high:
                cover = high
            miss = own - (along // 50) * cover + (size // 100) * cover // 100 * cover
            if miss < 0:
                miss = 0
            if miss > 100000000:
                miss = 100000000
            worth = miss * 8 // spread
            if worth > 4000:
                worth = 4000
            self.fit[i * colours + k] = self.told[i * colours + k] - worth

    def bar(self):
        """Colours that cannot stand in a slot."""
        colours = self.colours
        for i in range(self.slots):
            g = self.group[i] * 31
            for k in range(colours):
                allowed = 0
                if k == 0:
                    allowed = self.bare[i]
                else:
                    j = g
                    while self.pool[j] != -1:
                        if self.pool[j] == k:
                            allowed = 1
                        j += 1
                if allowed == 0:
                    self.fit[i * colours + k] = -NEVER

    def solve(self):
        """The best answer for all slots under the rules; returns its log-likelihood."""
        total = 0
        colours = self.colours
        for g in range(len(self.kind)):
            if self.kind[g] == 0:
                for i in range(self.slots):
                    if self.group[i] == g:
                        best = -NEVER
                        self.answer[i] = -1
                        for k in range(colours):
                            if self.fit[i * colours + k] > best:
                                best = self.fit[i * colours + k]
                                self.answer[i] = k
                        if self.seen[i * 8] == 0 or self.unseen[i]:
                            self.answer[i] = -1
                        elif best > -NEVER:
                            total += best
                        else:
                            total -= NEVER
            else:
                total += self.assign(g)
        return total

    def worth(self, i, j, items, g):
        """What slot ``i`` gains from the pool's item ``j`` (from 1), or from being empty (its own column)."""
        if j <= items:
            return self.fit[i * self.colours + self.pool[g * 31 + j - 1]]
        return self.fit[i * self.colours]

    def assign(self, g):
        """One item a slot, no item twice: successive augmentation along shortest paths (the Hungarian method)."""
        rows = self.rows
        n = 0
        for i in range(self.slots):
            if self.group[i] == g:
                n += 1
                rows[n] = i
        items = 0
        while self.pool[g * 31 + items] != -1:
            items += 1
        # slots that may be empty each get a column that no other slot can use
        columns = items
        bare = 0
        for r in range(1, n + 1):
            if self.bare[rows[r]]:
                bare = 1
        if bare:
            columns = items + n
        u = self.u
        v = self.v
        p = self.p
        back = self.back
        low = self.low
        used = self.used
        for r in range(n + 1):
            u[r] = 0
        for j in range(columns + 1):
            v[j] = 0
            p[j] = 0
        for r in range(1, n + 1):
            p[0] = r
            j0 = 0
            for j in range(columns + 1):
                low[j] = FAR
                used[j] = 0
            while p[j0] != 0:
                used[j0] = 1
                at = p[j0]
                delta = FAR
                j1 = 0
                for j in range(1, columns + 1):
                    if used[j] == 0:
                        if j > items and j - items != at:
                            cost = NEVER
                        else:
                            cost = -self.worth(rows[at], j, items, g)
                        cost -= u[at] + v[j]
                        if cost < low[j]:
                            low[j] = cost
                            back[j] = j0
                        if low[j] < delta:
                            delta = low[j]
                            j1 = j
                for j in range(columns + 1):
                    if used[j]:
                        u[p[j]] += delta
                        v[j] -= delta
                    else:
                        low[j] -= delta
                j0 = j1
            while j0:
                j1 = back[j0]
                p[j0] = p[j1]
                j0 = j1
        total = 0
        for j in range(1, columns + 1):
            if p[j]:
                i = rows[p[j]]
                gain = self.worth(i, j, items, g)
                total += gain
                self.answer[i] = self.pool[g * 31 + j - 1] if j <= items else 0
        return total
