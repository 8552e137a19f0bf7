"""What is decided about a missing slot when the run must go on. Portable: see moment.py."""

CLOCK = 1073741823


class Assume:
    """At the end of the run, or ``after`` ms into it (0: never), every open slot gets something.

    That is: empty where it may be; else ``colour`` where it is open; else, with ``guess`` 1, its first open colour.
    ``board``: see Ledger.
    """

    def __init__(self, after, colour, guess, board):
        self.after = after
        self.colour = colour
        self.guess = guess
        self.board = board
        self.reset()

    def reset(self):
        self.begun = 0
        self.t = 0
        self.due = 0

    def step(self, label, m):
        if not self.begun:
            self.begun = 1
            self.t = m.t
        if m.end == 2 or (self.after and ((m.t - self.t) & CLOCK) >= self.after):
            self.due = 1
        if not self.due or label > 0 or m.how:
            return label
        return self.find(label, m)

    def find(self, label, m):
        for slot in range(len(self.board) - 1):
            colours = self.board[slot]
            if colours > 0:
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
