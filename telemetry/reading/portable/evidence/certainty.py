"""How sure a reading is, from how far it is ahead of the next best. Portable: see moment.py."""


class Certainty:
    """``sure_at``: margins (1/16 nat) at which the certainty reaches ``sure`` (1/10000). ``slots`` share a run's doubt."""

    def __init__(self, sure_at, sure, slots):
        self.sure_at = sure_at
        self.sure = sure
        self.slots = slots
        self.reset()

    def reset(self):
        pass

    def of(self, margin):
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

    def alone(self, sure):
        """One slot's certainty, from that of a whole run with such a margin: where that is high, doubts are shared out."""
        doubt = 10000 - sure
        share = 200 // self.slots
        if doubt <= 200:
            doubt //= self.slots
        elif doubt < 1000:
            doubt = share + (doubt - 200) * (1000 - share) // 800
        return 10000 - doubt if doubt > 0 else 9999
