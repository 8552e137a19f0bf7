"""As first_file.py, with another meaning of the same names; and a stage with parts. Portable in form only."""

LIMIT = 20


def twice(value):
    return value * LIMIT // 10


class Counter:
    """A part: counts, and keeps what it has counted in a table."""

    def __init__(self, room):
        self.room = room
        self.table = [0] * room
        self.reset()

    def reset(self):
        self.count = 0
        for i in range(self.room):
            self.table[i] = 0

    def add(self, label):
        """How often this label came."""
        self.count += 1
        self.table[label] += 1
        return self.table[label]


class Pair:
    """A part that has a part."""

    def __init__(self, counter):
        self.counter = counter
        self.reset()

    def reset(self):
        self.counter.reset()
        self.most = 0

    def tell(self, label):
        seen = self.counter.add(label)
        self.most = max(self.most, seen)
        return seen


class Second:
    """Doubles a label that it has seen no more often than any other; two parts share a third."""

    def __init__(self, pair, counter):
        self.pair = pair
        self.counter = counter
        self.reset()

    def reset(self):
        self.pair.reset()

    def step(self, label, m):
        if label <= 0:
            return label
        seen = self.pair.tell(label)
        table = self.pair.counter.table
        return twice(label) if seen == self.pair.most and table[label] + self.counter.count < 40 else label
