"""What whoever reads results must know of a run: how it was recorded and driven, and what looks mistaken in it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, Final

from telemetry.findings import Finding, FindingKind
from telemetry.wording.grammar import Numbers, counted, figures


def _restarted(one: Finding) -> str:
    n: Numbers = one.numbers
    stretch = f"samples {n['first']} to {n['last']} of {n['rows']}"
    return f"the robot restarted during this run; the longest stretch counts, {stretch}"


def _channel_taken(one: Finding) -> str:
    n: Numbers = one.numbers
    taken = "raw channels and the palette" if one.cause == "raw" else "the sensor's codes, not by the palette"
    who = f"strategies that name a colour at every sample (stage 'auto') went by {taken}"
    if n.get("by_code") is None:
        return f"{who}, which does not know all colours both by code and by raw channels"
    return (
        f"{who}: of the palette's captures the worst is taken for another colour in {_share(n['by_code'])} of the samples by"
        f" code, and in {_share(n['by_raw'])} by its shares of red, green and blue"
    )


def _share(share: float) -> str:
    percent = 100.0 * share
    return f"{percent:.1f} %" if percent >= 0.05 or percent == 0.0 else "under 0.1 %"


def _drove_with_other(one: Finding) -> str:
    n: Numbers = one.numbers
    return (
        f"the robot drove with reader {n['drove']} of '{n['strategy']}', another than '{n['label']}' replayed here"
        f" ({n['here']}): settings, course, palette or columns differ"
    )


def _robot_parts(one: Finding) -> str:
    n: Numbers = one.numbers
    first = min(n["robot"][2], n["computer"][2])
    here, there = (f"{who} {slot} {colour} at sample {sample}" for who, (slot, colour, sample) in
                   (("robot", n["robot"]), ("computer", n["computer"])))  # fmt: skip
    return f"robot and computer part at sample {first} of {n['rows']}: {here}, {there}"


def _robot_stops(one: Finding) -> str:
    n: Numbers = one.numbers
    slot, colour, sample = n["reading"]
    return f"robot and computer part at sample {sample} of {n['rows']}: only the {one.cause} reads {slot} {colour}"


def _stages(one: Finding, when: str) -> str:
    stages: Numbers = one.numbers
    return " > ".join(stages[when])


def _no_rows(one: Finding) -> str:
    n: Numbers = one.numbers
    rejected = n.get("rejected")
    if not rejected:
        return "the recording holds no sample"
    todo = "are they numbers whose columns nobody named (sidelong ingest RUN.h5 --columns NAMES)?"
    return f"the recording holds no sample, but {counted(rejected, 'line')} that could not be read: {todo}"


def _odd_period(one: Finding) -> str:
    n: Numbers = one.numbers
    return f"by its clock a sample comes every {figures(n['period_ms'])} ms: is the unit of t right?"


def _odd_distance(one: Finding) -> str:
    n: Numbers = one.numbers
    broken = "was the run broken off, or " if n["driven_cm"] < n["reach_cm"] else ""
    return (
        f"dist covers {figures(n['driven_cm'])} cm, and the course's markers stand up to {figures(n['reach_cm'], 6)} cm"
        f" from a leg's start: {broken}is the unit of dist another (mm, cm, m), or that of at_cm?"
    )


def _leg_never_began(one: Finding) -> str:
    n: Numbers = one.numbers
    nearest = f"{round(n.get('nearest_deg', 0.0))} deg"
    never = {
        "heading": f"at heading {n['deg']:g} deg, and the nearest that heading comes to is {nearest}",
        "reset": "where dist is set back, and dist never falls",
        "reverse": "where the robot drives backwards, and dist never falls",
    }[n["starts"]]
    return f"leg '{n['leg']}' begins {never}: did the run end before that, or is 'starts' in the course wrong?"


def _several_drives(one: Finding) -> str:
    n: Numbers = one.numbers
    return (
        f"this looks like {n['drives']} runs: between its drives the robot stands for {figures(n['still_s'])} s or more, or"
        " restarts. Every recording is judged as one run: cut it into its drives (sidelong runs cut FILE)"
    )


def _palette_exchanged(one: Finding) -> str:
    n: Numbers = one.numbers
    first, second = n["pair"]
    return f"when the palette was made, the sensor called {first} '{second}' and {second} '{first}': were they exchanged?"


def _palette_lacks(one: Finding) -> str:
    n: Mapping[str, Any] = one.numbers
    like = "".join(f" (its '{name}' may be '{meant}')" for name, meant in n["alike"])
    todo = "calibrate it, or give a colour the same name everywhere"
    return f"the palette does not know {', '.join(n['colours'])}{like}: {todo}"


REMARK_WORDS: Final[Mapping[FindingKind, Callable[[Finding], str]]] = {
    FindingKind.NO_ROWS: _no_rows,
    FindingKind.NO_COURSE: lambda _: "no course is known, so what was read is listed as it came: give --course FILE",
    FindingKind.NO_TRUTH: lambda _: "what really stood there is not known: readings are listed, nothing is judged",
    FindingKind.NO_SUCH_SLOT: lambda one: (
        f"the robot told a reading of '{one.numbers['name']}', which is not a slot of this course: it counts as one too many"
    ),
    FindingKind.RESTARTED: _restarted,
    FindingKind.CHANNEL_TAKEN: _channel_taken,
    FindingKind.DROVE_WITH_SAME: lambda one: (
        f"the robot drove with reader {one.numbers['here']}, which is '{one.numbers['label']}' as it is replayed here"
    ),
    FindingKind.DROVE_WITH_OTHER: _drove_with_other,
    FindingKind.ROBOT_AGREES: lambda one: (
        f"robot and computer agree in all {one.numbers['readings']} readings, sample by sample"
    ),
    FindingKind.ROBOT_PARTS: _robot_parts,
    FindingKind.ROBOT_STOPS: _robot_stops,
    FindingKind.BUILT_OTHERWISE: lambda one: (
        f"strategy {one.cause} has changed: it was {_stages(one, 'was')}, it is {_stages(one, 'now')}"
    ),
    FindingKind.FILE_GONE: lambda _: "the recording's file is gone",
    FindingKind.NOT_REPLAYED: lambda _: "the recording is not among those replayed",
    FindingKind.LOST_TOO_MANY: lambda one: (
        f"by their numbers {one.numbers['lost']} lines are lost and {one.numbers['came']} came: are the columns named in"
        " the order in which they are sent?"
    ),
    FindingKind.TOO_BRIGHT: lambda one: (
        f"{one.cause} reaches {one.numbers['percent']:.0f} %: is that column another one, or its unit another?"
    ),
    FindingKind.ODD_PERIOD: _odd_period,
    FindingKind.ODD_DISTANCE: _odd_distance,
    FindingKind.HEADING_FOR_DIST: lambda _: "heading goes on evenly and dist hardly changes: are the two columns swapped?",
    FindingKind.SEVERAL_DRIVES: _several_drives,
    FindingKind.NO_COLOUR: lambda _: (
        "neither the sensor's colour nor red, green and blue are among the columns, so no strategy can read this run: let"
        " the robot send one of them"
    ),
    FindingKind.NOTE_NEVER_CAME: lambda one: (
        f"leg '{one.numbers['leg']}' begins at the note '{one.numbers['note']}', which never came: the run ended before it,"
        " or the robot's program does not print it (with the emitter: out.note(...))"
    ),
    FindingKind.LEG_NEVER_BEGAN: _leg_never_began,
    FindingKind.NAMED_ALIKE: lambda one: (
        f"the robot sends '{one.numbers['sent']}', which the course does not have, and never '{one.numbers['meant']}':"
        " the same colour?"
    ),
    FindingKind.PALETTE_EXCHANGED: _palette_exchanged,
    FindingKind.PALETTE_LACKS: _palette_lacks,
}
