"""Each stage that can be said in blocks, in structured English. COLOUR goes through all of them, as a label does."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from telemetry.reading.layout import FAR, Layout
from telemetry.robot.recipe.model import RecipeStep, Value

NOTHING, NONE, OPEN, UNKNOWN = '"nothing"', '"none"', '"open"', '"unknown"'
A_COLOUR = f"COLOUR is not {NOTHING} and COLOUR is not {NONE}"


@dataclass
class RecipeDraft:
    """A recipe in the making. ``number``: which stage of the strategy is being said.

    ``again``: a stage of its kind was said before, so names must differ.
    """

    layout: Layout
    variables: dict[str, Value] = field(default_factory=dict)
    lists: dict[str, tuple[Value, ...]] = field(default_factory=dict)
    inputs: dict[str, str] = field(default_factory=dict)
    blocks: dict[str, tuple[str, ...]] = field(default_factory=dict)
    number: int = 0
    again: bool = False

    @property
    def groups(self) -> list[str]:
        """The name of the list of colours left, group by group."""
        return [f"LEFT {number + 1}" for number in range(len(self.layout.course.groups))]

    def needs(self, *names: str) -> None:
        """What the robot's own program must fill in before each pass."""
        for name in names:
            self.inputs[name] = INPUTS[name]

    def own(self, name: str) -> str:
        """A variable of this stage alone."""
        return f"{name} {self.number}" if self.again else name


INPUTS: Mapping[str, str] = {
    "SEEN": f"the colour that the sensor reports, by its name; {NONE} where it sees none, {NOTHING} where it says nothing",
    "LEG": "1 on the first leg; your program counts it up where a leg begins",
    "PLACE": f"how far the sensor is along the leg, in mm; {UNKNOWN} where it is not known",
    "DISTANCE": f"what the wheels have counted, in mm; {UNKNOWN} where it is not known",
    "SPEED": f"in mm/s; {UNKNOWN} where it is not known",
    "TIME": "milliseconds since the run began",
}

Say = Callable[[RecipeDraft, Mapping[str, int]], RecipeStep]


def _code(draft: RecipeDraft, _: Mapping[str, int]) -> RecipeStep:
    draft.needs("SEEN")
    return RecipeStep("Look", "", ("set COLOUR to SEEN",))


def _mute(draft: RecipeDraft, s: Mapping[str, int]) -> RecipeStep:
    names = [name for number, name in enumerate(draft.layout.names) if number and s["colours"] >> number & 1]
    draft.lists[draft.own("MUTED")] = tuple(names)
    lines = (f"if COLOUR is in list {draft.own('MUTED')}", f"  set COLOUR to {NOTHING}")
    return RecipeStep(f"Never believe {', '.join(names)}", "A colour that the sensor reports where it is not.", lines)


def _hold(draft: RecipeDraft, s: Mapping[str, int]) -> RecipeStep:
    held, where, count, asks = draft.own("HELD"), draft.own("HELD AT"), draft.own("COUNT"), s["samples"]
    draft.variables |= {held: "nothing", where: 0, count: 0}
    return RecipeStep(
        f"Believe a colour once it was seen {asks} times in a row", "A flicker at an edge, a single wrong reading.",
        (
            f"if COLOUR is not {NOTHING}", f"  if COLOUR is {held} and SLOT is {where}", f"    if {count} is below {asks}",
            f"      change {count} by 1", "  otherwise", f"    set {held} to COLOUR", f"    set {where} to SLOT",
            f"    set {count} to 1", f"  if {count} is below {asks}", f"    set COLOUR to {NOTHING}",
        ),
    )  # fmt: skip


def _smooth(draft: RecipeDraft, s: Mapping[str, int]) -> RecipeStep:
    last, best = draft.own("LAST"), draft.own("BEST")
    draft.lists[last] = ("none",) * s["samples"]
    draft.lists["ALL COLOURS"] = tuple(draft.layout.names)
    draft.variables[best] = "none"
    return RecipeStep(
        f"Believe what most of the last {s['samples']} samples showed", "A sensor that flickers.",
        (
            f"if COLOUR is not {NOTHING}", f"  delete item 1 of list {last}", f"  add COLOUR to list {last}",
            "  repeat with K from 1 to length of list ALL COLOURS",
            f"    if how often item K of list ALL COLOURS is in list {last} is above how often {best} is in list {last}",
            f"      set {best} to item K of list ALL COLOURS", f"  set COLOUR to {best}",
        ),
    )  # fmt: skip


