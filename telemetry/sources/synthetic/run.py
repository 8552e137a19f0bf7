"""One whole simulated run: what stood there, how the robot drove, and every line it printed."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files

import numpy as np
from numpy.typing import NDArray

from telemetry.course import EMPTY, NONE, Course, Group, GroupRule, Leg, Sensor, Slot, Truth, parse_course
from telemetry.errors import UsageError
from telemetry.sources.synthetic.columns import Printed, Sends
from telemetry.sources.synthetic.drive import Drive, drive
from telemetry.sources.synthetic.field import Span, leg_reach_cm, spans
from telemetry.sources.synthetic.levels import LEVELS
from telemetry.sources.synthetic.onboard import codes, held_readings
from telemetry.sources.synthetic.physics import Physics
from telemetry.sources.synthetic.printer import data_lines, stream
from telemetry.sources.synthetic.sensor import Surroundings, measure
from telemetry.sources.synthetic.truth import draw_truth

COURSES = {"row": "orchard_row.toml", "two": "orchard_row_two.toml", "back": "orchard_row_back.toml"}
"""The built-in courses: Orchard Row; with two sensors; with a leg driven backwards."""


@cache
def built_in_course(name: str = "row") -> Course:
    """One of COURSES."""
    text = files(__package__).joinpath(COURSES[name]).read_text(encoding="utf-8")
    return parse_course(text, COURSES[name])


@dataclass(frozen=True, slots=True)
class SimulatedRun:
    """What a simulated robot sent, and what only a simulation knows. Nothing here was measured on a real robot.

    ``lines``: each with its line end; ``at_ms`` (lines,): when it left the robot, from the start of the program.
    ``sample_ms``, ``sample_leg``, ``sample_pos_cm[sensor]`` (samples,): robot time, true leg and true place of the
    sensor's spot of every sample, lost lines among them (``sample_lost``).
    ``settings``: what this run has drawn, for the recording's description.
    """

    level: str
    seed: int
    course: Course
    truth: Truth
    lines: tuple[bytes, ...]
    at_ms: NDArray[np.float64]
    sample_ms: NDArray[np.int64]
    sample_leg: NDArray[np.int64]
    sample_pos_cm: tuple[NDArray[np.float64], ...]
    sample_lost: NDArray[np.bool_]
    settings: dict[str, float | str]

    @property
    def data(self) -> bytes:
        """The whole stream."""
        return b"".join(self.lines)


def simulate(
    level: str = "practice",
    seed: int = 0,
    *,
    course: Course | None = None,
    truth: Truth | None = None,
    day: int | None = None,
    physics: Physics | None = None,
    codes_only: bool = False,
    raw_only: bool = False,
    two_sensors: bool = False,
    reversing: bool = False,
    number_codes: bool = False,
    checksum: bool = False,
    read_notes: bool = True,
    rest_ms: float = 0.0,
    stop_ms: float = 0.0,
    clock_ms: int | None = None,
    first_n: int = 0,
) -> SimulatedRun:
    """Drive one run. The same arguments give the same bytes.

    ``course``: any course; without it Orchard Row, ``two_sensors`` and ``reversing`` choose its variants. ``truth``: what
    stands there; without it drawn by lot from the seed under the course's groups. ``day``: runs of one day share the light
    of the place and the sensor (without it each seed is a day of its own); see also ``simulate_still``. ``physics``: instead
    of the level's numbers (see ``dataclasses.replace``). ``codes_only``: a robot that sends its sensor's colour and no raw
    channels; ``raw_only``: one without a colour code. ``number_codes``: colours as integers, explained by a ``#codes`` line.
    ``read_notes``: the robot's own program notes what it takes for each slot. ``rest_ms``: how long it stands still before
    and after; ``stop_ms``: and over each marker, by its own distance. ``clock_ms`` and ``first_n``: where its clock and line
    numbers begin (else drawn, and 0), for a robot that has been on for a while. Raises UsageError for an unknown level.
    """
    world = _world(level, physics)
    field = course or built_in_course("two" if two_sensors else "back" if reversing else "row")
    lot = np.random.default_rng([abs(seed), 1])
    stands = truth or draw_truth(field, lot)
    names = dict.fromkeys(decoy.name for decoy in field.decoys)  # one that several sensors pass is one thing
    lots = {name: str(lot.choice(world.decoy_colours or field.colours)) for name in names}
    decoys = tuple(decoy.colour or lots[decoy.name] for decoy in field.decoys)

    rng = np.random.default_rng([abs(seed), 2])
    legs = len(field.legs)
    found = spans(field, stands, decoys)
    speed = world.speed_cm_s * (1.0 + world.speed_spread * rng.uniform(-1.0, 1.0))
    slip = world.slip_max * rng.uniform(-1.0, 1.0, legs)
    lined_up = np.where(np.arange(legs) > 0, world.start_off_later, 1.0)
    around = replace(
        _place(world, seed if day is None else day),
        wear=world.wear_max * rng.uniform(0.0, 1.0, len(found)),
        start_off_cm=world.start_off_max_cm * lined_up * rng.uniform(-1.0, 1.0, legs),
    )
    way = drive(field, leg_reach_cm(field, found), world, speed, slip, rest_ms=rest_ms, stop_ms=stop_ms)
    sends = Sends(not raw_only, not codes_only, number_codes, checksum, read_notes, clock_ms, first_n)
    settings: dict[str, float | str] = {"speed_cm_s": round(float(speed), 1)}
    for number, leg in enumerate(field.legs):
        settings[f"slip, {leg.name}"] = round(float(slip[number]), 3)
        settings[f"start off, {leg.name}, cm"] = round(float(around.start_off_cm[number]), 1)
    return _sent(level, seed, field, stands, scene=(way, found, world, around), sends=sends, rng=rng, settings=settings)


def simulate_still(
    colour: str,
    level: str = "practice",
    seed: int = 0,
    *,
    day: int | None = None,
    physics: Physics | None = None,
    seconds: float = 3.0,
    codes_only: bool = False,
    among: Course | None = None,
) -> SimulatedRun:
    """The robot stands with its sensor over one colour (``none``: the empty mat), as for a calibration.

    ``day``: as in ``simulate``; the light and the sensor are those of its runs of that day. The colour is a fresh one.
    ``among``: the course whose colours the sensor knows (default: Orchard Row), so that a name looks as in its runs.
    """
    world = _world(level, physics)
    slot = Slot(colour, leg=0, sensor=0, group=0, at_cm=0.0, width_cm=100.0)
    group = Group("still", GroupRule.ANY, (EMPTY if colour == NONE else colour,))
    row = among or built_in_course()
    course = Course(f"standing on {colour}", (Leg("still"),), (Sensor(),), (group,), (slot,))
    rng = np.random.default_rng([abs(seed), 4])
    found = spans(course, group.colours, ())
    nothing = np.zeros(round(seconds * 1000.0) + 1)
    way = Drive(nothing.astype(np.int64), nothing, nothing, nothing, [])
    around = replace(_place(world, seed if day is None else day), wear=np.zeros(len(found)), start_off_cm=np.zeros(1))
    sends = Sends(raw=not codes_only, read_notes=False)
    known = dict.fromkeys((*row.colours, *((colour,) if colour != NONE else ())))
    vocabulary = replace(course, groups=(Group("known", GroupRule.ANY, tuple(known)),))
    scene = (way, found, world, around)
    return _sent(level, seed, vocabulary, group.colours, scene=scene, sends=sends, rng=rng, settings={})


def _world(level: str, physics: Physics | None) -> Physics:
    if level not in LEVELS:
        raise UsageError(f"there is no level '{level}'", todo=f"The levels are {', '.join(LEVELS)}.")
    return physics or LEVELS[level].physics


def _place(world: Physics, day: int) -> Surroundings:
    """What stays the same for a day: the light of the place, and the sensor's own channels."""
    rng = np.random.default_rng([abs(day), 3])
    return Surroundings(
        light=world.lights[int(rng.integers(len(world.lights)))],
        ambient=world.ambient_max * rng.uniform(0.0, 1.0),
        gain=1.0 + world.gain_spread * rng.uniform(-1.0, 1.0, 3),
        wear=np.zeros(0),
        start_off_cm=np.zeros(0),
    )


