"""Where along the course the sensor is. Portable: see moment.py."""


class Track:
    """Follows the legs, and writes ``leg``, ``pos`` and ``v`` of the moment; always the first stage of a chain.

    Tables, one entry a leg: ``starts`` (0 begin, 1 note, 2 heading, 3 distance set back, 4 reversing) and ``values``
    (the note's number, the heading in 0.1 deg). ``ahead``: the sensor in front of the measured point, 0.1 mm.
    """

    def __init__(self, starts, values, tolerance, ahead):
        self.starts = starts
        self.values = values
        self.tolerance = tolerance
        self.ahead = ahead
        self.reset()

    def reset(self):
        self.leg = 0
        self.base = -1073741824  # the distance at which this leg began
        self.far = 0  # how far this leg got, to notice a reversal

    def step(self, label, m):
        return label  # the skeleton: to be written
