"""All kinds of physics of the tests' own in one place: generator x level x stream x palette -> runs with their palettes.

Nothing here is fitted to anything. A *set-up* is one robot, field, lamp and layout; each gives several runs.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Protocol

from evidence.other_robot import LEVELS as OTHER_LEVELS
from evidence.other_robot import NAMES as OTHER_NAMES
from evidence.other_robot import Bench
from evidence.runs import RAW, built_in_palette

from telemetry.calibrate.build import build_palette
from telemetry.calibrate.capture import still_capture
from telemetry.calibrate.files import table_from_text
from telemetry.course import Course, Truth
from telemetry.palette import Palette
from telemetry.replay.header import palette_for
from telemetry.sample import SampleTable
from telemetry.sources.synthetic.levels import LEVELS as BUILT_IN_LEVELS
from telemetry.sources.synthetic.run import built_in_course, simulate, simulate_still

from . import in_turn, regulated, spectral, spliced

STREAMS = ("raw", "both", "codes")
PALETTES = ("here", "other light", "none")


class Robot(Protocol):
    """One set-up at one level."""

    course: Course
    colours: tuple[str, ...]

    def still(self, colour: str, other_light: bool = False, again: int = 0) -> SampleTable:
        """A still capture; ``again``: a further one, in the same light but held anew."""

    def drive(self, seed: int) -> tuple[SampleTable, Truth]:
        """One run."""


class Other:
    """The robot of the evidence tests, as a set-up."""

    def __init__(self, setup: int, level: str) -> None:
        self.made = Bench(setup)
        self.level = OTHER_LEVELS[level]
        self.course, self.colours = self.made.course, ("none", *OTHER_NAMES)

    def still(self, colour: str, other_light: bool = False, again: int = 0) -> SampleTable:
        """Other light: red stronger, blue weaker."""
        table = self.made.still(colour, again)
        if other_light:
            for name, share in (("red", 1.12), ("blue", 0.8)):
                table.columns[name] = (table.columns[name] * share).round()
        return table

    def drive(self, seed: int) -> tuple[SampleTable, Truth]:
        """One run."""
        run = self.made.drive(self.level, seed)
        return run.table, run.truth


class BuiltIn:
    """The built-in robot; a set-up is a day."""

    def __init__(self, setup: int, level: str) -> None:
        self.setup, self.level = setup, level
        self.course = built_in_course()
        self.colours = ("none", *self.course.colours)

    def still(self, colour: str, other_light: bool = False, again: int = 0) -> SampleTable:
        """Other light: at the hardest level's, on another day."""
        level = "extreme" if other_light else "practice"
        return table_from_text(simulate_still(colour, level, 777 + self.setup + 13 * again).data, colour)

    def drive(self, seed: int) -> tuple[SampleTable, Truth]:
        """One run."""
        run = simulate(self.level, self.setup * 1000 + seed)
        return table_from_text(run.data, self.level), run.truth


@dataclass(frozen=True)
class Generator:
    """``make(setup, level)``; ``levels`` by name, the easiest first."""

    make: type
    levels: tuple[str, ...]


GENERATORS: dict[str, Generator] = {
    "built-in": Generator(BuiltIn, tuple(BUILT_IN_LEVELS)),
    "other": Generator(Other, tuple(OTHER_LEVELS)),
    "spectral": Generator(spectral.Spectral, tuple(spectral.LEVELS)),
    "regulated": Generator(regulated.Regulated, tuple(regulated.LEVELS)),
    "in turn": Generator(in_turn.InTurn, tuple(in_turn.LEVELS)),
    "spliced": Generator(spliced.Spliced, tuple(spliced.LEVELS)),
}


def there(generator: str) -> bool:
    """Whether a generator can be had: the spliced one needs ../shared/real."""
    return generator != "spliced" or bool(spliced.readings())


@dataclass(frozen=True)
class Case:
    """One run, what stood there, and the palette to read it by."""

    generator: str
    level: str
    setup: int
    seed: int
    table: SampleTable
    course: Course
    truth: Truth
    palette: Palette


@lru_cache(maxsize=400)
def robot(generator: str, setup: int, level: str) -> Robot:
    """One set-up, made once."""
    made: Robot = GENERATORS[generator].make(setup, level)
    return made


@lru_cache(maxsize=400)
def palette_of(generator: str, setup: int, level: str, other_light: bool, codes_only: bool = False) -> Palette:
    """What a coach's calibration makes of the set-up's still captures."""
    if generator == "built-in" and not other_light and not codes_only:
        return built_in_palette()
    made = robot(generator, setup, level)
    names = [name for name in made.colours if name == "none" or name in made.course.colours]
    stills = ((name, only(made.still(name, other_light), "codes" if codes_only else "both")) for name in names)
    return build_palette([still_capture(name, table) for name, table in stills])


def only(table: SampleTable, stream: str) -> SampleTable:
    """``both``, ``raw`` or ``codes``: what the robot would have sent; with ``, in order`` it did not send its distance."""
    what, _, in_order = stream.partition(", ")
    drop = {"both": (), "raw": ("colour",), "codes": RAW}[what] + (("dist",) if in_order else ())
    columns = {name: column for name, column in table.columns.items() if name not in drop}
    return SampleTable(
        columns=columns, rows=table.rows, colours=table.colours if what != "raw" else ("none",), notes=table.notes,
        ranges=table.ranges if what != "codes" else {}, lost=table.lost,
    )  # fmt: skip


def cases(
    generator: str, level: str, *, setups: range, runs: int, stream: str = "both", palette: str = "here"
) -> Iterator[Case]:
    """``runs`` runs of each set-up at a level."""
    for setup in setups:
        made = robot(generator, setup, level)
        for seed in range(runs):
            table, truth = made.drive(seed)
            table = only(table, stream)
            if palette == "none":
                by = palette_for(table, made.course, None)
            else:
                by = palette_of(generator, setup, level, palette == "other light", stream.startswith("codes"))
            yield Case(generator, level, setup, seed, table, made.course, truth, by)
