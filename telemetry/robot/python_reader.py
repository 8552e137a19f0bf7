"""The file ``reader.py``: a plan as one MicroPython program that needs nothing else."""

from __future__ import annotations

import ast
import re
from pathlib import Path
from typing import Any

from telemetry.errors import StrategyError
from telemetry.given_file import given_text
from telemetry.reading.fingerprint import arguments_of
from telemetry.reading.own import OwnStage
from telemetry.reading.portable.moment import Moment
from telemetry.reading.scope import parts_of
from telemetry.reading.syntax import parsed
from telemetry.robot.gather import Gatherer, literal, number
from telemetry.robot.order import ReaderOrder

ON_EVERY_BOARD = frozenset({"math", "time", "sys", "gc", "array", "micropython"})
"""What a team's own logic may import: each of these is in MicroPython on every board."""
BLANKS = re.compile(r" ?([=<>!+*/%&|^-]+|,|:) (?=\S)|(?<=[\])]) (?=if |else |and |or |in )")
"""Blanks that Python does not need. No text in the logic has any of them: names stand above it."""
LONGEST = 120
"""Characters of a line of the logic into which statements are joined."""
OURS = frozenset({"Reader", "SLOTS", "COLOURS", "NOTES", "SENSORS", "STRATEGY", "FINGERPRINT", "NOTHING", "show"})

_USE = '''\
#   from reader import Reader
#   reader = Reader()           # Reader(out.read): readings go into the stream
#   while driving:
#       out.sample(reader)      # the emitter fills in what the sensors say, and prints it
#       reader.step()           # once a loop; calls show() for each reading
#   reader.finish()             # the run is over: what is still open is decided
#   reader.colour("{slot}")     # what was read there; before another run: reader.begin()
#
# Without the emitter: whole numbers before each step (see Moment; not measured: NOTHING):
#   m = reader.m; m.t = ms; m.code = reader.number("{colour}"); m.d = tenths_of_a_mm
# reader.note("text"): what your program does, where the course asks for it.


def show(slot, colour):  # fill in: show or sound a reading; colour "empty": nothing stands there
    pass


# ---------------- Nothing to change below
NOTHING = ~1073741823'''

_READER = '''

class Reader:
    def __init__(self, show=show):
        self.show = show
        self.sensors = SENSORS
        self.mark = STRATEGY + "," + FINGERPRINT
        self.read = [-1] * len(SLOTS)
        self.moments = [{moments}]
        self.m = self.moments[0]
{making}
        self.begin()

    def begin(self):
        for stage in self.stages:
            stage.reset()
        for m in self.moments:
            m.__init__()
        for i in range(len(self.read)):
            self.read[i] = -1
        self.notes = []
        self.elsewhere = 0

    def number(self, colour):
        if colour.lower() == "none":
            return 0
        if colour not in COLOURS:
            if len(COLOURS) > 29:
                return NOTHING
            COLOURS.append(colour)
        return COLOURS.index(colour)

    def colour(self, slot):
        k = self.read[SLOTS.index(slot)]
        return None if k < 0 else COLOURS[k] if k else "empty"

    def note(self, text):
        if text.strip() in NOTES:
            self.notes.append(NOTES[text.strip()])

    def step(self):
        note = self.notes.pop(0) if self.notes else 0
{steps}

    def finish(self):
        for phase in range(1, 3):
{ends}

    def _over(self, m, phase):
        m.d = m.v = m.h = m.refl = m.red = m.green = m.blue = m.code = NOTHING
        m.note = 0
        m.end = phase

    def enter(self, event):
        # event: see DEVELOPERS.md
        if self.elsewhere:
            return
        slot = ((event >> 8) & 255) - 1
        if slot >= 0:
            self.read[slot] = event & 31
            self.show(SLOTS[slot], COLOURS[event & 31] if event & 31 else "empty")
        elif (event >> 5) & 7 == 3:
            self.elsewhere = 1
'''


