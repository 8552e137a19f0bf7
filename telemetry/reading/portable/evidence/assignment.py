"""The best colours for all slots together, under the rules of their groups. Portable: see moment.py."""

FAR = 1000000000
NEVER = 1000000


class Assignment:
    """``answer``: slot -> colour, -1 open, from ``fit`` (slot * colours + colour; log-likelihoods, -NEVER: it cannot be).

    ``group``: slot -> group, ``kind``: group -> 0 any colours, 1 each of ``pool`` at the most once. ``pool``: group * 31 +
    item -> colour, -1 after the last. ``bare``: slot -> 1 where nothing may stand. ``unseen``: slot -> 1. ``seen``: see
    Marker. ``barred``: slot * colours + colour -> 1: cannot stand there.
    """

    def __init__(self, group, kind, pool, bare, unseen, seen, colours):
        self.group = group
        self.kind = kind
        self.pool = pool
        self.bare = bare
        self.unseen = unseen
        self.seen = seen
        self.colours = colours
        self.slots = len(group)
        self.fit = [0] * (self.slots * colours)
        self.barred = [0] * (self.slots * colours)
        self.answer = [0] * self.slots
        most = 1
        for g in range(len(kind)):
            n = 0
            while pool[g * 31 + n] != -1:
                n += 1
            if n > most:
                most = n
        for i in range(self.slots):
            for k in range(colours):
                if k or bare[i] == 0:
                    self.barred[i * colours + k] = 1
            for n in range(31):
                k = pool[group[i] * 31 + n]
                if k >= 0:
                    self.barred[i * colours + k] = 0
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
        pass

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
                        if self.seen[i * 4] == 0 or self.unseen[i]:
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
