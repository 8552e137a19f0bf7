"""What the course says about colours that stand together. Portable: see moment.py."""


class Distinct:
    """No colour twice in a group. ``group``: slot -> group, the last entry for 'no slot'; ``taken``: see Ledger."""

    def __init__(self, group, taken):
        self.group = group
        self.taken = taken
        self.reset()

    def reset(self):
        pass

    def step(self, label, m):
        if label > 0 and (self.taken[self.group[m.slot]] >> label) & 1:
            return -1
        return label


class Open:
    """Only colours still open at the slot: a colour leaves when it is read. ``board``: see Ledger."""

    def __init__(self, board):
        self.board = board
        self.reset()

    def reset(self):
        pass

    def step(self, label, m):
        if label > 0:
            colours = self.board[m.slot]
            if colours < 0 or (colours >> label) & 1 == 0:
                return -1
        return label


class Eliminate:
    """A slot for which only one colour is left gets it, where the group's colours are known one for one.

    ``exact``: slot -> 0 no such group, 1 a slot the sensor passes, 2 an unseen one. ``early`` 1: as soon as it follows;
    0: for slots the sensor passes only at the end of the run. ``board``, ``tally``: see Ledger.
    """

    def __init__(self, early, exact, board, tally):
        self.early = early
        self.exact = exact
        self.board = board
        self.tally = tally
        self.reset()

    def reset(self):
        self.seen = 0

    def step(self, label, m):
        if label > 0 or m.how:
            return label
        if self.seen == self.tally[0] and m.end < 2:
            return label
        self.seen = self.tally[0]
        return self.find(label, m)

    def find(self, label, m):
        for slot in range(len(self.exact)):
            kind = self.exact[slot]
            colours = self.board[slot]
            if kind > 0 and colours > 0 and colours & (colours - 1) == 0 and (kind == 2 or self.early or m.end == 2):
                colour = 0
                while colours > 1:
                    colours >>= 1
                    colour += 1
                m.slot = slot
                m.how = 1
                return colour
        return label
