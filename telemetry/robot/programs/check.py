# Holds the robot's reading logic beside the computer's. It stands in one folder with reader.py.
#
#     micropython check.py < run.txt      a recorded line stream: prints !T,read,SLOT,COLOUR for each reading as it is made
#     micropython check.py                without input: built-in samples, 'same as on the computer' or the first difference
#
# The stream is understood as Sidelong's own decoder does: headers, codes, wraps, units, checksums, notes, restarts.
# It also runs under CPython. Nothing here goes onto the robot.
import sys

from reader import COLOURS, FINGERPRINT, NOTES, NOTHING, SENSORS, SLOTS, Reader

COLUMNS = ""  # of a stream without any header
CHANNELS = ()  # for each sensor what the logic was made for
WAITS = 0  # 1: it needs each of NOTES
SAMPLES = ()  # rows of whole numbers, one tuple a sensor: t, d, v, h, refl, red, green, blue, code, note
EVENTS = ()  # what the logic makes of them on the computer: (row, event); rows behind the last: at the end

LINE_MAX = 240
HELD_MAX = 65536  # so much of a stream is held back until it is known whether a header comes
MOST_COUNT = 1 << 53  # counters stay below what a float holds exactly
NAMES_MAX = 30
CLOCK = (1 << 30) - 1
WHOLE_MAX = (1 << 28) - 1
SPACES = " \t\n\r\x0b\x0c\x1c\x1d\x1e\x1f\x85\xa0\u1680\u2028\u2029\u202f\u205f\u3000"
SPACES += "\u2000\u2001\u2002\u2003\u2004\u2005\u2006\u2007\u2008\u2009\u200a"
DIGITS = "0123456789"
PI = 3.141592653589793
UNITS = {
    "t": {"us": (1, 1), "µs": (1, 1), "μs": (1, 1), "ms": (1000, 1), "s": (1000000, 1)},
    "loop": {"ms": (1, 1), "us": (1, 1000), "µs": (1, 1000), "μs": (1, 1000), "s": (1000, 1)},
    "refl": {"%": (1, 1), "1": (100, 1)},
    "dist": {"cm": (1, 1), "mm": (1, 10), "m": (100, 1)},
    "speed": {"cm/s": (1, 1), "mm/s": (1, 10), "m/s": (100, 1)},
    "heading": {"deg": (1, 1), "°": (1, 1), "rad": (180, PI)},
    "battery": {"V": (1, 1), "mV": (1, 1000)},
}
ASSUMED = {"t": "ms", "loop": "ms", "refl": "%", "dist": "cm", "speed": "cm/s", "heading": "deg", "battery": "V"}
WANTED = (
    ("d", "dist", 100.0, (1 << 24) - 1), ("v", "speed", 100.0, (1 << 20) - 1), ("h", "heading", 10.0, (1 << 20) - 1),
    ("refl", "refl", 10.0, WHOLE_MAX), ("red", "red", 1.0, WHOLE_MAX), ("green", "green", 1.0, WHOLE_MAX),
    ("blue", "blue", 1.0, WHOLE_MAX), ("code", "colour", 0, 0),
)  # fmt: skip
NAN = float("nan")


class BadLine(Exception):  # noqa: N818
    pass


def strip(text):
    """Character by character: MicroPython's own strip(SPACES) takes single bytes, and so may cut a letter in two."""
    start, end = 0, len(text)
    while start < end and text[start] in SPACES:
        start += 1
    while end > start and text[end - 1] in SPACES:
        end -= 1
    return text[start:end]


def is_digits(text):
    for char in text:
        if char not in DIGITS:
            return False
    return True


def is_number(text):
    """Stricter than float(), which also takes 1_000."""
    if text[:1] in ("+", "-"):
        text = text[1:]
    if text.lower() in ("nan", "inf", "infinity"):
        return True
    mantissa, e, power = text.replace("E", "e").partition("e")
    if e:
        if power[:1] in ("+", "-"):
            power = power[1:]
        if not power or not is_digits(power):
            return False
    left, _, right = mantissa.partition(".")
    return bool(left or right) and is_digits(left) and is_digits(right)


