# Prints what your robot sees and does, one line a sample, for Sidelong to record and replay.
# One file for MicroPython, nothing else is needed; it also runs under CPython.
#
# 1. Fill in the functions under "Your robot" below; take out of COLUMNS what your robot does not have.
# 2. In your program:
#
#        from emitter import Emitter
#        out = Emitter()                     # live: prints while driving, over the cable or by radio
#        out = Emitter(keep=30000)           # or kept: 30,000 bytes of memory, about 700 lines; silent while driving
#        while driving:
#            ...
#            out.sample()                    # once a loop
#        out.note("gate open")               # tell what your program does; a new leg can begin with it
#        out.read("tag 1", "rust")           # tell what your program took as the reading of a slot
#        out.hand_over()                     # kept: print everything, when the run is over and the cable is on
#
# Every value is made whole before it is printed. The reader that Sidelong writes steps on those same whole numbers:
#
#        from reader import Reader
#        reader = Reader(out.read)           # each reading is told as it is made
#        out.sample(reader)                  # prints the sample, and gives it to the reader
#        reader.step()

import sys
import time

# ---------------------------------------------------------------- Your robot

# Each function gives one value, or None when there is none at the moment.


def colour():
    return None  # the sensor's colour: a name ("rust"), or a whole number that CODES explains


def refl_pct():
    return None  # reflected light, 0..100


def red_green_blue():
    return None  # the raw channels as three numbers: (812, 233, 190)


def heading_deg():
    return None  # from the gyro


def dist_cm():
    return None  # from the wheels, since the start


COLUMNS = (
    ("colour", colour),
    ("refl/%", refl_pct),
    ("red,green,blue", red_green_blue),
    ("heading/deg", heading_deg),
    ("dist/cm", dist_cm),
)
# A second sensor: ("colour.side", colour_side), ("red.side,green.side,blue.side", rgb_side). Anything else: ("gate", gate).

CODES = {}  # what whole-number colours mean, e.g. {0: "none", 1: "rust", 9: "white"}
RANGES = {}  # black level and full scale of a channel, e.g. {"red": (0, 1023), "refl": (0, 100)}

# ---------------------------------------------------------------- Nothing to change below

_WRAP = 1 << 30
_MASK = _WRAP - 1  # the largest small whole number of a board: masking with it takes no memory
_LIMIT = (1 << 28) - 1  # far beyond what any sensor sends, and small enough to reckon with on a board
_LONGEST = 240
_NOTE_LONGEST = 200
_MISSING = -_WRAP

# Decimals that are printed: the fineness on which a reading logic steps.
_DECIMALS = {"refl/%": 1, "refl/1": 3, "heading/deg": 1, "heading/rad": 3, "dist/cm": 2, "dist/mm": 1, "dist/m": 4,
             "speed/cm/s": 2, "speed/mm/s": 1, "speed/m/s": 4, "battery/V": 2, "loop/ms": 1}
_MOMENT = {"colour": "code", "refl/%": "refl", "refl/1": "refl", "red": "red", "green": "green", "blue": "blue",
           "heading/deg": "h", "dist/cm": "d", "dist/mm": "d", "dist/m": "d",
           "speed/cm/s": "v", "speed/mm/s": "v", "speed/m/s": "v"}


def _clock_ms():
    if hasattr(time, "ticks_ms"):
        return time.ticks_ms()
    return time.monotonic_ns() // 1000000


def _write(data):
    if hasattr(sys.stdout, "buffer"):
        sys.stdout.buffer.write(data)
    else:
        print(str(data, "utf-8"), end="")


def whole(value, scale):
    """value x scale, half rounded up, within +-(2**28 - 1); missing for None, infinity and what is no number."""
    if value is None or value != value or value - value != 0:  # noqa: PLR0124
        return _MISSING
    if isinstance(value, int):
        exact = value * scale
    else:
        raised = value * scale + 0.5
        if raised >= _LIMIT:
            return _LIMIT
        if raised <= -_LIMIT:
            return -_LIMIT
        exact = int(raised)
        if exact > raised:
            exact -= 1
    return max(-_LIMIT, min(_LIMIT, exact))


