# ruff: noqa: RET503
"""Stages that break the contract, each in one way, and the check that must notice. Portable in form only."""

from telemetry.reading.chain import Chain

from .given import Given, Tell

SHARED = [0]


class Silent:
    """Forgets to return anything on one way through."""

    def __init__(self):
        self.reset()

    def reset(self):
        pass

    def step(self, label, m):
        if label > 0:
            return label


class Chatty:
    """Returns what is no label."""

    def __init__(self):
        self.reset()

    def reset(self):
        pass

    def step(self, label, m):
        return label + 40


class Wide:
    """Works with numbers that a board does not hold."""

    def __init__(self):
        self.reset()

    def reset(self):
        self.sum = 0

    def step(self, label, m):
        self.sum = m.t * 64
        return label


class Common:
    """Keeps its count where all of its kind see it."""

    def __init__(self):
        self.reset()

    def reset(self):
        SHARED[0] = 0

    def step(self, label, m):
        SHARED[0] += 1
        return label if SHARED[0] % 2 else -1


class Sticky:
    """Does not set all of its state back."""

    def __init__(self):
        self.count = 0
        self.reset()

    def reset(self):
        pass

    def step(self, label, m):
        self.count += 1
        return label if self.count % 3 else -1


class Sleepless:
    """Reads the time of day."""

    def __init__(self):
        self.reset()

    def reset(self):
        pass

    def step(self, label, m):
        return label if m.t % 2 else -1


class Growing:
    """Remembers everything."""

    def __init__(self):
        self.reset()

    def reset(self):
        self.all = [0]

    def step(self, label, m):
        self.all.append(label)
        return label


class Wasteful:
    """Makes a new list at every step, which allocates on the robot."""

    def __init__(self):
        self.reset()

    def reset(self):
        pass

    def step(self, label, m):
        return max([label, -1])


class Lucky:
    """Draws lots."""

    def __init__(self):
        self.reset()

    def reset(self):
        pass

    def step(self, label, m):
        SHARED[0] += 1
        return SHARED[0] % 3


class Trusting:
    """Takes for granted that a channel was sent."""

    def __init__(self):
        self.reset()

    def reset(self):
        pass

    def step(self, label, m):
        return label if 100 // (m.red + 1073741824) >= 0 else -1


BROKEN = {
    "Silent": "labels_only",
    "Chatty": "labels_only",
    "Wide": "stays_in_range",
    "Common": "independent",
    "Sticky": "reset_is_fresh",
    "Sleepless": "any_time_of_day",
    "Growing": "bounded_memory",
    "Wasteful": "runtimes",
    "Lucky": "deterministic",
    "Trusting": "without_channels",
}


def subject(name):
    """A chain of the broken stage between Given and Tell."""

    def make(stream):
        columns = [list(column) for column in zip(*stream.given, strict=True)]
        return Chain(0, (Given(*columns), globals()[name](), Tell()), ("given", name, "tell"))

    return make