def to_float(text):
    """The nearest float, on boards' Pythons too, whose float() may be off in the last place."""
    sign = -1.0 if text[:1] == "-" else 1.0
    left, _, right = text.lstrip("+-").partition(".")
    if is_digits(left) and is_digits(right) and len(left) + len(right) <= 15:
        return sign * (float(int(left + right)) / float(10 ** len(right)))
    return float(text)


def number(field):
    text = strip(field)
    if not text or text == "None":
        return NAN
    if not is_number(text):
        raise BadLine()
    return to_float(text)


def is_letter(char):
    return "a" <= char <= "z" or "A" <= char <= "Z" or (ord(char) > 127 and char not in SPACES)


def is_printable(text):
    for char in text:
        if char < " " or char == "\x7f" or (ord(char) > 127 and char in SPACES):
            return False
    return True


def further(field):
    """A column of unknown meaning may also hold a word."""
    text = strip(field)
    if text in ("True", "False"):
        return NAN
    if text and text != "None" and not is_number(text) and is_letter(text[0]):
        for char in text:
            if not (is_letter(char) or char in DIGITS or char in "_ .:-"):
                raise BadLine()
        return NAN
    return number(text)


def is_code(text):
    digits = text[1:] if text[:1] in ("+", "-") else text
    return 1 <= len(digits) <= 9 and is_digits(digits)


def is_utf8(raw):
    k, size = 0, len(raw)
    while k < size:
        byte = raw[k]
        more = 0 if byte < 128 else 1 if 194 <= byte < 224 else 2 if 224 <= byte < 240 else 3 if 240 <= byte < 245 else -1
        if more < 0 or k + more >= size:
            return False
        for j in range(1, more + 1):
            if raw[k + j] & 192 != 128:
                return False
        if more > 1:
            second = raw[k + 1]
            if (byte == 224 and second < 160) or (byte == 237 and second > 159) or (byte == 240 and second < 144) or (
                byte == 244 and second > 143
            ):
                return False
        k += more + 1
    return True


def whole(value, scale, most):
    """value x scale, half rounded up, clipped; NOTHING for what is no number."""
    if value != value or value - value != 0:  # noqa: PLR0124
        return NOTHING
    raised = value * scale + 0.5
    if raised >= most:
        return most
    if raised < -most:
        return -most
    exact = int(raised)
    return exact - 1 if exact > raised else exact


def nearest_whole(value):
    """Half to the even one, as round() does."""
    return int(round(value))


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


