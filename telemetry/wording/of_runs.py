"""What went wrong in a run, slot by slot, and what is said of a run as a whole."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Final

from telemetry.findings import Finding, FindingKind
from telemetry.reading.catalogue import STAGES
from telemetry.wording.grammar import Numbers, at, counted, figures, listed


def said(seen: Sequence[tuple[str, int]]) -> str:
    """What samples looked like, by code or palette: (colour, samples), most first."""
    colours = [(name, count) for name, count in seen if name not in {"none", "nothing"}]
    if colours:
        return " and ".join(f"{name} for {counted(count, 'sample')}" for name, count in colours[:2])
    none = dict(seen).get("none", 0)
    if none == 1:
        return "none, for the one sample there is"
    return f"none for all {counted(none, 'sample')}" if none else "nothing at all"


def _decoy(numbers: Numbers) -> str:
    return f" (decoy '{numbers['decoy']}')" if numbers.get("decoy") else ""


def _seen(numbers: Numbers) -> str:
    """The slot's colour, for how long and where it was seen."""
    low, high = numbers.get("from_cm"), numbers.get("to_cm")
    span = ""
    if low is not None and high is not None:
        low, high = f"{low:.1f}", f"{high:.1f}"
        span = f" at {low} cm" if low == high else f" at {low} to {high} cm"
    return f"{numbers['want']} seen for {counted(numbers['samples'], 'sample')}{span}"


def _no_sample(one: Finding) -> str:
    n: Numbers = one.numbers
    place = n.get("at_cm")
    return "the run has no sample there" if place is None else f"the run has no sample at {figures(place, 6)} cm"


def _lost(one: Finding) -> str:
    """What the stage that let the colour go says about it."""
    n: Numbers = one.numbers
    if one.cause not in STAGES:
        return f"{_seen(n)}, '{one.cause}' did not take it"
    words = STAGES[one.cause].lost(n["settings"])
    if n.get("holder"):
        words = f"{words} ({n['holder']} has it)"
    elif n.get("off_cm") is not None:
        words = f"{n['off_cm']:.1f} cm off its place: {words}"
    return f"{_seen(n)}, {words}"


def _not_followed(one: Finding) -> str:
    n: Numbers = one.numbers
    match one.cause:
        case "unknown":
            return f"{n['want']} was not found"
        case "no inference":
            return f"{n['want']} cannot be seen there, and this strategy infers nothing ('eliminate' would)"
        case "open":
            return f"{n['want']} did not follow, because {listed(n['open'])} stayed open"
        case _:
            return f"{n['want']} did not follow, because other slots of its group were wrong"


def _followed_wrongly(one: Finding) -> str:
    n: Numbers = one.numbers
    others = "the other slots, which are all right" if n.get("others_right") else "other slots that were not all right"
    return f"{n['got']} followed from {others}; {n['want']} {n['standing']}"


def _assumed(one: Finding) -> str:
    assert one.because is not None
    n: Numbers = one.numbers
    return f"{n['got']} was assumed, {n['want']} {n['standing']}: {RUN_WORDS[one.because.kind](one.because)}"


def _ousted(one: Finding) -> str:
    assert one.because is not None
    n: Numbers = one.numbers
    beside = f"; it got {n['got']}, which is {n['whose']}'s" if n.get("whose") else ""
    return f"{RUN_WORDS[one.because.kind](one.because)}{beside}"


def _other_colour(one: Finding) -> str:
    n: Numbers = one.numbers
    got, want = n["got"], n["want"]
    got_for, want_for = n.get("got_samples", 0), n.get("want_samples", 0)
    if one.cause == "elsewhere":
        place = f"{want} {n['standing'].removesuffix(' there')} at {figures(n['slot_cm'], 6)} cm by the course"
        return f"read {got}{at(n)}; {place}, where the sensor said {want} for {counted(want_for, 'sample')}"
    head = f"read {got}{at(n)}, {want} {n['standing']}"
    match one.cause:
        case "never said":
            return f"{head}: the sensor said {want} for {counted(want_for, 'sample')} there, never {got}"
        case "weighed":
            for_long = counted(want_for, "sample")
            return f"{head}: the sensor said {want} for {for_long} there, but its channels look more like {got}"
        case "both":
            both = f"{got} for {counted(got_for, 'sample')} and {want} for {counted(want_for, 'sample')}"
            return f"{head}: the sensor said {both}"
        case "never reported":
            return f"{head}: no sample looked like {want}; seen: {said(n['seen'])}"
        case _:
            return head


def _too_much(one: Finding) -> str:
    """Why what was taken should not have been."""
    n: Numbers = one.numbers
    match one.cause:
        case "decoy":
            return f"where no marker stands{_decoy(n)}"
        case "repeated":
            if not n.get("between"):
                return "a second time" + (f", where {n['whose']} stands" if n.get("whose") else "")
            return f"a second time: it flickered, with {n['between']} for {counted(n['gap_samples'], 'sample')} in between"
        case _:
            held = n.get("held_samples")
            return "where no such marker stands" + (f": the sensor said so for {counted(held, 'sample')}" if held else "")


def _slots(one: Finding) -> Sequence[str]:
    n: Numbers = one.numbers
    slots: Sequence[str] = n["slots"]
    return slots


def _never_reported(one: Finding) -> str:
    n: Numbers = one.numbers
    return f"no sample there looked like {n['want']}; seen: {said(n['seen'])}"


