# Part of check.py: the line stream, line by line.
import sys

from reader import COLOURS, NOTES, NOTHING, SENSORS

from .check_columns import Counter, channel, columns_of
from .check_rules import (
    CLOCK,
    COLUMNS,
    HELD_MAX,
    LINE_MAX,
    MOST_COUNT,
    NAMES_MAX,
    SPACES,
    WANTED,
    BadLine,
    further,
    is_code,
    is_letter,
    is_number,
    is_printable,
    is_utf8,
    nearest_whole,
    number,
    strip,
    to_float,
    whole,
)


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
