"""From a plan to its recipe."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from telemetry.course import GroupRule
from telemetry.errors import StrategyError
from telemetry.reading.plan import Plan
from telemetry.robot.recipe.model import Recipe, RecipeStep
from telemetry.robot.recipe.stages import A_COLOUR, NONE, NOTHING, OPEN, SAID, RecipeDraft, sayable

WORDS = frozenset({"nothing", "open"})
"""What a variable or a list holds beside colours."""


def why_not(plan: Plan) -> str:
    """Empty where a plan can be said in blocks; else why not."""
    if len(plan.chains) > 1:
        return "it reads with several sensors"
    if plan.strategy.own is not None:
        return "it is a logic in Python"
    names = plan.chains[0].names
    return next((why for name, one in zip(names, plan.settings, strict=True) if (why := sayable(name, one))), "")


def recipe_of(plan: Plan) -> Recipe:
    """The recipe. Raises StrategyError where the plan cannot be said in blocks."""
    why = why_not(plan)
    if why:
        what = f"'{plan.strategy.name}' cannot be built from blocks: {why}"
        raise StrategyError(what, todo="See 'sidelong recipe --help'.")
    for name in plan.names:
        if name in WORDS:
            what = f"a colour is called '{name}', which the steps use as a word of their own"
            raise StrategyError(what, where=plan.course.name, todo="Give that colour another name in the course.")
    draft = RecipeDraft(plan.layouts[0])
    _begin(draft)
    names = plan.chains[0].names
    steps = []
    for number, (name, settings) in enumerate(zip(names, plan.settings, strict=True), start=1):
        draft.number, draft.again = number, name in names[: number - 1]
        if name in SAID:
            steps.append(SAID[name](draft, settings))
            if name == "code" and _asks_early(names):
                steps.append(_next_slot(draft))
    voted = "vote" in names
    draft.blocks["TAKE"] = _take(draft)
    early = next((one["early"] for name, one in zip(names, plan.settings, strict=True) if name == "eliminate"), None)
    first = () if voted else ("set TARGET to SLOT",)
    infer: tuple[str, ...] = ()
    infer_end: tuple[str, ...] = ()
    if early is not None:
        infer, infer_end = _infer(draft, early)
    steps.append(RecipeStep(
        "Take it: write it down, cross it off, show it", "A colour that is counted twice; a slot that is filled twice.",
        (*first, *infer, "do TAKE"),
    ))  # fmt: skip
    if infer_end:
        steps.append(RecipeStep(
            "Fill in what follows", "A slot that was missed, or is never passed, when only one colour is left for it.",
            (), (*infer_end,),
        ))  # fmt: skip
    assume = next((one for name, one in zip(names, plan.settings, strict=True) if name == "assume"), None)
    if assume is not None:
        steps.append(_assume(draft, assume, infer_end))
    return Recipe(plan.strategy.name, tuple(steps), draft.variables, draft.lists, draft.inputs, draft.blocks)


def _asks_early(names: Sequence[str]) -> bool:
    """Does a stage ask for the slot before one of place says which it is?"""
    place = next((k for k, name in enumerate(names) if name in {"leg-by-leg", "windows"}), None)
    return place is None or any(name in {"hold", "open", "vote"} for name in names[:place])


def _begin(draft: RecipeDraft) -> None:
    course, names = draft.layout.course, draft.layout.names
    draft.variables |= {"COLOUR": "nothing", "SLOT": 0, "TARGET": 0, "CHANGED": 0}
    draft.lists["SLOTS"] = tuple(slot.name for slot in course.slots)
    draft.lists["READ"] = ("open",) * len(course.slots)
    draft.lists["GROUP"] = tuple(slot.group + 1 for slot in course.slots)
    for left, group in zip(draft.groups, course.groups, strict=True):
        counts = group.counts or (1,) * len(group.colours)
        pairs = sorted(zip(group.colours, counts, strict=True), key=lambda pair: names.index(pair[0]))
        draft.lists[left] = tuple(colour for colour, count in pairs for _ in range(count))


def _next_slot(draft: RecipeDraft) -> RecipeStep:
    draft.lists["ORDER"] = (*(slot + 1 for slot in draft.layout.mine), 0)
    draft.variables["PASSED"] = 1
    return RecipeStep(
        "Which slot is next?", "",
        (
            "set SLOT to item PASSED of list ORDER", f"repeat while SLOT is not 0 and item SLOT of list READ is not {OPEN}",
            "  change PASSED by 1", "  set SLOT to item PASSED of list ORDER",
        ),
    )  # fmt: skip


def _take(draft: RecipeDraft) -> tuple[str, ...]:
    lines = [
        f"if {A_COLOUR}", f"  if TARGET is not 0 and item TARGET of list READ is {OPEN}",
        "    replace item TARGET of list READ with COLOUR", "    set CHANGED to 1",
    ]  # fmt: skip
    for number, (left, group) in enumerate(zip(draft.groups, draft.layout.course.groups, strict=True), start=1):
        if group.rule is not GroupRule.ANY:
            lines += [
                f"    if item TARGET of list GROUP is {number} and COLOUR is in list {left}",
                f"      delete the first COLOUR from list {left}",
            ]
    return (*lines, "    show slot TARGET: COLOUR")


def _closed(draft: RecipeDraft) -> list[int]:
    """The groups whose colours are known one for one, numbered from 1."""
    exact, slots = draft.layout.board.exact, draft.layout.course.slots
    return sorted({slot.group + 1 for slot, kind in zip(slots, exact, strict=True) if kind})


def _look(draft: RecipeDraft, early: int) -> tuple[str, ...]:
    """Finds the first open slot for which one colour is left. ``early`` 0: while the run goes on, of those never passed."""
    wide = () if early else ("    if WIDE is 1 or K is in list NEVER PASSED",)
    inner = "    " if early else "      "
    lines = [f"set COLOUR to {NOTHING}", "set TARGET to 0", f"repeat with K from 1 to {len(draft.layout.course.slots)}"]
    for number in _closed(draft):
        left = draft.groups[number - 1]
        lines += [
            f"  if TARGET is 0 and item K of list READ is {OPEN} and item K of list GROUP is {number}", *wide,
            f"{inner}if length of list {left} is above 0 and how often item 1 of list {left} is in list {left} is"
            f" length of list {left}",
            f"{inner}  set TARGET to K", f"{inner}  set COLOUR to item 1 of list {left}",
        ]  # fmt: skip
    return tuple(lines)


def _infer(draft: RecipeDraft, early: int) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Elimination: the lines for each sample, and for the end of the run."""
    if not _closed(draft):
        return (), ()
    draft.blocks["LOOK"] = _look(draft, early)
    if not early:
        unseen = tuple(number + 1 for number, slot in enumerate(draft.layout.course.slots) if slot.unseen)
        draft.lists["NEVER PASSED"] = unseen
        draft.variables["WIDE"] = 0
    each = (f"if COLOUR is {NOTHING} or COLOUR is {NONE}", "  if CHANGED is 1", "    set CHANGED to 0", "    do LOOK")
    wide = () if early else ("set WIDE to 1",)
    again = (*wide, "do LOOK", "repeat while TARGET is not 0", "  do TAKE", "  do LOOK")
    return each, again