def _nothing_stands(one: Finding) -> str:
    n: Numbers = one.numbers
    if n.get("whose"):
        nothing = f"nothing {n['standing'].removesuffix(' there')} at {one.slot}"
        return f"{n['got']} was read{at(n)}, where {n['whose']} stands; {nothing}"
    return f"{n['got']} was read{at(n)}, but nothing {n['standing']}{_decoy(n)}"


def _got_anothers(one: Finding) -> str:
    slots = _slots(one)
    each = "" if len(slots) == 1 else "each "
    return f"so {listed(slots)} {each}got the colour of another slot"


def _stopped(one: Finding) -> str:
    n: Numbers = one.numbers
    return f"{n['after_s']:.2f} s into the run this strategy would have stopped the robot{at(n)}, which drove on"


def _ended_early(one: Finding) -> str:
    slots = _slots(one)
    never = f"{slots[0]} and {len(slots) - 1} more slots" if len(slots) > 2 else " and ".join(slots)
    were = "was" if len(slots) == 1 else "were"
    return f"the drive ended early, after {one.numbers['driven_cm']:.0f} cm by its own distance: {never} {were} never passed"


RUN_WORDS: Final[Mapping[FindingKind, Callable[[Finding], str]]] = {
    FindingKind.BEYOND_SLOTS: lambda one: f"{one.numbers['got']} was read{at(one.numbers)}, but beyond the slots",
    FindingKind.NO_SAMPLE: _no_sample,
    FindingKind.NEVER_REPORTED: _never_reported,
    FindingKind.COUNTED_ELSEWHERE: lambda one: f"{_seen(one.numbers)}, but it counted for another slot",
    FindingKind.LOST_IN_STAGE: _lost,
    FindingKind.MISSED: lambda one: f"{one.numbers['want']} was missed",
    FindingKind.NOT_FOLLOWED: _not_followed,
    FindingKind.NOTHING_STANDS: _nothing_stands,
    FindingKind.FOLLOWED_WRONGLY: _followed_wrongly,
    FindingKind.ASSUMED_WRONGLY: _assumed,
    FindingKind.TOOK_DECOY: lambda one: (
        f"took {one.numbers['got']}{at(one.numbers)}, where no marker stands{_decoy(one.numbers)};"
        f" {one.numbers['want']} was missed"
    ),
    FindingKind.TOOK_TOO_MUCH: lambda one: f"took {one.numbers['got']}{at(one.numbers)}, {_too_much(one)}",
    FindingKind.OUSTED: _ousted,
    FindingKind.OTHER_COLOUR: _other_colour,
    FindingKind.SURPLUS_WRONG: lambda one: (
        f"{one.numbers['got']} was taken{at(one.numbers)}, beyond the slots; {one.numbers['want']} {one.numbers['standing']}"
    ),
    FindingKind.SURPLUS: lambda one: f"{one.numbers['got']} was taken{at(one.numbers)}, {_too_much(one)}",
    FindingKind.GOT_ANOTHERS: _got_anothers,
    FindingKind.GOT_NOTHING: lambda one: f"{listed(_slots(one))} got nothing because of that",
    FindingKind.LACKS: lambda one: str(one.numbers["words"]),
    FindingKind.WOULD_HAVE_STOPPED: _stopped,
    FindingKind.ENDED_EARLY: _ended_early,
}
_OTHER_STRATEGY: Final = "choose a strategy that does without ('sidelong strategies NAME' says what each is made of)"
REMEDIES: Final[Mapping[str, str]] = {
    "course": "Describe the course in a file ('sidelong robot --show-course' prints one to start from), and give it by "
    "--course",
    "label": "Let the robot send the sensor's colour, or its raw red, green and blue",
    "colour": f"Let the robot send the sensor's own colour, or {_OTHER_STRATEGY}",
    "raw": f"Let the robot send red, green and blue, or {_OTHER_STRATEGY}",
    "dist": f"Let the robot send dist (wheel angle times circumference will do), or {_OTHER_STRATEGY}",
    "speed": f"Let the robot send dist or speed, or {_OTHER_STRATEGY}",
    "heading": f"Let the robot send heading, or {_OTHER_STRATEGY}",
    "places": "Measure from the leg's start to the marker's middle and write it into the course as at_cm, "
    f"or {_OTHER_STRATEGY}",
    "legs": "Let the robot send it, or let the leg start by something else in the course (its key 'starts')",
    "stop": "If your robot drives past without stopping, leave this strategy out; otherwise judge it on runs that stop at "
    "every marker",
    "note": "Let the robot's program print that note (with the emitter: out.note(...)), or let the leg start by something "
    "else",
}
"""What to do where a run lacks what a strategy needs, by the need (``Finding.cause``)."""


def remedy(finding: Finding, *, others: bool = True) -> str:
    """What to do about a finding on a whole run, without a full stop; empty where there is nothing to do.

    ``others``: whether another strategy can read the run, so that choosing it is a way out.
    """
    if finding.kind is FindingKind.WOULD_HAVE_STOPPED:
        return "Only a run that this strategy drove can judge it: if your robot does not stop at colours, leave it out"
    todo = REMEDIES.get(finding.cause, "") if finding.kind is FindingKind.LACKS else ""
    return todo if others else todo.removesuffix(f", or {_OTHER_STRATEGY}")
