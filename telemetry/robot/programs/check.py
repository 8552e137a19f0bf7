# Last part of check.py: what is said of a stream, and the built-in samples.
import sys

from reader import COLOURS, FINGERPRINT, NOTES, SENSORS, SLOTS, Reader

from .check_columns import channel
from .check_rules import CHANNELS, COLUMNS, EVENTS, LINE_MAX, SAMPLES, WAITS, WANTED
from .check_stream import Stream


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
