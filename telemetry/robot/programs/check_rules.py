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
