"""A robot that stops at a colour. Portable: see moment.py."""

MISSING = -1073741824


class StopAt:
    """Would stop the robot at a colour, and reads only while it stands there.

    It would stand at ``m.stop``: what it drives on during ``loop`` + ``motor`` ms, plus the way to brake at ``brake``
    (mm/s2). If the recorded robot drives farther than ``reach`` (0.1 mm) past that, it would be elsewhere from then on.
    After a reading none must be seen before it would stop again.

    ``stops``: slot -> where it would have stood when that slot was read, written here; its last entry is for 'no slot'.
    ``board``: see Ledger.
    """

    def __init__(self, loop, motor, brake, reach, still, stops, board):
        self.loop = loop
        self.motor = motor
        self.brake = brake
        self.reach = reach
        self.still = still
        self.stops = stops
        self.board = board
        self.reset()

    def reset(self):
        for i in range(len(self.stops)):
            self.stops[i] = MISSING
        self.state = 0  # 0 driving, 1 stopping, 2 read: driving on, 3 elsewhere
        self.leg = 0

    def step(self, label, m):
        if self.state == 3 or m.end:
            return -1
        if self.state == 2:
            if label == 0:
                self.state = 0
            return -1
        if self.state == 0:
            if label <= 0:
                return label
            self.state = 1
            self.leg = m.leg
            self.place(m)
        if m.pos == MISSING or m.v == MISSING:
            return -1
        if m.leg != self.leg or m.pos > m.stop + self.reach:
            self.state = 3
            m.how = 4
            return 0
        if -self.still <= m.v <= self.still and label > 0:
            self.state = 2
            if self.board[m.slot] >= 0:
                self.stops[m.slot] = m.stop
            return label
        return -1

    def place(self, m):
        m.stop = MISSING
        if m.pos != MISSING:
            v = 0
            if m.v != MISSING:
                v = min(abs(m.v), 30000)
            m.stop = m.pos + v * (self.loop + self.motor) // 1000 + v * v // (20 * self.brake)