def _sent(
    level: str,
    seed: int,
    field: Course,
    stands: Truth,
    *,
    scene: tuple[Drive, tuple[Span, ...], Physics, Surroundings],
    sends: Sends,
    rng: np.random.Generator,
    settings: dict[str, float | str],
) -> SimulatedRun:
    """What the robot makes of the drive: measurements, its own colour code, and the lines in the order they leave it."""
    way, found, world, around = scene
    seen = [
        measure(field, number, way, found=found, physics=world, around=around, rng=rng)
        for number in range(len(field.sensors))
    ]
    ticks = _loop(way, world, rng)
    clock = np.round(ticks).astype(np.int64)
    drawn_ms = int(rng.integers(1000, 60000))
    start_ms = drawn_ms if sends.clock_ms is None else sends.clock_ms
    lost = _lost(len(ticks), world, rng)
    printed = Printed(world, field.colours, sends, rng)
    columns = printed.clock(clock + start_ms, sends.first_n)
    said = [(float(ticks[0]), f"simulated robot, level {level}, seed {seed}"), *way.notes]
    notes = [(at, f"!{round(at) + start_ms},{text}") for at, text in said]
    places = []
    for number, measured in enumerate(seen):
        latest = np.maximum(np.searchsorted(measured.done_ms, ticks, side="right") - 1, 0)
        late = np.maximum(latest - round(world.code_lag_ms / world.measuring_ms), 0)
        code = codes(measured.counts, field.colours, world)[late]
        suffix = f".{field.sensors[number].name}" if len(field.sensors) > 1 else ""
        columns += printed.sensor(measured, latest, code, suffix)
        places.append(measured.pos_cm[latest])
        if sends.read_notes:
            notes += [
                (float(clock[row]), f"!{clock[row] + start_ms},read,{slot},{field.colours[colour - 1]}")
                for slot, (row, colour) in _own_readings(field, number, code)
            ]
    columns += printed.motion(way, ticks)
    data = data_lines([values for _, values in columns])
    kept = np.flatnonzero(~lost)
    preface = printed.preface([name for name, _ in columns])
    arrived = [data[row] for row in kept.tolist()]
    lines, at_ms = stream(preface, arrived, ticks[kept], notes, checksum=sends.checksum)
    drawn: dict[str, float | str] = {
        "made by": "the built-in robot (simulated)", "level": level, "seed": seed, "light": around.light,
        "ambient": round(float(around.ambient), 3), "height_mm": world.height_mm,
    }  # fmt: skip
    return SimulatedRun(
        level=level, seed=seed, course=field, truth=stands, lines=lines, at_ms=at_ms, sample_ms=clock + start_ms,
        sample_leg=way.leg[clock], sample_pos_cm=tuple(places), sample_lost=lost, settings=drawn | settings,
    )  # fmt: skip