def _assume(draft: RecipeDraft, settings: Mapping[str, int], infer_end: tuple[str, ...]) -> RecipeStep:
    """What a slot that is still open gets at the end, one after the other: each may let another follow."""
    names = draft.layout.names
    draft.lists["COLOURS"] = tuple(names[1:])
    empties = tuple(number + 1 for number, slot in enumerate(draft.layout.course.slots) if slot.empty_ok)
    draft.lists["MAY BE EMPTY"] = empties
    lines = [
        f"repeat with I from 1 to {len(draft.layout.course.slots)}", f"  if item I of list READ is {OPEN}",
        f"    set COLOUR to {NOTHING}", "    set TARGET to I", "    if I is in list MAY BE EMPTY",
        '      set COLOUR to "empty"', "    otherwise",
    ]  # fmt: skip
    for number, left in enumerate(draft.groups, start=1):
        lines.append(f"      if item I of list GROUP is {number}")
        if settings["colour"]:
            wanted = f'"{names[settings["colour"]]}"'
            lines += [f"        if {wanted} is in list {left}", f"          set COLOUR to {wanted}"]
        if settings["guess"]:
            lines += [
                f"        if COLOUR is {NOTHING}", "          repeat with K from 1 to length of list COLOURS",
                f"            if COLOUR is {NOTHING} and item K of list COLOURS is in list {left}",
                "              set COLOUR to item K of list COLOURS",
            ]  # fmt: skip
    lines += ["    " + line for line in ("do TAKE", *infer_end)]
    return RecipeStep("Answer all the same", "A run that cannot go on without an answer.", (), tuple(lines))
