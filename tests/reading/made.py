"""Runs made up by hand: what the sensor saw, sample by sample, and a small course to read it on."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from telemetry.course import Course, parse_course
from telemetry.palette import Palette, PaletteColour
from telemetry.reading.chain import decode
from telemetry.reading.plan import Plan, make_plan
from telemetry.reading.strategy import Strategy, Use
from telemetry.sample import Columns, Note, QuantizedColumns, SampleTable, whole_columns

NAMES = ("none", "rust", "leaf", "sky", "pink")
RAW = {"none": (40, 40, 40), "rust": (400, 100, 50), "leaf": (80, 300, 60), "sky": (90, 200, 500), "pink": (600, 250, 350)}
PALETTE = Palette(
    "made up",
    tuple(PaletteColour(name, np.array([*RAW[name], np.nan]), np.eye(4), 10) for name in NAMES),
    measured=True,
)


@dataclass
class Made:
    """A run in the making: 10 ms and ``step_mm`` a sample, unless told otherwise."""

    step_mm: float = 1.0
    step_ms: int = 10
    t_ms: int = 0
    mm: float = 0.0
    heading: float = 0.0
    raw: bool = False
    rows: list[dict[str, float]] = field(default_factory=list)
    notes: list[Note] = field(default_factory=list)

    def see(self, colour: str, samples: int = 1, /, **more: float) -> Made:
        """The sensor sees ``colour`` for ``samples``; ``more``: further columns, or ``step_mm`` for these samples."""
        step = more.pop("step_mm", self.step_mm)
        for _ in range(samples):
            row: dict[str, float] = {"t": self.t_ms, "dist": self.mm / 10, "heading": self.heading}
            row["colour"] = NAMES.index(colour) if colour in NAMES else -1
            if self.raw:
                row |= dict(zip(("red", "green", "blue"), RAW[colour], strict=True))
            self.rows.append(row | more)
            self.t_ms += self.step_ms
            self.mm += step
        return self

    def none(self, samples: int = 1, **more: float) -> Made:
        """The sensor sees nothing."""
        return self.see("none", samples, **more)

    def to(self, mm: float, colour: str = "none") -> Made:
        """Drive on to ``mm``, seeing ``colour``."""
        return self.see(colour, max(0, round((mm - self.mm) / self.step_mm)))

    def note(self, text: str) -> Made:
        """The robot's program says something."""
        self.notes.append(Note(len(self.rows), self.t_ms * 1000, 0, text))
        return self

    @property
    def columns(self) -> Columns:
        """As a recording holds them."""
        names = {name for row in self.rows for name in row} - {"t"}
        out: Columns = {"t_us": np.array([row["t"] for row in self.rows], dtype=np.int64) * 1000}
        for name in sorted(names):
            values = [row.get(name, np.nan) for row in self.rows]
            out[name] = np.array(values, dtype=np.int16 if name.startswith("colour") else np.float64)
        return out

    @property
    def table(self) -> SampleTable:
        """The run as the rest of the product knows it."""
        rows = len(self.rows)
        return SampleTable(columns=self.columns, rows=rows, colours=NAMES, notes=self.notes)


def course(text: str) -> Course:
    """A course from TOML without its heading."""
    return parse_course('[course]\nname = "made up"\n' + text, "made up")


def slots(*at_cm: float, rule: str = 'distinct = ["rust", "leaf", "sky", "pink"]') -> str:
    """Slots of one group ``g`` at these places, 2 cm wide."""
    each = "".join(f'[[slot]]\nname = "s{k}"\nat_cm = {at}\nwidth_cm = 2.0\ngroup = "g"\n' for k, at in enumerate(at_cm, 1))
    return each + f'[[group]]\nname = "g"\n{rule}\n'


def in_order(count: int, rule: str = 'distinct = ["rust", "leaf", "sky", "pink"]') -> str:
    """Slots of one group ``g`` of which only the order is known."""
    each = "".join(f'[[slot]]\nname = "s{k}"\ngroup = "g"\n' for k in range(1, count + 1))
    return each + f'[[group]]\nname = "g"\n{rule}\n'


def uses(*words: str) -> tuple[Use, ...]:
    """Stages from words like ``hold samples=2 ms=10``."""
    out = []
    for word in words:
        name, *settings = word.split(" ")
        pairs = (setting.split("=", 1) for setting in settings)
        whole = {key: int(value) if value.lstrip("-").isdigit() else value.replace("_", " ") for key, value in pairs}
        out.append(Use(name, whole))
    return tuple(out)


def plan_of(made: Made, on: Course, *words: str) -> Plan:
    """The plan of a strategy of these stages for a made-up run."""
    strategy = Strategy("made-up", "Made up", "For a test.", uses(*words))
    return make_plan(strategy, on, PALETTE, made.columns, NAMES)


def wholes_of(made: Made, plan: Plan) -> list[QuantizedColumns]:
    """The run in whole numbers, one a sensor."""
    return [
        whole_columns(made.columns, len(made.rows), sensor.name, NAMES, plan.names) for sensor in plan.course.sensors
    ]


def events_of(made: Made, plan: Plan) -> list[tuple[int, int, int]]:
    """The whole run through a plan, its end included."""
    plan.reset()
    rows = len(made.rows)
    events = plan.run(wholes_of(made, plan), plan.note_rows(made.notes), 0, rows)
    return events + [(rows, sensor, event) for sensor, event in plan.finish()]


def read(made: Made, on: Course, *words: str) -> list[str]:
    """What is read: for each slot its colour, ``-`` where missing, ``empty``; then the surplus colours, each with ``+``."""
    plan = plan_of(made, on, *words)
    found = ["-"] * len(on.slots)
    surplus = []
    for _, _, event in events_of(made, plan):
        decision = decode(event)
        name = plan.names[decision.colour] if decision.colour else "empty"
        if decision.how == 3:
            surplus.append("+elsewhere")
        elif decision.slot is None:
            surplus.append(f"+{name}")
        else:
            found[decision.slot] = name
    return found + surplus
