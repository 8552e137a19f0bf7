# Part of check.py: how a column is named, and how counters that wrap go on.
from .check_rules import ASSUMED, UNITS, strip


class Counter:
    """A counter made to run on. What step gives: 0 on, 1 wrapped, 2 slipped back a little, 3 fell: a restart."""

    def __init__(self, slip):
        self.slip = slip
        self.modulus = None
        self.last = None
        self.offset = 0

    def step(self, raw):
        last, modulus = self.last, self.modulus
        if last is None:
            self.last = raw
            return 0
        step = raw - last
        if step >= 0:
            if modulus is not None and self.offset and modulus - min(self.slip, modulus // 4) <= step <= modulus:
                return 2
            self.last = raw
            return 0
        if modulus is not None and 2 * -step > modulus:
            self.offset += modulus
            self.last = raw
            return 1
        if -step <= self.slip and 2 * raw > last:
            return 2
        self.start(raw)
        return 3

    def start(self, raw):
        self.last = raw
        self.offset = 0

    def value(self, raw):
        if self.modulus is not None and self.last is not None:
            step = raw - self.last
            if 2 * -step > self.modulus:
                return raw + self.offset + self.modulus
            if self.offset and 2 * step > self.modulus:
                return raw + self.offset - self.modulus
        return raw + self.offset


class Column:
    def __init__(self, name, kind, scale=(1, 1)):
        self.name = name
        self.kind = kind  # t, n, colour, value, further
        self.scale = scale


def column_of(field, place):
    sent, _, unit = field.partition("/")
    sent, unit = strip(sent), strip(unit)
    quantity, _, suffix = sent.partition(".")
    if sent == "n":
        return Column("n", "n"), sent
    if quantity == "colour":
        return Column(sent, "colour"), sent
    if quantity in ("red", "green", "blue"):
        return Column(sent, "value"), sent
    if quantity in UNITS and not (quantity == "t" and suffix):
        units = UNITS[quantity]
        if not unit or (quantity == "t" and unit not in units):
            unit = ASSUMED[quantity]
        if unit in units:
            return Column("t_us" if quantity == "t" else sent, "t" if quantity == "t" else "value", units[unit]), sent
        return Column(sent + "_" + unit.replace("%", "percent").replace("/", "_per_"), "further"), sent
    sent = sent or "column %d" % place
    return Column(sent + "_sent" if sent in ("t_us", "n", "arrival_us", "boot") else sent, "further"), sent


def columns_of(text):
    """The columns that a header names; None where there is no t."""
    out, taken, timed = [], [], False
    for field in text.split(","):
        column, sent = column_of(strip(field), len(out) + 1)
        if column.name in taken:
            column = Column("%s %d" % (sent, len(out) + 1), "colour" if column.kind == "colour" else "further")
        taken.append(column.name)
        out.append(column)
        timed = timed or column.kind == "t"
    return out if timed else None


def channel(names, quantity, sensor):
    """The column that carries a quantity for a sensor: its own, else the one without a suffix, else the only one."""
    if sensor and quantity + "." + sensor in names:
        return quantity + "." + sensor
    if quantity in names:
        return quantity
    if not sensor:
        suffixed = [name for name in names if name.startswith(quantity + ".")]
        if len(suffixed) == 1:
            return suffixed[0]
    return None
