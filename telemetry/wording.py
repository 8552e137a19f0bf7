"""How findings are said, once for command line, window, JSON and report alike."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any, Final

from telemetry.findings import Finding, FindingKind
from telemetry.reading.catalogue import STAGES

Numbers = Mapping[str, Any]


def sentence(finding: Finding) -> str:
    """In words; that of a slot begins with the slot's name. What is no whole sentence for itself has no full stop."""
    words = WORDS[finding.kind](finding)
    return f"{finding.slot}: {words}" if finding.slot and finding.kind not in NAMES_ITS_SLOT else words


def side_by_side(findings: Sequence[Finding]) -> str:
    """All of them in one line: what is said of single slots with commas between, all else with semicolons."""
    said = ""
    for before, one in zip([None, *findings], findings, strict=False):
        between = ", " if before is not None and {before.kind, one.kind} <= ENUMERATED else "; "
        said += f"{between if before is not None else ''}{sentence(one)}"
    return said


def sentences(findings: Iterable[Finding]) -> tuple[str, ...]:
    """All of them, in their order."""
    return tuple(sentence(one) for one in findings)


def counted(count: float, one: str, many: str = "") -> str:
    """'1 sample', '2 samples', 'no sample'."""
    if count == 0:
        return f"no {one}"
    return f"{count:g} {one if count == 1 else many or one + 's'}"


def only(count: float, one: str, where: str) -> str:
    """'only 2 samples over tag 2'; 'no sample over tag 2'."""
    return f"{'only ' if count else ''}{counted(count, one)} {where}"


def plus_minus(value: float, digits: int = 1) -> str:
    """'+1.2', '-0.3'; what rounds to nothing has no sign: '0.0'."""
    text = f"{value:+.{digits}f}"
    return text[1:] if float(text) == 0 else text


def listed(names: Sequence[str]) -> str:
    """'a', 'a and b', 'a, b and c'."""
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def at(numbers: Numbers) -> str:
    """' at 20.5 cm', or nothing where the place is not known."""
    return "" if numbers.get("at_cm") is None else f" at {numbers['at_cm']:.1f} cm"


def said(seen: Sequence[tuple[str, int]]) -> str:
    """What the sensor reported, (colour, samples), most first."""
    colours = [(name, count) for name, count in seen if name not in {"none", "nothing"}]
    if colours:
        return " and ".join(f"{name} for {counted(count, 'sample')}" for name, count in colours[:2])
    none = dict(seen).get("none", 0)
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
    place = one.numbers.get("at_cm")
    return "the run has no sample there" if place is None else f"the run has no sample at {place:g} cm"


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
    return f"{n['got']} was assumed, {n['want']} {n['standing']}: {WORDS[one.because.kind](one.because)}"


def _ousted(one: Finding) -> str:
    assert one.because is not None
    n: Numbers = one.numbers
    beside = f"; it got {n['got']}, which is {n['whose']}'s" if n.get("whose") else ""
    return f"{WORDS[one.because.kind](one.because)}{beside}"


def _other_colour(one: Finding) -> str:
    n: Numbers = one.numbers
    got, want = n["got"], n["want"]
    got_for, want_for = n.get("got_samples", 0), n.get("want_samples", 0)
    if one.cause == "elsewhere":
        place = f"{want} {n['standing'].removesuffix(' there')} at {n['slot_cm']:g} cm by the course"
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
            return f"{head}: the sensor never reported {want}, it said {said(n['seen'])}"
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
    return f"the sensor never reported {n['want']} there: it said {said(n['seen'])}"


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


def _who(sensor: str) -> str:
    return f"the sensor '{sensor}'" if sensor else "the sensor"


def _loop_pace(one: Finding) -> str:
    n: Numbers = one.numbers
    return (
        f"The loop runs every {n['period_ms']:.3g} ms (99 in 100 within {n['period99_ms']:.3g} ms);"
        f" {n['lines_per_s']:.3g} lines arrived per second."
    )


def _lines_lost(one: Finding) -> str:
    n: Numbers = one.numbers
    were = "was" if n["lost"] == 1 else "were"
    return f"{counted(n['lost'], 'line')} {were} lost on the way ({n['lost'] / (n['lost'] + n['rows']):.1%})."


def _repeats(one: Finding) -> str:
    n: Numbers = one.numbers
    return (
        f"The loop is faster than {_who(one.cause)}: it measures about every {n['sensor_ms']:.3g} ms, so about"
        f" {n['sensor_ms'] / n['period_ms']:.2g} lines in a row repeat one measurement."
    )