class Stream:
    """The line stream, line by line, into a reader."""

    def __init__(self, reader):
        self.reader = reader
        self.columns = None
        self.loose = False
        self.wraps = {}
        self.codes = {}
        self.names = ["none"]
        self.seen = []  # names of all columns so far
        self.heard = []  # notes that matter
        self.pending = []
        self.t = Counter(100000)
        self.n = Counter(8)
        self.t_scale = 1000
        self.rows = 0
        self.restarts = 0
        self.t_ms = 0
        self.first = [""] * len(SENSORS)  # what each sensor showed first
        self.early = 0  # lines before the first header that were left out
        self.held = bytearray(HELD_MAX + LINE_MAX + 8) if COLUMNS else None  # a byte of length before each line
        self.held_size = 0

    def use(self, columns):
        self.columns = columns
        self.loose = False
        self.places = {}
        self.t_at = self.n_at = None
        for i in range(len(columns)):
            column = columns[i]
            self.places[column.name] = i
            if column.kind == "t":
                self.t_at = i
                self.t_scale = column.scale[0]
            if column.kind == "n":
                self.n_at = i
        self.announce()
        self.wired = False

    def wire(self):
        """Which column goes where, once a sample has come under this header."""
        self.wired = True
        for column in self.columns:
            if column.name not in self.seen:
                self.seen.append(column.name)
        self.wiring = []
        for sensor in SENSORS:
            wires = []
            for attribute, quantity, scale, most in WANTED:
                place = self.places.get(channel(self.seen, quantity, sensor))
                wires.append((attribute, place, scale, most))
            self.wiring.append(wires)

    def announce(self):
        if self.columns is not None and "t" in self.wraps:
            self.t.modulus = nearest_whole(self.wraps["t"] * self.t_scale)
        if self.columns is not None and "n" in self.wraps:
            self.n.modulus = nearest_whole(self.wraps["n"])

    def line(self, raw):
        """One line without its end. As in a recording, what stands before the first header is no sample."""
        self.take(raw)
        if self.held is None:
            return
        if self.columns is not None:
            self.held = None
            return
        size, at = len(raw), self.held_size
        if 0 < size <= LINE_MAX:
            self.held[at] = size
            self.held[at + 1 : at + 1 + size] = raw
            self.held_size = at + 1 + size
        if self.held_size > HELD_MAX:
            self.headerless()

    def headerless(self):
        """No header has come: what was held back is read by the columns that the logic was made for."""
        held, self.held = self.held, None
        if held is None:
            return
        self.wraps, self.codes, self.pending, self.heard, self.early = {}, {}, [], [], 0
        self.use(columns_of(COLUMNS))
        self.loose = True
        at = 0
        while at < self.held_size:
            size = held[at]
            self.take(bytes(held[at + 1 : at + 1 + size]))
            at += 1 + size

    def take(self, raw):
        if not raw or len(raw) > LINE_MAX:
            return
        if raw[:3] == b"\xef\xbb\xbf":
            self.take(raw[3:])
            return
        for byte in raw:
            if byte == 127 or (byte < 32 and byte not in b"\t\x1b\x07\x08\x0c"):
                return
        if not is_utf8(raw):
            return
        if len(raw) > 2 and raw[-3] == 42:
            claimed = str(raw[-2:], "utf-8") if raw[-1] < 128 and raw[-2] < 128 else "?"
            if len([1 for char in claimed if char in "0123456789abcdefABCDEF"]) == 2:
                counted = 0
                for byte in raw[:-3]:
                    counted ^= byte
                if counted != int(claimed, 16):
                    return
                raw = raw[:-3]
        text = str(raw, "utf-8")
        try:
            if text[:1] == "#":
                self.directive(text[1:])
            elif text[:1] == "!":
                self.note(text[1:])
            elif self.columns is None:
                self.early += 1
            else:
                self.sample(self.split(text) if self.loose else text.split(","))
        except BadLine:
            pass

    def split(self, text):
        if ";" in text:
            fields = text.replace(",", ".").split(";")
        elif "," in text:
            fields = text.split(",")
        elif "\t" in text:
            fields = text.split("\t")
        else:
            for char in SPACES:
                text = text.replace(char, " ")
            return [field for field in text.split(" ") if field]
        while len(fields) > 1 and not strip(fields[-1]):
            fields.pop()
        return fields

    def directive(self, text):
        keyword, _, rest = text.partition(",")
        keyword = strip(keyword)
        if keyword in ("codes", "range", "wrap") and "=" in rest:
            pairs = []
            for pair in rest.split(","):
                name, equals, value = pair.partition("=")
                pairs.append((strip(name), equals, strip(value)))
            if keyword == "codes":
                for name, equals, value in pairs:
                    if not equals or not is_code(name) or not value:
                        return
                for name, _, value in pairs:
                    self.codes[int(name)] = value
            elif keyword == "wrap":
                for _, _, value in pairs:
                    if not is_number(value) or not 0 < float(value) < MOST_COUNT / 1000000:
                        return
                for name, _, value in pairs:
                    self.wraps[name] = to_float(value)
                self.announce()
            return
        fields = [strip(field) for field in text.split(",")]
        timed = [field for field in fields if field == "t" or field.startswith("t/")]
        sentence = len(fields) == 1 or [field for field in fields if " " in field]
        if (sentence and not timed) or not is_printable("".join(fields)):
            return
        columns = columns_of(text)
        if columns is not None:
            self.use(columns)

    def note(self, text):
        time, comma, words = text.partition(",")
        if not comma or not is_number(strip(time)):
            return
        if not -MOST_COUNT < to_float(strip(time)) * self.t_scale < MOST_COUNT:
            return
        words = strip(words)
        if words in NOTES:
            self.pending.append(NOTES[words])
            if words not in self.heard:
                self.heard.append(words)

    def colour(self, field, new):
        """The place of a colour among the stream's names; -1 for none sent. new: names that came up in this line."""
        text = strip(field)
        if not text:
            return -1
        if is_code(text):
            text = self.codes.get(int(text), "code %d" % int(text))
        elif not (is_letter(text[0]) and is_printable(text) and len(text) <= 40):
            raise BadLine()
        if text.lower() == "none":
            return 0
        if text in self.names:
            return self.names.index(text)
        if text not in new:
            if len(self.names) + len(new) >= NAMES_MAX:
                raise BadLine()
            new.append(text)
        return len(self.names) + new.index(text)

    def sample(self, fields):
        if len(fields) != len(self.columns):
            return
        values, new = [], []
        for column, field in zip(self.columns, fields):  # noqa: B905
            if column.kind == "colour":
                values.append(self.colour(field, new))
            else:
                values.append(further(field) if column.kind == "further" else number(field))
        t = values[self.t_at] * self.t_scale
        if not -MOST_COUNT < t < MOST_COUNT:
            return
        n = -1
        if self.n_at is not None and values[self.n_at] == values[self.n_at]:
            n = values[self.n_at]
            if not 0 <= n < MOST_COUNT or n != int(n):
                return
            n = int(n)
        self.names += new
        if not self.wired:
            self.wire()
        t_us, restarted = self.count(nearest_whole(t), n)
        reader = self.reader
        if restarted and self.rows:
            reader.finish_run()
            self.restarts += 1
        self.rows += 1
        self.t_ms = t_us // 1000
        for k in range(len(SENSORS)):
            m = reader.moments[k]
            m.t = self.t_ms & CLOCK
            for attribute, place, scale, most in self.wiring[k]:
                setattr(m, attribute, self.made_whole(attribute, place, scale, most, values))
            if not self.first[k] and m.code != NOTHING:
                self.first[k] = "colour"
            elif not self.first[k] and NOTHING not in (m.red, m.green, m.blue):
                self.first[k] = "raw"
        reader.notes = [self.pending.pop(0)] if self.pending else []
        reader.t_ms = self.t_ms
        reader.step()

    def made_whole(self, attribute, place, scale, most, values):
        if place is None:
            return NOTHING
        value = values[place]
        if attribute == "code":
            return NOTHING if value < 0 else self.label(self.names[value])
        multiply, divide = self.columns[place].scale
        if multiply != 1:
            value = value * multiply
        return whole(value / divide if divide != 1 else value, scale, most)

    def label(self, name):
        """The number of a colour; one that the logic was not made with gets the next."""
        if name not in COLOURS:
            if len(COLOURS) > 29:
                sys.exit("check: course, palette and stream name more than 29 colours")
            COLOURS.append(name)
        return COLOURS.index(name)

    def count(self, t_us, n):
        """Time with wraps taken out, and whether the robot has restarted."""
        t_event = self.t.step(t_us)
        n_event = self.n.step(n) if n >= 0 else 0
        if t_event == 3 or n_event == 3:
            if t_event in (1, 3):
                self.t.start(t_us)
            if n >= 0 and n_event in (1, 3):
                self.n.start(n)
            return t_us + self.t.offset, True
        if t_event == 0 and n_event == 0:
            return t_us + self.t.offset, False
        return self.t.value(t_us), False