def _once(draft: RecipeDraft, s: Mapping[str, int]) -> RecipeStep:
    ready, nones = draft.own("READY"), draft.own("NONES")
    draft.variables |= {ready: 1, nones: 0}
    return RecipeStep(
        "Take one colour, then wait for none", "One marker that is taken twice.",
        (
            f"if COLOUR is {NONE}", f"  if {ready} is 0", f"    change {nones} by 1",
            f"    if {nones} is at least {s['gap']}", f"      set {ready} to 1", "otherwise",
            f"  if COLOUR is not {NOTHING}",
            f"    set {nones} to 0",
            f"    if {ready} is 1", f"      set {ready} to 0", "    otherwise", f"      set COLOUR to {NOTHING}",
        ),
    )  # fmt: skip


def _change(draft: RecipeDraft, _: Mapping[str, int]) -> RecipeStep:
    last = draft.own("TAKEN")
    draft.variables[last] = "none"
    lines = (
        f"if {A_COLOUR}", f"  if COLOUR is {last}", f"    set COLOUR to {NOTHING}", "  otherwise",
        f"    set {last} to COLOUR",
    )  # fmt: skip
    return RecipeStep("Take a colour when it is another than before", "One marker that is taken twice.", lines)


def _number(draft: RecipeDraft, s: Mapping[str, int]) -> RecipeStep:
    left = draft.own("STILL TO TAKE")
    draft.variables[left] = s["count"] or len(draft.layout.mine)
    lines = (
        f"if {A_COLOUR}", f"  if {left} is 0", f"    set COLOUR to {NOTHING}", "  otherwise", f"    change {left} by -1",
    )  # fmt: skip
    return RecipeStep(
        f"Take {draft.variables[left]} colours and no more", "Something coloured behind the last marker.", lines
    )


def _run_on(draft: RecipeDraft, s: Mapping[str, int]) -> RecipeStep:
    draft.needs("DISTANCE", "LEG")
    start, length, leg, on, waits = (draft.own(one) for one in ("START", "LENGTH", "RUN LEG", "RUNS ON", "WAITS"))
    draft.variables |= {start: "unknown", length: 0, leg: 1, on: 0, waits: 0}
    return RecipeStep(
        f"After a colour, drive on for {s['colour_mm']} mm before reading again", "A flicker on one marker.",
        (
            f"if COLOUR is not {NOTHING}", f"  if LEG is not {leg}", f"    set {leg} to LEG",
            f"    set {start} to {UNKNOWN}",
            f"  set {waits} to 0", f"  if {start} is not {UNKNOWN}", f"    set {waits} to 1",
            f"    if DISTANCE is not {UNKNOWN}", f"      if the distance between DISTANCE and {start} is at least {length}",
            f"        set {waits} to 0", f"        set {start} to {UNKNOWN}", f"  if {waits} is 1",
            f"    set COLOUR to {NOTHING}", "  otherwise", f"    if COLOUR is {NONE}", f"      if {on} is 1",
            f"        set {start} to DISTANCE", f"        set {length} to {s['none_mm']}", f"        set {on} to 0",
            "    otherwise", f"      set {start} to DISTANCE", f"      set {length} to {s['colour_mm']}",
            f"      set {on} to 1",
        ),
    )  # fmt: skip