class Emitter:
    """columns: (heading, function) pairs; keep: bytes of memory to keep lines in, 0: print at once; checksum: end in *HH.

    clock gives whole milliseconds, and may begin again from 0 after 2**30; write takes bytes.
    """

    def __init__(self, columns=COLUMNS, keep=0, checksum=True, codes=None, ranges=None, clock=_clock_ms, write=_write):
        self.clock = clock
        self.write = write
        self.checksum = checksum
        self.n = 0
        self.lost = 0
        self.kept = 0
        self._store = bytearray(keep)
        self._line = bytearray(_LONGEST + 16)
        self._at = 0
        self._digits = bytearray(12)
        self._said = None
        self._reader = None
        self._targets = []
        self._numbers = {}
        self._columns = []
        names = ["n", "t/ms"]
        for heading, function in columns:
            parts = heading.split(",")
            decimals = [_DECIMALS.get(self._quantity(part), 0) for part in parts]
            names += parts
            self._columns.append((function, len(parts), decimals))
        self._names = names[2:]
        lines = ["#" + ",".join(names), "#wrap,n=%d,t=%d" % (_WRAP, _WRAP)]
        codes = CODES if codes is None else codes
        self._codes = codes
        if codes:
            lines.append("#codes," + ",".join(["%d=%s" % (code, codes[code]) for code in sorted(codes)]))
        ranges = RANGES if ranges is None else ranges
        if ranges:
            limits = ["%s=%s..%s" % (name, ranges[name][0], ranges[name][1]) for name in sorted(ranges)]
            lines.append("#range," + ",".join(limits))
        self._header = [line.encode() for line in lines]

    @staticmethod
    def _quantity(part):
        """colour.side/% -> colour/%: the quantity and unit without the sensor's name."""
        name, slash, unit = part.partition("/")
        return name.split(".")[0] + slash + unit

    def _bind(self, reader):
        """Find out where each column's whole number goes: to its own sensor, and, without a suffix, to all that lack one."""
        self._reader = reader
        moments = reader.moments if hasattr(reader, "moments") else [reader]
        sensors = reader.sensors if hasattr(reader, "sensors") else ("",)
        plain = [name.split("/")[0] for name in self._names]
        targets = []
        for index in range(len(plain)):
            quantity, _, suffix = plain[index].partition(".")
            field = _MOMENT.get(self._quantity(self._names[index]), "")
            mine = []
            for k in range(len(moments)):
                own = quantity + "." + sensors[k] if sensors[k] else quantity
                if plain[index] == own or (not suffix and own not in plain):
                    mine.append((moments[k], field))
                elif not sensors[k] and len([1 for name in plain if name.split(".")[0] == quantity]) == 1:
                    mine.append((moments[k], field))
            targets.append(mine if field else [])
        self._targets = targets
        self._moments = moments
        self._numbers = {}
        for code in self._codes if hasattr(reader, "number") else ():
            self._number(None, code)

    def _number(self, value, sent):
        """A colour as the reader numbers it, by its name or its code; sent: as a whole number.

        One that neither the reader nor CODES knows is a colour all the same, and called here as on the computer.
        """
        reader = self._reader
        if reader is None or not hasattr(reader, "number"):
            return _MISSING if isinstance(value, str) else sent
        if isinstance(value, str):
            name = value.replace(",", " ").strip()
            return reader.number(name) if name else _MISSING
        if sent == _MISSING:
            return sent
        if sent not in self._numbers:
            self._numbers[sent] = reader.number(self._codes[sent] if sent in self._codes else "code %d" % sent)
        return self._numbers[sent]

    def sample(self, reader=None):
        """Read every function, and print or keep one line. reader: gets the same values as whole numbers."""
        t = self.clock() & _MASK
        if reader is not None and reader is not self._reader:
            self._bind(reader)
        if self._said is None or (not self._store and (t - self._said) & _MASK >= 1000):
            begins = self._said is None
            self._said = t  # what is kept is read from its beginning: there once is enough
            for line in self._header:
                self._begin()
                self._put_bytes(line)
                self._end()
            if begins and reader is not None and hasattr(reader, "mark"):
                self._note_at(t, "reader," + reader.mark)
        if reader is not None:
            for moment in self._moments:
                moment.t = t
        self._begin()
        self._put_whole(self.n, 0)
        self._put_bytes(b",")
        self._put_whole(t, 0)
        column = 0
        for function, count, decimals in self._columns:
            values = function()
            for index in range(count):
                self._put_bytes(b",")
                value = values
                if count > 1 and values is not None:
                    value = values[index]
                number = whole(None if isinstance(value, str) else value, 10 ** decimals[index])
                if isinstance(value, str):
                    self._put_bytes(value.replace(",", " ").encode())
                elif number != _MISSING:
                    self._put_whole(number, decimals[index])
                if reader is not None:
                    for moment, field in self._targets[column]:
                        setattr(moment, field, self._number(value, number) if field == "code" else number)
                column += 1
        self._end()
        self.n = (self.n + 1) & _MASK

    def note(self, text):
        """Tell what the program does, now; the reader hears it too."""
        reader = self._reader
        if reader is not None and hasattr(reader, "note"):
            reader.note(text)
        self._note_at(self.clock() & _MASK, text)

    def _note_at(self, t, text):
        for bad in "\r\n\0":
            text = text.replace(bad, " ")
        body = text.encode()
        if len(body) > _NOTE_LONGEST:
            body = text[:60].encode()
        self._begin()
        self._put_bytes(b"!")
        self._put_whole(t, 0)
        self._put_bytes(b",")
        self._put_bytes(body)
        self._end(True)  # a note that happens to end like a checksum must carry one, so all do

    def read(self, slot, colour):
        """Tell what the program took as the reading of a slot."""
        self.note("read," + slot + "," + str(colour))

    def hand_over(self):
        """Print what was kept, and how much there was no room for; then begin anew."""
        start = 0
        while start < self.kept:
            end = min(self.kept, start + 256)
            self.write(bytes(self._store[start:end]))
            start = end
        if self.lost:
            room, self._store = self._store, bytearray(0)
            self.note("memory full: %d lines were not kept" % self.lost)
            self._store = room
        self.kept = self.lost = 0
        self._said = None

    def _begin(self):
        self._at = 0

    def _put_bytes(self, data):
        """Add to the line; what would make it too long is left out, and the line is dropped at its end."""
        line, at = self._line, self._at
        for byte in data:
            if at <= _LONGEST:
                line[at] = byte
                at += 1
        self._at = at

    def _put_whole(self, value, decimals):
        """Add a whole number with the decimal point that many digits from its end."""
        digits = self._digits
        left = -value if value < 0 else value
        count = 0
        while left > 0 or count <= decimals:
            digits[count] = 48 + left % 10
            left //= 10
            count += 1
        if value < 0:
            self._put_bytes(b"-")
        line, at = self._line, self._at
        while count > 0:
            if count == decimals and at <= _LONGEST:
                line[at] = 46
                at += 1
            count -= 1
            if at <= _LONGEST:
                line[at] = digits[count]
                at += 1
        self._at = at

    def _end(self, checksum=False):
        line, at = self._line, self._at
        if checksum or self.checksum:
            total = 0
            for index in range(at):
                total ^= line[index]
            line[at] = 42
            line[at + 1] = b"0123456789ABCDEF"[total >> 4]
            line[at + 2] = b"0123456789ABCDEF"[total & 15]
            at += 3
        if at > _LONGEST:
            self.lost += 1  # too long for a line: fewer columns
            return
        line[at] = 10
        at += 1
        if not self._store:
            self.write(bytes(line[:at]))
        elif not self.lost and self.kept + at <= len(self._store):
            store, start = self._store, self.kept
            for index in range(at):
                store[start + index] = line[index]
            self.kept = start + at
        else:
            self.lost += 1