class Checked(Reader):
    """Keeps what is decided until it can be said: of what is decided at the end of a run, slot by slot."""

    t_ms = 0

    def enter(self, event):
        if self.elsewhere:
            return
        slot = ((event >> 8) & 255) - 1
        if slot >= 0:
            self.said.append((slot, event & 31))
        elif (event >> 5) & 7 == 3:
            self.elsewhere = 1

    def begin(self):
        self.said = []
        Reader.begin(self)

    def step(self):
        Reader.step(self)
        if self.said:
            self.say()

    def finish_run(self):
        """The run is over; the next begins."""
        self.finish()
        self.said.sort()
        self.say()
        self.begin()

    def say(self):
        for slot, colour in self.said:
            print("!%d,read,%s,%s" % (self.t_ms, SLOTS[slot], COLOURS[colour] if colour else "empty"))
        self.said = []
        if hasattr(sys.stdout, "flush"):
            sys.stdout.flush()


class Kept(Reader):
    """Keeps the events themselves, for the built-in samples."""

    def begin(self):
        self.row = 0
        self.events = []
        Reader.begin(self)

    def enter(self, event):
        self.events.append((self.row, event))


def same_as_on_the_computer():
    reader = Kept()
    fields = ("t", "d", "v", "h", "refl", "red", "green", "blue", "code")
    for row in SAMPLES:
        for k in range(len(SENSORS)):
            for i in range(len(fields)):
                setattr(reader.moments[k], fields[i], row[k][i])
        reader.notes = [row[0][9]] if row[0][9] else []
        reader.step()
        reader.row += 1
    reader.finish()
    for k in range(max(len(EVENTS), len(reader.events))):
        here = reader.events[k] if k < len(reader.events) else None
        there = EVENTS[k] if k < len(EVENTS) else None
        if here != there:
            print("first difference: here %s, on the computer %s" % (told(here), told(there)))
            return False
    print("same as on the computer (%d samples, %d events, reader %s)" % (len(SAMPLES), len(EVENTS), FINGERPRINT))
    say_step_time()
    return True


