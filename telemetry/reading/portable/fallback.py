"""What is decided about a missing slot when the run must go on. Portable: see moment.py."""

CLOCK = 1073741823


class Assume:
    """When the run must go on, every slot still open gets something.

    That is at the end of the run; ``after`` ms into it (0: not so); at the note number ``note`` (0: at none); with
    ``passed`` 1, for the slots of a leg, when that leg is over. A slot gets: empty where it may be; else ``colour`` where
    it is open; else, with ``guess`` 1, its first open colour. ``legs``: slot -> its leg; ``board``: see Ledger.
    """

    def __init__(self, after, note, passed, colour, guess, legs, board):
        self.after = after
        self.note = note
        self.passed = passed
        self.legs = legs
        self.colour = colour
        self.guess = guess
        self.board = board
        self.reset()

    def reset(self):
        self.begun = 0
        self.t = 0
        self.due = 0
        self.leg = 0

    def step(self, label, m):
        if not self.begun:
            self.begun = 1
            self.t = m.t
        if m.end == 2 or (self.after and ((m.t - self.t) & CLOCK) >= self.after):
            self.due = 1
        if self.note and m.note == self.note:
            self.due = 1
        if self.passed:
            self.leg = m.leg
        if label > 0 or m.how or (self.due == 0 and self.leg == 0):
            return label
        return self.find(label, m)

    def find(self, label, m):
        for slot in range(len(self.board) - 1):
            colours = self.board[slot]
            if colours > 0 and (self.due or self.legs[slot] < self.leg):
                colour = -1
                if colours & 1:
                    colour = 0
                elif self.colour and (colours >> self.colour) & 1:
                    colour = self.colour
                elif self.guess:
                    colour = 0
                    while (colours >> colour) & 1 == 0:
                        colour += 1
                if colour >= 0:
                    m.slot = slot
                    m.how = 2
                    return colour
        return label