def _settle(draft: RecipeDraft, s: Mapping[str, int]) -> RecipeStep:
    draft.needs("SPEED", "TIME")
    stands, since = draft.own("STANDS"), draft.own("SINCE")
    draft.variables |= {stands: 0, since: 0}
    driving = () if s["moving"] else (f"    set COLOUR to {NONE}",)
    return RecipeStep(
        f"Believe the sensor after {s['ms']} ms of standing still", "A reading that is still on its way.",
        (
            f"if SPEED is {UNKNOWN}", f"  set COLOUR to {NOTHING}", "otherwise",
            f"  if the distance between SPEED and 0 is above {s['still_mm_s']}", f"    set {stands} to 0", *driving,
            "  otherwise", f"    if {stands} is 0", f"      set {stands} to 1", f"      set {since} to TIME",
            f"    if TIME - {since} is below {s['ms']}", f"      set COLOUR to {NOTHING}",
        ),
    )  # fmt: skip


def _leg_by_leg(draft: RecipeDraft, _: Mapping[str, int]) -> RecipeStep:
    draft.needs("LEG")
    begin, order = draft.layout.in_order()
    draft.lists |= {"FIRST ON LEG": tuple(one + 1 for one in begin), "LEG ORDER": tuple(one + 1 for one in order)}
    draft.variables |= {"LEG NOW": 1, "NEXT": begin[0] + 1}
    return RecipeStep(
        "Which slot is next on this leg?", "A marker that was missed on the leg before, which would shift all others.",
        (
            "if LEG is not LEG NOW", "  set LEG NOW to LEG", "  set NEXT to item LEG of list FIRST ON LEG",
            "set SLOT to item NEXT of list LEG ORDER",
            f"repeat while SLOT is not 0 and item SLOT of list READ is not {OPEN}",
            "  change NEXT by 1", "  set SLOT to item NEXT of list LEG ORDER", "if SLOT is 0", f"  set COLOUR to {NOTHING}",
        ),
    )  # fmt: skip


def _windows(draft: RecipeDraft, s: Mapping[str, int]) -> RecipeStep:
    draft.needs("LEG", "PLACE")
    begin, slots, low, high = draft.layout.stretches(s["margin_mm"] * 10)
    legs = [sum(k >= one for one in begin) for k in range(len(slots))]
    kept = [k for k in range(len(slots)) if slots[k] >= 0]
    draft.lists |= {
        "WINDOW LEG": tuple(legs[k] for k in kept), "WINDOW SLOT": tuple(slots[k] + 1 for k in kept),
        "WINDOW FROM": tuple(low[k] / 10 for k in kept), "WINDOW TO": tuple(high[k] / 10 for k in kept),
    }  # fmt: skip
    return RecipeStep(
        "Is the sensor at a slot?", "Whatever is coloured between the markers.",
        (
            f"if PLACE is {UNKNOWN}", f"  set COLOUR to {NOTHING}", "otherwise", "  set SLOT to 0",
            f"  repeat with K from 1 to {len(kept)}",
            "    if LEG is item K of list WINDOW LEG and PLACE is at least item K of list WINDOW FROM and PLACE is at most"
            " item K of list WINDOW TO",
            "      set SLOT to item K of list WINDOW SLOT", "  if SLOT is 0", f"    set COLOUR to {NOTHING}",
        ),
    )  # fmt: skip


def _decoys(draft: RecipeDraft, s: Mapping[str, int]) -> RecipeStep:
    begin, low, high = draft.layout.decoys(s["margin_mm"] * 10)
    kept = [(sum(k >= one for one in begin), low[k] / 10, high[k] / 10) for k in range(len(low)) if low[k] != FAR]
    if not kept:
        return RecipeStep("No decoy has a known place: nothing to do", "")
    draft.needs("LEG", "PLACE")
    draft.lists |= {
        "DECOY LEG": tuple(leg for leg, _, _ in kept), "DECOY FROM": tuple(a for _, a, _ in kept),
        "DECOY TO": tuple(b for _, _, b in kept),
    }  # fmt: skip
    return RecipeStep(
        "Ignore the places where decoys are", "Something coloured on the route that is not a marker.",
        (
            f"if PLACE is not {UNKNOWN}", f"  repeat with K from 1 to {len(kept)}",
            "    if LEG is item K of list DECOY LEG and PLACE is at least item K of list DECOY FROM and PLACE is at most"
            " item K of list DECOY TO",
            f"      set COLOUR to {NOTHING}",
        ),
    )  # fmt: skip