def say_step_time():
    """How long a step takes where this runs; a board takes longer."""
    import time

    if not hasattr(time, "ticks_us"):
        return
    reader = Kept()
    total = 0
    for row in SAMPLES:
        for k in range(len(SENSORS)):
            m = reader.moments[k]
            m.t, m.d, m.v, m.h, m.refl, m.red, m.green, m.blue, m.code = row[k][:9]
        begun = time.ticks_us()
        reader.step()
        total += time.ticks_diff(time.ticks_us(), begun)
    print("a step takes %.1f us here" % (total / max(1, len(SAMPLES))))


def told(event):
    if event is None:
        return "nothing more"
    slot, colour = ((event[1] >> 8) & 255) - 1, event[1] & 31
    where = SLOTS[slot] if slot >= 0 else "no slot"
    return "sample %d, %s, %s (event %d)" % (event[0], where, COLOURS[colour] if colour else "empty", event[1])


def nothing_to_read():
    """Is standard input a terminal on which nobody types? MicroPython knows no isatty."""
    if hasattr(sys.stdin, "isatty"):
        return sys.stdin.isatty()
    try:
        import os
        import select

        if os.stat("/proc/self/fd/0")[0] & 0o170000 != 0o020000:
            return False
        poll = select.poll()
        poll.register(sys.stdin, 1)
        return not poll.poll(1000)
    except (ImportError, OSError, AttributeError):
        return False


def feed(stream, source):
    """A whole stream; gives whether there was any byte."""
    rest, any_byte = b"", False
    while True:
        piece = source.readline(4096)
        if not piece:
            break
        any_byte = True
        lines = (rest + piece).replace(b"\r", b"\n").split(b"\n")
        rest = lines.pop()[: LINE_MAX + 1]  # longer is too long however it goes on
        for raw in lines:
            stream.line(raw)
    stream.line(rest)
    stream.headerless()
    if stream.rows:
        stream.reader.finish_run()
    return any_byte


def main():
    if nothing_to_read():
        return 0 if same_as_on_the_computer() else 1
    stream = Stream(Checked())
    if not feed(stream, sys.stdin.buffer):
        return 0 if same_as_on_the_computer() else 1
    complain(stream)
    return 0 if stream.rows else 3


def complain(stream):
    """What may make a comparison on the computer say otherwise goes to standard error."""
    notes = []
    if not stream.rows:
        notes.append("no sample was understood" + ("" if COLUMNS else "; the stream has no header"))
    if stream.rows and stream.early:
        notes.append("%d lines before the first header were left out, as in a recording" % stream.early)
    if stream.restarts:
        notes.append("the robot restarted: each stretch is read by itself here, a comparison counts the longest")
    for k in range(len(SENSORS)):
        sent = [quantity for _, quantity, _, _ in WANTED if channel(stream.seen, quantity, SENSORS[k])]
        lacking = [quantity for quantity in CHANNELS[k] if quantity not in sent]
        more = [quantity for quantity in sent if quantity not in CHANNELS[k]]
        if lacking or more:
            what = (", not sent: " + ", ".join(lacking) if lacking else "") + (", new: " + ", ".join(more) if more else "")
            notes.append("the reader was made for other columns" + what)
        if stream.first[k] == "raw" and "colour" in CHANNELS[k] and "red" in CHANNELS[k]:
            notes.append("the colour column stays empty: make the reader for this sensor's mode, --like such a run")
    if WAITS:
        notes += ["the note '%s' never came: the strategy needs it" % text for text in NOTES if text not in stream.heard]
    for text in notes:
        print("check: " + text, file=sys.stderr)


if __name__ == "__main__":
    sys.exit(main())
