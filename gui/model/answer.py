"""What is said of one run, in the order a coach needs it: what was read, why it went wrong, what to do, who reads it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from gui.model.strategy_name import strategy_name
from gui.model.verdicts import RunResults
from gui.words import tr
from telemetry.course import EMPTY, Course, Truth
from telemetry.replay.scoring.results import ROBOT, Result
from telemetry.replay.scoring.score import Outcome
from telemetry.replay.verdict.grounds import FEW_SAMPLES
from telemetry.replay.verdict_kind import CauseKind, Verdict

NAMED = 3
"""So many slots or strategies are named; more are counted."""


@dataclass(frozen=True, slots=True)
class Answer:
    """``kind``: good, bad or warn. ``subject``: whose readings the headline is about. ``action``: what the remedy's button
    does: decide, colours, truth or empty.
    """

    kind: str
    headline: str
    subject: str
    cause: str = ""
    remedy: str = ""
    action: str = ""
    others: str = ""


def answer(verdict: RunResults, strategy: str) -> Answer:
    """The answer on one run. The robot's own readings come first, where it said them; else the ``strategy`` in use."""
    recording = verdict.recording
    results = verdict.by_strategy
    subject = ROBOT if ROBOT in results else strategy if strategy in results else next(iter(results), strategy)
    result = results.get(subject)
    if recording.course is None:
        return Answer("warn", tr("No course is known for this run, so nothing can be read slot by slot."), subject)
    if result is None:
        return Answer("warn", tr("Nothing was read from this run."), subject)
    name = who(subject, simulated=recording.meta.simulated)
    if recording.truth is None:
        return _without_truth(name, result, recording.course)
    others = _others(verdict, subject)
    if not result.counts:
        why = result.why[0] if result.why else ""
        if result.outcome is Outcome.DIVERGES:
            said = tr("{name} would have stopped the robot, so this run does not judge it.", name=name)
        else:
            said = tr("{name} does not apply to this run.", name=name)
        return Answer("warn", said, subject, cause=_sentence(why), others=others)
    beside = _beside(results.get(strategy), strategy) if subject == ROBOT else ""
    if result.outcome is Outcome.RIGHT:
        headline = tr("{name} read all {n} colours correctly.", name=name, n=len(recording.truth))
        return Answer("good" if not beside else "warn", headline, subject, cause=beside, others=others)
    headline = f"{name} {faults(result, recording.course, recording.truth)}."
    cause = result.verdict or next((one.verdict for one in verdict.results if one.verdict is not None), None)
    remedy, action = _remedy(cause, verdict, subject, strategy)
    words = " ".join(word for word in (cause_sentence(cause), beside) if word)
    return Answer("bad", headline, subject, words, remedy, action, others)


def who(subject: str, *, simulated: bool = False) -> str:
    """How the one whose readings are told of is called at the start of a sentence."""
    if subject != ROBOT:
        return strategy_name(subject)
    return tr("The simulated robot") if simulated else tr("Your robot")


def faults(result: Result, course: Course, truth: Truth) -> str:
    """'was wrong at tag 2 (leaf, not sky) and missed tag 3': the verb and what follows it, without a full stop."""
    wrong: list[str] = []
    missed: list[str] = []
    for slot, reading, colour in zip(course.slots, result.taken.slots, truth, strict=True):
        if reading.colour == colour or (reading.colour is None and colour == EMPTY):
            continue
        if reading.colour is None:
            missed.append(slot.name)
        else:
            wrong.append(tr("{slot} ({read}, not {truth})", slot=slot.name, read=reading.colour, truth=colour))
    if len(wrong) + len(missed) > NAMED:
        names = [slot.name for slot, reading, colour in zip(course.slots, result.taken.slots, truth, strict=True)
                 if reading.colour != colour and not (reading.colour is None and colour == EMPTY)]  # fmt: skip
        return tr("misread {n} of {all}: {slots}", n=len(names), all=len(truth), slots=listed(names))
    parts = []
    if wrong:
        parts.append(tr("was wrong at {slots}", slots=listed(wrong)))
    if missed:
        parts.append(tr("missed {slots}", slots=listed(missed)))
    if not parts:
        parts.append(tr("took colours where no marker is"))
    return tr(" and ").join(parts)


def listed(names: Sequence[str], most: int = NAMED) -> str:
    """The first few names, the others counted."""
    if len(names) > most + 1:
        return tr("{names} and {n} more", names=", ".join(names[:most]), n=len(names) - most)
    return tr(" and ").join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)


