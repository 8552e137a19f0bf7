"""What has been decided about each slot. Portable: see moment.py."""


class Ledger:
    """Enters what the stages before have settled on, and returns it as an event; last in every chain, shared by all.

    Event: 0 nothing, else ``(sure << 16) | ((slot + 1) << 8) | (how << 5) | colour``; how 0 read, 1 inferred, 2 assumed;
    sure in 1/10000, 0 not said. Slot part 0: taken beyond the slots (surplus); with how 3: from here on the robot would be
    elsewhere.
    An event with a slot and colour 0: nothing stands there.

    Tables shared with other stages, written only here: ``board`` (slot -> mask of the colours still open there, bit 0: it
    may be empty, -1: decided; its last entry, 0, stands for 'no slot'), ``taken`` (group -> mask of the colours taken),
    ``tally`` (one entry: how many slots are decided). ``start``: the board at the begin. ``group``: slot -> group.
    ``counts``: group * 32 + colour -> how many stand there, -1: any number.
    """

    def __init__(self, board, taken, tally, start, group, counts):
        self.board = board
        self.taken = taken
        self.tally = tally
        self.start = start
        self.group = group
        self.counts = counts
        self.rest = [0] * len(counts)
        self.slots = len(start) - 1
        self.reset()

    def reset(self):
        for i in range(len(self.start)):
            self.board[i] = self.start[i]
        for i in range(len(self.taken)):
            self.taken[i] = 0
        for i in range(len(self.counts)):
            self.rest[i] = self.counts[i]
        self.tally[0] = 0

    def step(self, label, m):
        if label > 0 or m.how:
            return self.enter(label, m)
        return 0

    def enter(self, label, m):
        how = m.how
        m.how = 0
        sure = m.sure << 16
        m.sure = 0
        if how == 4:
            return 96
        if label < 0:
            return 0
        if how == 3:
            how = 0
        slot = m.slot
        if slot < 0 or self.board[slot] < 0:
            return sure | (how << 5) | label
        self.board[slot] = -1
        self.tally[0] += 1
        if self.tally[0] == self.slots:
            m.done = 1
        if label > 0:
            self.leave(self.group[slot], label)
        return sure | ((slot + 1) << 8) | (how << 5) | label

    def leave(self, group, colour):
        """One of this colour is gone; the last one leaves the group's open slots."""
        self.taken[group] |= 1 << colour
        k = group * 32 + colour
        if self.rest[k] > 0:
            self.rest[k] -= 1
            if self.rest[k] == 0:
                for i in range(self.slots):
                    if self.group[i] == group and self.board[i] >= 0:
                        self.board[i] &= ~(1 << colour)