def _link_narrow(one: Finding) -> str:
    n: Numbers = one.numbers
    if one.cause == "serial":
        link, remedy = f"{n['baud']} baud carry", "a higher baud rate"
    else:
        each = f"{counted(n['per_interval'], 'notification')} of {n['payload_bytes']} bytes"
        link, remedy = f"{each} every {n['interval_ms']:g} ms carry", "a larger ATT MTU"
    full = n["share"] > 1
    verdict = "does not fit the link: lines will be lost or late" if full else "leaves the link hardly any room"
    return (
        f"{n['lines_per_s']:g} lines/s of {n['line_bytes']:.0f} bytes {verdict}"
        f" ({link} {n['capacity_bytes_per_s']:.0f} bytes/s, {n['share']:.0%} would be used)."
        f" Send at most {n['most_lines_per_s']} lines/s, fewer columns, or use {remedy}."
    )


def _read_right(one: Finding) -> str:
    readers = one.numbers["readers"]
    assert isinstance(readers, tuple)
    names = listed([str(name) for name in readers] if one.cause == "other settings" else [f"'{name}'" for name in readers])
    return f"{names} {'reads' if len(readers) == 1 else 'read'} this recording right"


def _instead(numbers: Numbers) -> str:
    """'tag 1 rust (not leaf), tag 2 sky (not rust)'."""
    each = zip(numbers["slots"], numbers["read"], numbers["truth"], strict=True)
    return ", ".join(f"{slot} {read} (not {true})" for slot, read, true in each)


def _read_otherwise(one: Finding) -> str:
    n: Numbers = one.numbers
    who = f"{n['readers']} readers say alike" if n["readers"] > 1 else "evidence says"
    sure = "" if n.get("sure") is None else f" and evidence is {n['sure']:.0%} sure"
    return f"{who} {_instead(n)}{sure}"


def _no_palette(one: Finding) -> str:
    return "colours were told by codes" if one.cause == "codes" else "colours were told by typical values, not this sensor's"


def _code_never_said(one: Finding) -> str:
    n: Numbers = one.numbers
    return f"over {one.slot} the sensor says '{n['code']}' for {counted(n['samples'], 'sample')}, never {n['want']}"


def _other_light(one: Finding) -> str:
    n: Numbers = one.numbers
    return f"{one.cause} is x{n['factor']:.2f} of the palette's against the other channels: another light"


def _other_height(one: Finding) -> str:
    factor = one.numbers["factor"]
    assert isinstance(factor, float)
    way = "higher" if factor < 1.0 else "lower"
    return f"levels are x{factor:.2f} of the palette's: the sensor hangs {way}, or its lamp changed"


def _number(one: Finding, name: str) -> float:
    value = one.numbers[name]
    assert isinstance(value, float | int)
    return value


WORDS: Final[Mapping[FindingKind, Callable[[Finding], str]]] = {
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
    FindingKind.READ_RIGHT_BY: _read_right,
    FindingKind.READ_OTHERWISE: _read_otherwise,
    FindingKind.READERS_DISAGREE: lambda one: f"readers disagree; the most say {_instead(one.numbers)}",
    FindingKind.NO_READER: lambda _one: "no reader answers for every slot",
    FindingKind.NO_OWN_CODE: lambda one: (
        f"{one.numbers['want']}, at {one.slot}, has the code '{one.numbers['code']}', which other colours have too"
    ),
    FindingKind.CODE_NEVER_SAID: _code_never_said,
    FindingKind.NOTHING_BUT_NONE: lambda one: f"over {one.slot} the sensor says nothing but none",
    FindingKind.NO_PALETTE: _no_palette,
    FindingKind.FEW_SAMPLES: lambda one: only(_number(one, "samples"), "sample", f"over {one.slot}"),
    FindingKind.FAINT: lambda one: (
        f"{one.slot} departs from the field by only {_number(one, 'deviations'):.1f} deviations of one sample"
    ),
    FindingKind.FULL_SCALE: lambda one: f"{_number(one, 'share'):.0%} of the samples over {one.slot} are at full scale",
    FindingKind.OTHER_LIGHT: _other_light,
    FindingKind.OTHER_HEIGHT: _other_height,
    FindingKind.SHARE_LOST: lambda one: f"{_number(one, 'share'):.0%} of the lines were lost",
    FindingKind.LOOP_PACE: _loop_pace,
    FindingKind.LINES_LOST: _lines_lost,
    FindingKind.REPEATS: _repeats,
    FindingKind.REPEATS_UNTOLD: lambda one: (
        f"Whether lines only repeat a measurement of {_who(one.cause)} cannot be told from this run."
    ),
    FindingKind.LINK_NARROW: _link_narrow,
}
"""How each kind is said."""
ENUMERATED: Final = frozenset({
    FindingKind.FEW_SAMPLES, FindingKind.FAINT, FindingKind.FULL_SCALE, FindingKind.NOTHING_BUT_NONE, FindingKind.SHARE_LOST,
})  # fmt: skip
"""Said one after the other with commas."""
NAMES_ITS_SLOT: Final = ENUMERATED | {FindingKind.NO_OWN_CODE, FindingKind.CODE_NEVER_SAID}
"""Their words name the slot themselves."""