def cause_sentence(cause: Verdict | None) -> str:
    """Sensor or logic, as a sentence."""
    if cause is None:
        return ""
    said = {
        CauseKind.LOGIC: tr("Reading logic. The sensor data was good enough."),
        CauseKind.SENSOR: tr("Sensor, light or speed. The samples do not contain the answer."),
        CauseKind.STALE: tr("The palette does not fit."),
        CauseKind.COLUMNS: tr("Perhaps the names of the columns."),
        CauseKind.TRUTH: tr("Perhaps the colours entered: the samples agree with others."),
        CauseKind.NO_PALETTE: tr("No palette was used: nothing is known of what the colours look like to this sensor."),
        CauseKind.NO_CODE: tr("The sensor has no code of its own for a colour that stood there."),
        CauseKind.UNCLEAR: tr("Not clear from this run alone."),
    }[cause.kind]
    return said if cause.kind is CauseKind.LOGIC else f"{said} {_sentence(cause.why)}"


def _remedy(cause: Verdict | None, verdict: RunResults, subject: str, strategy: str) -> tuple[str, str]:
    """What to do, and what the button beside it does."""
    kind = cause.kind if cause is not None else None
    right = [strategy_name(one.strategy) for one in verdict.right if one.strategy != ROBOT]
    strategy = strategy_name(strategy)
    if kind is CauseKind.STALE:
        return tr("Re-check the colours; it takes a minute."), "colours"
    if kind is CauseKind.COLUMNS:
        return tr("Name the columns in their right order; then record or import the run again."), ""
    if kind is CauseKind.NO_PALETTE:
        return tr("Capture the colours with this sensor; it takes a few minutes."), "colours"
    if kind is CauseKind.NO_CODE:
        return tr("Let the robot send red, green and blue beside the code, and capture the colours."), "colours"
    if kind is CauseKind.TRUTH:
        return tr("Check the colours entered for this run."), "truth"
    if kind is CauseKind.SENSOR:
        few = (cause.figures.get("fewest_samples_over_a_marker", 99.0) if cause is not None else 99.0) <= FEW_SAMPLES
        if few:
            return tr("Drive slower past the markers, or shorten the robot's program loop; then record again."), ""
        return tr("Bring the sensor nearer to the markers, or shade it from the lamps; then record again."), ""
    if strategy in right and subject == ROBOT:
        return tr("Put {name} on the robot: it read this run correctly.", name=strategy), "decide"
    if right:
        return tr("Try {names}, or change the settings of {name} under Decide.", names=listed(right, 2),
                  name=strategy), "decide"  # fmt: skip
    return tr("Record the same layout once more, slower; then compare."), ""


def _beside(result: Result | None, strategy: str) -> str:
    """Beside the robot's own readings: the strategy in use, where it was wrong."""
    if result is None or result.outcome is not Outcome.WRONG:
        return ""
    return tr("{name}, the strategy in use, misread it.", name=strategy_name(strategy))


def _others(verdict: RunResults, subject: str) -> str:
    mine = [one for one in verdict.results if one.strategy != ROBOT]
    counted = [one for one in mine if one.counts]
    right = [strategy_name(one.strategy) for one in counted if one.outcome is Outcome.RIGHT]
    idle = len(mine) - len(counted)
    if not counted:
        return ""
    words = tr("{right} of {all} strategies read this run correctly", right=len(right), all=len(counted))
    if right and len(right) < len(counted):
        words += tr(": {names}", names=listed([one for one in right if one != subject] or right))
    if idle:
        words += tr("; 1 doesn't apply") if idle == 1 else tr("; {n} don't apply", n=idle)
    return f"{words}."


def _without_truth(name: str, result: Result, course: Course) -> Answer:
    colours = [reading.colour or "–" for reading in result.taken.slots]
    read = sum(reading.colour is not None for reading in result.taken.slots)
    headline = tr("{name} read {n} of {all} slots. Whether correctly is not known yet.", name=name, n=read,
                  all=len(course.slots))  # fmt: skip
    return Answer("warn", headline, result.strategy, cause=tr("It read {colours}.", colours=", ".join(colours)),
                  remedy=tr("Enter the actual colours, and the verdict follows."), action="truth")  # fmt: skip


def _sentence(text: str) -> str:
    """One sentence with a capital and a full stop."""
    text = text.strip()
    return f"{text[:1].upper()}{text[1:].rstrip('.')}." if text else ""