def _open(draft: RecipeDraft, _: Mapping[str, int]) -> RecipeStep:
    tests: list[str] = []
    for number, left in enumerate(draft.groups, start=1):
        tests += [f"    if item SLOT of list GROUP is {number} and COLOUR is in list {left}", "      set FITS to 1"]
    draft.variables["FITS"] = 0
    return RecipeStep(
        "Is this colour still open at the slot?", "A colour that is already read elsewhere, or does not belong there.",
        (
            f"if {A_COLOUR}", "  set FITS to 0", f"  if SLOT is not 0 and item SLOT of list READ is {OPEN}", *tests,
            "  if FITS is 0", f"    set COLOUR to {NOTHING}",
        ),
    )  # fmt: skip


def _vote(draft: RecipeDraft, s: Mapping[str, int]) -> RecipeStep:
    draft.lists |= {"COLOURS": tuple(draft.layout.names[1:]), "COUNTED": ()}
    draft.variables |= {"VOTE SLOT": 0, "BEST": "nothing", "MOST": 0, "ALL": 0, "HERE": "nothing"}
    empties = [number + 1 for number, slot in enumerate(draft.layout.course.slots) if slot.empty_ok]
    if empties:
        draft.lists["MAY BE EMPTY"] = tuple(empties)
    empty = (
        "otherwise",
        f"  if how often {NONE} is in list COUNTED is at least {s['least']} and VOTE SLOT is in list MAY BE EMPTY and"
        f" item VOTE SLOT of list READ is {OPEN}",
        '    set COLOUR to "empty"', "    set TARGET to VOTE SLOT",
    )  # fmt: skip
    decide = (
        'set BEST to "nothing"', "set MOST to 0", "set ALL to 0", "repeat with K from 1 to length of list COLOURS",
        "  change ALL by how often item K of list COLOURS is in list COUNTED",
        "  if how often item K of list COLOURS is in list COUNTED is above MOST",
        "    set MOST to how often item K of list COLOURS is in list COUNTED", "    set BEST to item K of list COLOURS",
        f"if MOST is at least {max(1, s['least'])} and MOST x 100 is at least ALL x {s['share_pct']}",
        "  set COLOUR to BEST", "  set TARGET to VOTE SLOT", *(empty if empties else ()),
    )  # fmt: skip
    draft.blocks["DECIDE"] = decide
    return RecipeStep(
        "Count while at a slot; take the majority when it is left", "Single wrong readings anywhere on the marker.",
        (
            "set HERE to COLOUR", f"set COLOUR to {NOTHING}", "if SLOT is not VOTE SLOT", "  if VOTE SLOT is not 0",
            "    do DECIDE", "  empty list COUNTED", "  set VOTE SLOT to SLOT",
            f"if SLOT is not 0 and HERE is not {NOTHING}", "  add HERE to list COUNTED",
        ),
        ("if VOTE SLOT is not 0", "  do DECIDE", "  do TAKE", "  set VOTE SLOT to 0"),
    )  # fmt: skip


SAID: Mapping[str, Say] = {
    "code": _code, "mute": _mute, "hold": _hold, "smooth": _smooth, "once": _once, "change": _change, "number": _number,
    "run-on": _run_on, "settle": _settle, "leg-by-leg": _leg_by_leg, "windows": _windows, "decoys": _decoys, "open": _open,
    "vote": _vote,
}  # fmt: skip
"""Stage -> how it is said. ``eliminate`` and ``assume`` are said at the end of the recipe, see write.py."""


def sayable(stage: str, settings: Mapping[str, int]) -> str:
    """Empty where a stage can be said in blocks; else why not, in one clause."""
    if stage in {"track", "ledger", "eliminate"}:
        return ""
    if stage == "assume":
        early = any(settings[one] for one in ("after_ms", "note", "passed"))
        return "assume acts before the end of the run" if early else ""
    if stage == "hold" and (settings["ms"] or settings["repeats"] or settings["period_ms"]):
        return "hold also asks for a time or for fresh measurements"
    return "" if stage in SAID else f"its stage '{stage}' needs more than blocks can do"
