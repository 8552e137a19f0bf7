"""Decides all slots together from what was gathered about each. Portable: see moment.py.

How high the sensor was, how worn the colours are and which tint the light had is not known, but was the same for the whole
run: each of a few combinations is tried, and the one under which all slots fit the palette best, the rules of their groups
included, decides. Numbers are log-likelihoods in 1/16 nat.
"""

FAR = 1000000000
NEVER = 1000000
EDGE = 60  # per cent by which the coverage at a marker's edge may be out
MOST = 12  # combinations that are worked out in full


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


class Decide:
    """At the end of the run: one label a step, for the slot in ``m.slot``, with ``m.how`` and ``m.sure``.

    ``seen``, ``told``, ``fields``: filled by Gather. ``marks`` and ``wear``: colour * 4 + channel, the palette's departure
    from its own field and what wear adds to it, scaled. ``none``: the palette's field. ``leg``: slot -> leg.
    ``group``: slot -> group, ``kind``: group -> 0 any colours, 1 each of ``pool`` at the most once. ``pool``: group * 31 +
    item -> colour, -1 after the last. ``bare``: slot -> 1 where nothing may stand. ``unseen``: slot -> 1.
    ``raw`` 1: raw channels count. ``own``: per cent of its departure by which a slot may lie beside its colour's, ``loose``
    along it (wear, coverage). ``sure_at``: margins (1/16 nat) at which m.sure reaches the values of ``sure`` (1/10000).
    ``ready``: shared, how many sensors have closed; ``sensors`` of them there are. ``timid``: below this m.sure a slot stays
    open. ``worns`` (1/1000 of the way to grey), ``gains`` (per cent of the palette's departures) and ``mode_cost``'s four
    modes (see ``shade``) are tried in every combination, each at its cost.
    """

    def __init__(
        self, seen, told, fields, marks, wear, none, leg, group, kind, pool, bare, unseen, raw, own, loose, sure_at, sure,
        ready, sensors, timid, worns, worn_cost, gains, gain_cost, mode_cost,
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
        self.loose = loose
        self.sure_at = sure_at
        self.sure = sure
        self.ready = ready
        self.sensors = sensors
        self.timid = timid
        self.worns = worns
        self.worn_cost = worn_cost
        self.gains = gains
        self.gain_cost = gain_cost
        self.mode_cost = mode_cost
        self.slots = len(leg)
        self.colours = len(marks) // 4
        self.tries = 4 * len(self.worns) * len(self.gains) if raw else 1
        self.bound = [0] * self.tries
        self.fit = [0] * (self.slots * self.colours)
        self.barred = [0] * (self.slots * self.colours)  # colours that cannot stand there
        self.now = [0] * (self.colours * 4)
        self.answer = [0] * self.slots
        self.final = [0] * self.slots
        self.margin = [0] * self.slots
        most = 1
        for g in range(len(kind)):
            n = 0
            while pool[g * 31 + n] != -1:
                n += 1
            if n > most:
                most = n
        for i in range(self.slots):
            for k in range(self.colours):
                if k or bare[i] == 0:
                    self.barred[i * self.colours + k] = 1
            for n in range(31):
                k = pool[group[i] * 31 + n]
                if k >= 0:
                    self.barred[i * self.colours + k] = 0
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
            sure = self.sureness(self.margin[i])
            if i != self.weakest:
                sure = self.alone(sure)
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

    def alone(self, sure):
        """One slot's certainty, from that of a whole run with such a margin: where that is high, doubts are shared out."""
        doubt = 10000 - sure
        share = 200 // self.slots
        if doubt <= 200:
            doubt //= self.slots
        elif doubt < 1000:
            doubt = share + (doubt - 200) * (1000 - share) // 800
        return 10000 - doubt if doubt > 0 else 9999

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
        """The best combination's answer, and how far behind the best other answer for each slot is.

        One loop does it all: first every combination's upper bound, then the answers of those that can still win, the most
        promising first, then for each slot what the whole loses when it must have another colour.
        """
        tries = self.tries
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
                t = self.promising(top)
            if t >= 0:
                cost = self.fill(t)
                if job < tries:
                    self.bound[t] = self.most() - cost
                else:
                    if ban >= 0:
                        self.fit[ban * self.colours + self.final[ban]] = -NEVER
                    total = self.solve() - cost
                    if ban >= 0:
                        gap = top - total
                        self.margin[ban] = gap if gap < NEVER // 2 else NEVER // 2
                    elif total > top:
                        top = total
                        winner = t
                        for i in range(self.slots):
                            self.final[i] = self.answer[i]

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

    def most(self):
        """What the slots would gain if each could have its best colour."""
        total = 0
        for i in range(self.slots):
            best = -NEVER
            row = i * self.colours
            for k in range(self.colours):
                if self.fit[row + k] > best:
                    best = self.fit[row + k]
            if best > -NEVER:
                total += best
        return total

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
                self.fit[i] = -NEVER if self.barred[i] else self.told[i]
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
                self.fit[out + k] = -NEVER if self.barred[out + k] else self.told[out + k]
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
                if self.barred[out + k]:
                    self.fit[out + k] = -NEVER
                else:
                    at = k * 4
                    worth = fits(a, b, c, d, now[at], now[at + 1], now[at + 2], now[at + 3], reach, loose, spread)
                    self.fit[out + k] = self.told[out + k] - worth

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
                        if j <= items:
                            cost = -self.fit[rows[at] * self.colours + self.pool[g * 31 + j - 1]]
                        elif j - items == at:
                            cost = -self.fit[rows[at] * self.colours]
                        else:
                            cost = NEVER
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
                self.answer[i] = self.pool[g * 31 + j - 1] if j <= items else 0
                total += self.fit[i * self.colours + self.answer[i]]
        return total