def reader_py(order: ReaderOrder) -> str:
    """The text of ``reader.py``. Raises StrategyError where a logic of the team's own cannot go along."""
    plan = order.plan
    gathered = Gatherer()
    gathered.add(Moment)
    own = ""
    for chain in plan.chains:
        for stage in chain.stages:
            if isinstance(stage, OwnStage):
                own = own_source(Path(plan.strategy.own_file))
            else:
                gathered.add(type(stage))
                for part in parts_of(stage):
                    _add_part(gathered, part)
    if own:
        _check_own_names(own, gathered.names | OURS, plan.strategy.own_file)
    slots = tuple(slot.name for slot in plan.course.slots)
    colours = plan.names[1 : 1 + len(plan.course.colours)]
    text = [
        *(f"# {line}" for line in heading(order)), "#",
        _USE.replace("{slot}", shown(slots[0])).replace("{colour}", shown(colours[0])),
        f"STRATEGY = {plan.strategy.name!r}", f"FINGERPRINT = {order.fingerprint!r}",
        f"SLOTS = {slots!r}", f"COLOURS = {list(plan.names)!r}", f"NOTES = {dict(plan.notes)!r}",
        f"SENSORS = {tuple(sensor.name for sensor in plan.course.sensors)!r}",
    ]  # fmt: skip
    logic = gathered.text + _reader(order)
    return "\n".join([*text, *([own] if own else []), *narrow(logic)]) + "\n"


