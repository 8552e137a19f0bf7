"""Two stages for tests: one says what it was given, one tells all it hears. Portable, like those they stand beside."""


class Given:
    """Says the labels of a table, one a step, and writes where the sensor is."""

    def __init__(self, labels, legs, places, slots, done):
        self.labels = labels
        self.legs = legs
        self.places = places
        self.slots = slots
        self.done = done
        self.reset()

    def reset(self):
        self.k = 0

    def step(self, label, m):
        k = self.k
        if m.end or k >= len(self.labels):
            m.slot = -1
            return -1
        self.k = k + 1
        m.leg = self.legs[k]
        m.pos = self.places[k]
        m.slot = self.slots[k]
        m.done = self.done[k]
        return self.labels[k]


class Tell:
    """Returns label, slot and how as one number, never 0; clears how as the ledger does."""

    def __init__(self):
        self.reset()

    def reset(self):
        pass

    def step(self, label, m):
        how = m.how
        m.how = 0
        return 1 + (label + 1) + 32 * ((m.slot + 1) + 64 * how)
