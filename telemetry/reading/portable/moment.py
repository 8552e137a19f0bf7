"""What a reading logic is told at one step, in whole numbers.

Portable: this file runs unchanged under CPython and MicroPython and can be compiled, so it imports nothing, and a step
allocates nothing.
"""

MISSING = -1073741824


class Moment:
    """One sample, and what the stages before have found out about it.

    One object is filled again and again; a missing value is ``MISSING``.
    Units: ``t`` ms modulo 2**30, ``d`` and ``pos`` 0.1 mm, ``v`` 0.1 mm/s, ``h`` 0.1 deg, ``refl`` 0.1 %,
    ``red green blue`` as sent, ``code`` a colour's index (0: no colour seen).
    """

    def __init__(self):
        self.t = 0
        self.d = MISSING
        self.v = MISSING  # as sent; where it was not, Track works it out
        self.h = MISSING
        self.refl = MISSING
        self.red = MISSING
        self.green = MISSING
        self.blue = MISSING
        self.code = MISSING
        self.note = 0  # the number of the note that came just before this sample, 0: none
        self.end = 0  # no sample, but the end of the run: 1 give what you hold back, 2 and what follows or is assumed
        self.leg = 0  # written by Track
        self.pos = MISSING  # where the sensor is along the leg; written by Track
        self.slot = -1  # which slot this label is for, -1: none. Track writes the next in order, stages of place another
        self.how = 0  # 0 seen, 1 follows from others, 2 assumed, 3 seen to be empty, 4 the robot would be elsewhere now
        self.sure = 0  # how sure the label is, 1/10000; 0: not said
        self.stop = MISSING  # where along the leg a robot that stops at a colour would stand; written by StopAt
        self.done = 0  # 1: every slot is decided; written by the ledger, for a logic of one's own to ask