def narrow(logic: str) -> list[str]:
    """Lines of a program with the same tree, with few blanks: a board has little room, and nobody changes them by hand."""
    lines = [
        " " * ((len(line) - len(line.lstrip())) // 4) + BLANKS.sub(r"\1", line.lstrip())
        for line in logic.splitlines() if line.strip()
    ]  # fmt: skip
    lines = _joined(lines)
    deep = [_indent(line) for line in lines] + [0]
    out: list[str] = []
    for at, line in enumerate(lines):
        # What stands alone under an "if" goes onto its line.
        alone = out and deep[at] > deep[at - 1] >= deep[at + 1] and not line.endswith(":")
        if alone and lines[at - 1].endswith(":"):
            out[-1] += line.lstrip()
        else:
            out.append(line)
    return out


def _joined(lines: list[str]) -> list[str]:
    """Simple statements that follow each other on one line: machine code of a board notes where each line begins."""
    out: list[str] = []
    for line in lines:
        fits = bool(out) and _indent(out[-1]) == _indent(line) and len(out[-1]) + len(line) < LONGEST
        if fits and _is_simple(out[-1]) and _is_simple(line):
            out[-1] += ";" + line.lstrip()
        else:
            out.append(line)
    return out


def _indent(line: str) -> int:
    return len(line) - len(line.lstrip())


def _is_simple(line: str) -> bool:
    """Whether a line is whole statements without a block of their own."""
    if line.endswith(":") or "#" in line:
        return False
    try:
        return not any(hasattr(statement, "body") for statement in parsed(line.strip()).body)
    except SyntaxError:  # a part of a statement that goes over several lines
        return False


def _add_part(gathered: Gatherer, part: Any) -> None:
    gathered.add(type(part))
    for inner in parts_of(part):
        _add_part(gathered, inner)


def heading(order: ReaderOrder) -> list[str]:
    """What stands at the top of a file for the robot: strategy, course, palette, fingerprint."""
    plan, palette = order.plan, order.palette
    made = f" ({palette.made})" if palette.made else ""
    lines = [
        "Written by Sidelong: reads the colours of a course, as its replay does.",
        f"strategy:    {shown(plan.strategy.name)}: " + " > ".join(shown(use.label) for use in plan.strategy.uses),
        f"course:      {shown(plan.course.name)}",
        f"palette:     {shown(palette.name)}{shown(made)}" + (", simulated" if order.simulated else ""),
        f"made for:    {shown(order.columns)}" + (f" (like {shown(order.like)})" if order.like else ""),
        f"fingerprint: {order.fingerprint}",
    ]
    if order.granted:
        lines.append(f"taken for granted: {order.granted}. Give --palette or --like where your sensor's are others.")
    if order.simulated:
        lines.append("The palette is simulated: calibrate with your own sensor before you trust it.")
    return lines


def shown(text: str) -> str:
    """A text from a file as it may stand in a comment: on one line, nothing in it ends the comment."""
    plain = "".join(char if char.isprintable() else f"\\u{ord(char):04x}" for char in text)
    return plain.replace("*/", "* /").replace("/*", "/ *").replace("\\\n", "\\ ").rstrip("\\")


def own_source(path: Path) -> str:
    """A team's own logic, whole. Raises StrategyError where it imports what a board may not have."""
    where = str(path)
    try:
        text = given_text(path, StrategyError, absent="Check the file.")
        tree = parsed(text)
    except (ValueError, SyntaxError) as error:
        raise StrategyError(f"it cannot be read ({error})", where=where, todo="Check the file.") from error
    for node in ast.walk(tree):
        names: list[str] = []
        if isinstance(node, ast.Import):
            names = [one.name for one in node.names]
        elif isinstance(node, ast.ImportFrom):
            names = [node.module or "."]
        for name in names:
            if name not in ON_EVERY_BOARD:
                raise StrategyError(
                    f"it imports '{name}', which is not on every board", where=f"{where}, line {node.lineno}",  # type: ignore[attr-defined]
                    todo=f"A logic for the robot may import {', '.join(sorted(ON_EVERY_BOARD))}.",
                )
    return text.strip("\n")


def _check_own_names(source: str, taken: frozenset[str], where: str) -> None:
    for node in parsed(source).body:
        names = [node.name] if isinstance(node, ast.ClassDef | ast.FunctionDef) else []
        if isinstance(node, ast.Assign):
            names = [one.id for one in ast.walk(node) if isinstance(one, ast.Name) and isinstance(one.ctx, ast.Store)]
        for name in names:
            if name in taken or name.startswith("_Own"):
                raise StrategyError(
                    f"it uses the name '{name}', which a part of the reader has", where=f"{where}, line {node.lineno}",
                    todo="Give it another name there.",
                )


_OWN = '''

class _OwnStage:
    def __init__(self, notes):
        self.notes = notes
        self.reset()

    def reset(self):
        self.own = {make}

    def step(self, label, m):
        return self.own.step(label, m)
'''


def _reader(order: ReaderOrder) -> str:
    plan = order.plan
    tables: dict[int, str] = {}
    made: dict[int, str] = {}
    making: list[str] = []
    steps: list[str] = []
    ends: list[str] = []
    own = ""
    for number_, (recipe, chain) in enumerate(zip(plan.recipes, plan.chains, strict=True)):
        row = []
        for (_, _, arguments), stage in zip(recipe, chain.stages, strict=True):
            if id(stage) not in made:
                if isinstance(stage, OwnStage):
                    own = _own_class(order)
                    made[id(stage)] = f"self.s{len(made)}"
                    making.append(f"{made[id(stage)]} = _OwnStage(NOTES)")
                else:
                    words = [_argument(value, tables, making) for value in arguments]
                    made[id(stage)] = f"self.s{len(made)}"
                    making.append(f"{made[id(stage)]} = {type(stage).__name__}({', '.join(words)})")
            row.append(made[id(stage)])
        m = "m" if len(plan.chains) == 1 else f"m{number_}"
        call = "-1"
        chained = [f"{m} = self.moments[{number_}]", f"{m}.note = note"]
        for name in row:
            chained.append(f"label = {name}.step({'-1' if call == '-1' else 'label'}, {m})")
            call = "label"
        steps += [*chained, "if label:", "    self.enter(label)"]
        ends += [
            "zeros = 0", "while zeros < 2:", f"    {m} = self.moments[{number_}]", f"    self._over({m}, phase)",
            *("    " + line for line in chained[2:]), "    zeros = 0 if label else zeros + 1",
            "    if label:", "        self.enter(label)",
        ]  # fmt: skip
    making.append(f"self.stages = ({', '.join(made.values())},)")
    filled = {
        "{moments}": ", ".join(["Moment()"] * len(plan.chains)),
        "{making}": _indented(making, 8), "{steps}": _indented(steps, 8), "{ends}": _indented(ends, 12),
    }  # fmt: skip
    text = _READER
    for mark, value in filled.items():
        text = text.replace(mark, value)
    return own + text


def _own_class(order: ReaderOrder) -> str:
    import inspect

    own = order.strategy.own
    assert own is not None
    asked = inspect.signature(own).parameters
    gifts = [text for key, text in (("names", "names=list(COLOURS)"), ("notes", "notes=dict(self.notes)")) if key in asked]
    return _OWN.replace("{make}", f"{own.__name__}({', '.join(gifts)})")


def _argument(value: Any, tables: dict[int, str], making: list[str]) -> str:
    """An argument of a stage as text; a table or part that several share is made once."""
    if isinstance(value, int):
        return number(value)
    if id(value) not in tables:
        if isinstance(value, list):
            text = literal(value)
        else:
            text = f"{type(value).__name__}({', '.join(_argument(one, tables, making) for one in arguments_of(value))})"
        tables[id(value)] = f"t{len(tables)}"
        making.append(f"{tables[id(value)]} = {text}")
    return tables[id(value)]


def _indented(lines: list[str], by: int) -> str:
    return "\n".join(" " * by + line for line in lines)
