"""Which colour a sample looks like. Portable: see moment.py."""

BRIGHTEST = 262143  # 18 bits: a thousand times it still fits


class Code:
    """The colour the sensor itself reports."""

    def __init__(self):
        self.reset()

    def reset(self):
        pass

    def step(self, label, m):
        code = m.code
        return code if code >= 0 else -1


class Nearest:
    """The palette's colour that is nearest to the raw channels.

    Table ``palette``, five entries a colour: its label; red, green, blue as shares of their sum (0 to 1000); that sum.
    ``black_red``, ``black_green``, ``black_blue``: what the channels show in the dark, taken off first.
    Distance: the differences of the shares, plus the difference of the sums in parts of 1000 of the larger, times
    ``level`` / 100. Farther than ``limit`` from all: no colour.
    """

    def __init__(self, palette, black_red, black_green, black_blue, level, limit):
        self.palette = palette
        self.black_red = black_red
        self.black_green = black_green
        self.black_blue = black_blue
        self.level = level
        self.limit = limit
        self.reset()

    def reset(self):
        pass

    def step(self, label, m):
        if m.red < 0 or m.green < 0 or m.blue < 0:
            return -1
        red = max(min(m.red, BRIGHTEST) - self.black_red, 0)
        green = max(min(m.green, BRIGHTEST) - self.black_green, 0)
        blue = max(min(m.blue, BRIGHTEST) - self.black_blue, 0)
        total = red + green + blue
        if total == 0:
            return 0
        red = red * 1000 // total
        green = green * 1000 // total
        blue = blue * 1000 // total
        palette = self.palette
        best = 0
        least = self.limit
        for k in range(0, len(palette), 5):
            other = palette[k + 4]
            if total > other:
                away = (total - other) * 1000 // total
            else:
                away = (other - total) * 1000 // other
            away = away * self.level // 100
            away += abs(red - palette[k + 1]) + abs(green - palette[k + 2]) + abs(blue - palette[k + 3])
            if away < least:
                least = away
                best = palette[k]
        return best
