"""Random runs: as rows of whole numbers for a plan, and as text in the forms a line stream can have."""

from __future__ import annotations

import random

from telemetry.course import Course
from telemetry.reading.plan import Plan
from telemetry.sample import MISSING
from telemetry.stream.line import checksum

Row = tuple[int, ...]


def rows_of(plan: Plan, seed: int) -> list[list[Row]]:
    """A drive along the course with gaps, flicker, wrong places and missing values: one Row a sensor for each sample."""
    draw = random.Random(seed)
    colours = len(plan.names)
    span = max((slot.at_cm or 10.0) for slot in plan.course.slots) * 100 + 800
    t, d, heading = draw.randrange(1 << 30), draw.randrange(-500, 500), 0
    out: list[list[Row]] = []
    seen = [0] * len(plan.chains)
    standing = 0
    for _ in range(draw.randrange(40, 160)):
        t = (t + draw.choice((5, 10, 10, 10, 12, 60, 2500))) % (1 << 30)
        standing = standing - 1 if standing else draw.choice((0,) * 29 + (20,))
        step = draw.choice((0, 8, 15, 30, 60, -10)) if abs(d) < span or draw.random() < 0.9 else -d
        d += 0 if standing else step
        note = draw.randrange(1, len(plan.notes) + 1) if plan.notes and draw.random() < 0.03 else 0
        heading += draw.choice((0, 0, 1, -1, 300)) if draw.random() < 0.2 else 0
        sample = []
        for k in range(len(plan.chains)):
            if draw.random() < (0.05 if standing else 0.2):
                seen[k] = draw.choice((0, draw.randrange(colours)))
            sample.append(_row(plan, draw, k, (t, d, heading, seen[k], note)))
        out.append(sample)
    return out


def _row(plan: Plan, draw: random.Random, sensor: int, at: tuple[int, int, int, int, int]) -> Row:
    t, d, heading, colour, note = at
    have = plan.layouts[sensor].channels

    def sent(name: str, value: int) -> int:
        return value if name in have and draw.random() > 0.03 else MISSING

    raw = [draw.randrange(1024) if draw.random() < 0.3 else 60 + 90 * ((colour >> k) & 3) for k in range(3)]
    speed = draw.choice((0, 3000, -2000)) if "speed" in have else MISSING
    return (
        t, sent("dist", d), speed, sent("heading", heading), sent("refl", draw.randrange(1001)),
        sent("red", raw[0]), sent("green", raw[1]), sent("blue", raw[2]), sent("colour", colour), note,
    )  # fmt: skip


UNITS = {
    "t": (("ms", 1.0), ("us", 1000.0), ("s", 0.001)),
    "dist": (("cm", 1.0), ("mm", 10.0), ("m", 0.01)),
    "refl": (("%", 1.0), ("1", 0.01)),
    "heading": (("deg", 1.0), ("rad", 0.0174533)),
}


class _Text:
    def __init__(self, course: Course, seed: int) -> None:
        self.draw = random.Random(seed)
        self.colours = ["none", *course.colours]
        self.codes = {self.draw.randrange(50) + 60 * k: name for k, name in enumerate(self.colours)}
        self.lines: list[bytes] = []
        self.header()

    def header(self) -> None:
        draw = self.draw
        self.units = {name: draw.choice(units) for name, units in UNITS.items()}
        self.columns = ["t", "colour", "dist", "refl", "heading", "n", "gate"]
        draw.shuffle(self.columns)
        if draw.random() < 0.3:
            self.columns.remove("n")
        names = [f"{name}/{self.units[name][0]}" if name in self.units else name for name in self.columns]
        self.put("#" + draw.choice((",", ", ")).join(names))
        self.put("#codes," + ",".join(f"{code}={name}" for code, name in self.codes.items()))

    def put(self, text: str) -> None:
        raw = text.encode()
        if self.draw.random() < 0.5:
            raw += b"*%02X" % checksum(raw)
        if self.draw.random() < 0.05 and len(raw) > 3:
            place = self.draw.randrange(len(raw))
            raw = raw[:place] + bytes([self.draw.choice(b'0,x-#\xff\t"')]) + raw[place + self.draw.randrange(2) :]
        self.lines.append(raw.replace(b"\n", b"").replace(b"\r", b""))

    def sample(self, t: float, n: int, dist: float, colour: str) -> None:
        draw = self.draw
        told = {
            "n": str(n), "refl": "", "heading": "", "gate": draw.choice(("", "open", "1.5", "True", "-")),
            "t": self.number("t", t), "dist": self.number("dist", dist) if draw.random() > 0.05 else "",
        }  # fmt: skip
        told["refl"] = self.number("refl", draw.uniform(0, 100))
        told["heading"] = self.number("heading", draw.uniform(-400, 400))
        code = next(key for key, name in self.codes.items() if name == colour)
        told["colour"] = draw.choice((colour, str(code), f" {colour}", "")) if draw.random() < 0.2 else colour
        self.put(",".join(told[name] for name in self.columns))

    def number(self, name: str, value: float) -> str:
        value *= self.units[name][1]
        return self.draw.choice((f"{value:.4f}", f"{value:.2f}", f"{value:.7g}", f" {value:.3f}")) if name != "t" else (
            f"{value:.6f}" if self.units["t"][0] == "s" else f"{value:.0f}"
        )


def text_of(course: Course, seed: int) -> bytes:
    """A stream: headers that change, units, codes, checksums, damage, notes, restarts, missing fields, CRLF."""
    made = _Text(course, seed)
    draw = made.draw
    t, n, dist = draw.uniform(0, 1e5), 0, 0.0
    passed = [slot for slot in course.slots if not slot.unseen]
    markers = [(slot.at_cm or 10.0 * k, draw.choice(course.colours)) for k, slot in enumerate(passed)]
    notes = [leg.starts_note for leg in course.legs if leg.starts_note]
    for step in range(draw.randrange(60, 400)):
        t += draw.choice((5.0, 10.0, 10.0, 20.5))
        n += draw.choice((1, 1, 1, 2))
        dist += draw.uniform(0, 0.5)
        near = [colour for at, colour in markers if abs(at - dist) < 1.2]
        made.sample(t, n, dist, near[0] if near and draw.random() < 0.9 else "none")
        if notes and (step == 200 or draw.random() < 0.004):
            made.put(f"!{made.number('t', t)},{draw.choice(notes)}")
        if draw.random() < 0.01:
            made.header()
        if draw.random() < 0.004:
            t, n, dist = draw.uniform(0, 50), 0, 0.0
        if draw.random() < 0.01:
            made.put(draw.choice(("Traceback:", ">>> ", "#", "!boot", "", "a sentence, with 1 comma")))
    return draw.choice((b"\n", b"\r\n")).join(made.lines)
