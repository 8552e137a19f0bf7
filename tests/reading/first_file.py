"""A stage with a helper and a constant whose names another file uses too. Portable in form only."""

LIMIT = 3


def twice(value):
    return cut(2 * value)


def cut(value):
    return value if value < LIMIT else LIMIT


class First:
    """Doubles a label, up to its own limit."""

    def __init__(self):
        self.reset()

    def reset(self):
        pass

    def step(self, label, m):
        return twice(label) if label > 0 else label