def _loop(way: Drive, world: Physics, rng: np.random.Generator) -> NDArray[np.float64]:
    """When the program's loop came round (ms), with jitter and stalls; at least 1 ms apart, the first after 20 ms."""
    rounds = int((way.duration_ms - 20.0) / world.loop_ms * 1.1) + 10
    periods = world.loop_ms * (1.0 + world.loop_jitter * rng.normal(size=rounds))
    periods[rng.random(rounds) < world.stall_chance] *= 3.0
    ticks = 20.0 + np.cumsum(np.maximum(periods, 1.0))
    return ticks[ticks < way.duration_ms]


def _lost(rounds: int, world: Physics, rng: np.random.Generator) -> NDArray[np.bool_]:
    """Which lines never arrive: gaps that begin by chance and have a random length."""
    lost = np.zeros(rounds, dtype=np.bool_)
    if world.lost_line_chance > 0.0:
        for begin in np.flatnonzero(rng.random(rounds) < world.lost_line_chance).tolist():
            lost[begin : begin + int(rng.geometric(1.0 / world.lost_lines_mean))] = True
    return lost


def _own_readings(
    course: Course, sensor: int, code: NDArray[np.int64]
) -> list[tuple[str, tuple[int, int]]]:
    """What the robot's own simple program takes for the slots of this sensor, in order: (slot, (row, code)).

    Where one slot of a group was not passed and one colour is left, it takes that.
    """
    mine = [slot for slot in course.slots if slot.sensor == sensor]
    taken = list(zip([slot.name for slot in mine if not slot.unseen], held_readings(code), strict=False))
    known = dict(taken)
    for number, group in enumerate(course.groups):
        members = [slot for slot in course.slots if slot.group == number]
        open_slots = [slot.name for slot in members if slot.name not in known]
        read = [known[slot.name] for slot in members if slot.name in known]
        left = {course.colours.index(colour) + 1 for colour in group.colours} - {colour for _, colour in read}
        unseen = [slot for slot in mine if slot.unseen and open_slots == [slot.name]]
        if group.rule is GroupRule.ONE_OF_EACH and unseen and len(left) == 1 and read:
            taken.append((unseen[0].name, (max(row for row, _ in read), left.pop())))
    return taken
