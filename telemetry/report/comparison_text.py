"""A comparison as a coach reads it: one line a strategy, then what went wrong in which run, and why."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from pathlib import PurePath

from telemetry.course import EMPTY
from telemetry.findings import MISTAKEN
from telemetry.replay.compare import SHOWN, Comparison
from telemetry.replay.duplicates import repeated
from telemetry.replay.readings import MISSING_READING
from telemetry.replay.scoring.results import Result, StrategySummary, comparable, paired, ranked
from telemetry.replay.scoring.score import Outcome
from telemetry.replay.scoring.statistics import failures_at_most, in_words, runs_needed
from telemetry.replay.verdict_kind import CauseKind
from telemetry.report.table import TableColumn, define, printable, strip, table, wrap
from telemetry.tuning.choice import choice_sentences, choose_strategy
from telemetry.wording import listed, remedy, sentence, sentences

LEAST_APART = 6
NAME_FITS = 21
"""So long a name of a strategy fits beside all columns."""
ENOUGH = 8
"""From this many runs on it is worth saying how often a strategy that never failed may fail."""


ONE_RUN = (
    f"One run decides nothing: what read it right may have been lucky. Record at least {LEAST_APART} more; about "
    f"{runs_needed(0.1)} without a failure show that at most 1 run in 10 fails (95 % sure)."
)
"""McNemar's exact test says nothing at all with fewer than LEAST_APART runs on which two strategies differ."""


def comparison_lines(comparison: Comparison, *, everything: bool = False) -> list[str]:
    """The whole page. ``everything``: every wrong run of every strategy."""
    results, summaries = comparison.results, ranked(comparison.summaries)
    folder = _folder(comparison)
    lines = wrap(_headline(comparison, folder))
    judged = any(one.runs for one in summaries) or (comparison.own is not None and comparison.own.runs > 0)
    if judged:
        lines += ["", *_scores(summaries, comparison.own)]
        lines += _verdict(summaries, results)
        lines += _by_course(summaries, results)
    lines += _apart(summaries, results)
    lines += _wrong(summaries, comparison, everything, folder)
    lines += sensor_or_logic(results, folder)
    lines += _unjudged(comparison, folder)
    lines += _remarks(results, folder)
    return lines


def _folder(comparison: Comparison) -> str:
    """The folder in which all recordings lie, so that it need not be said with each; empty where there is none such."""
    parents = {PurePath(result.run.recording).parent for result in comparison.results}
    folder = next(iter(parents)).as_posix() if len(parents) == 1 else ""
    return "" if folder == "." else folder


def _name(recording: str, folder: str) -> str:
    return printable(recording.removeprefix(folder).removeprefix("/") if folder else recording)


def _headline(comparison: Comparison, folder: str) -> str:
    runs = {result.run.recording: result.run for result in comparison.results}
    courses = Counter(run.course for run in runs.values())
    named = [f"{count} of {printable(name)}" if name else f"{count} without a course" for name, count in courses.items()]
    of = ""
    if len(courses) == 1:
        only = next(iter(courses))
        of = f" of {printable(only)}" if only else " without a course"
    elif courses:
        of = f" ({', '.join(named)})"
    simulated = sum(run.simulated for run in runs.values())
    kind = "simulated run" if simulated == len(runs) else "run"
    note = f", {simulated} of them simulated" if 0 < simulated < len(runs) else ""
    many = len(comparison.summaries)
    where = f" in {printable(folder)}" if folder else ""
    return f"{_many(len(runs), kind)}{of}{note}{where}; {_many(many, 'strategy', 'strategies')}"


def _scores(summaries: Sequence[StrategySummary], own: StrategySummary | None) -> list[str]:
    rows = [*summaries, *([own] if own else [])]
    points = any(one.points is not None for one in rows)
    # A name with settings is told whole rather than the range drawn, which stands beside it in numbers.
    drawn = max(len(one.strategy) for one in rows) <= NAME_FITS
    columns = [
        TableColumn("strategy"), TableColumn("right", True), *([TableColumn("0 %   100 %", fixed=True)] if drawn else []),
        TableColumn("95 % range", True), TableColumn("missed", True), TableColumn("wrong", True),
        TableColumn("twice", True), TableColumn("extra", True),
        *([TableColumn("points", True)] if points else []), TableColumn("decided", True),
    ]  # fmt: skip
    body = []
    for one in rows:
        errors = one.errors
        counts = [str(value) if one.runs else "-" for value in (errors.missed, errors.wrong, errors.repeated, errors.extra)]
        body.append([
            one.strategy, f"{one.correct} of {one.runs}" if one.runs else "-", *([_strip(one)] if drawn else []),
            _range(one), *counts,
            *([f"{one.points:.1f}" if one.points is not None else "-"] if points else []), _seconds(one.decided_ms),
        ])  # fmt: skip
    return table(columns, body)


def _strip(one: StrategySummary) -> str:
    if one.wilson95 is None or one.rate is None or one.runs == 1:
        return ""
    return strip(one.wilson95[0], one.rate, one.wilson95[1], 11)


def _range(one: StrategySummary) -> str:
    if one.wilson95 is None:
        return "not judged"
    if one.runs == 1:
        return "-"
    return f"{one.wilson95[0] * 100:.0f} - {one.wilson95[1] * 100:.0f} %"


def _verdict(summaries: Sequence[StrategySummary], results: Sequence[Result]) -> list[str]:
    counted = comparable(summaries)
    lines: list[str] = []
    if counted and max(one.runs for one in counted) == 1:
        return ["", *wrap(ONE_RUN)]
    if len(counted) >= 2:
        first, second = counted[0].strategy, counted[1].strategy
        test = paired(first, second, results)
        if test is None:
            lines += wrap(f"'{first}' and '{second}' have no run in common, so they cannot be compared.")
        else:
            lines += wrap(in_words(test, first, second))
        choice = choose_strategy(results, summaries)
        if choice is not None and len(choice.rivals) > 1:
            for sentence in choice_sentences(choice):
                lines += wrap(sentence)
    if counted and counted[0].correct == counted[0].runs:
        best = counted[0]
        bound = failures_at_most(best.runs)
        if bound is not None and best.runs >= ENOUGH:
            lines += wrap(
                f"'{best.strategy}' read all {best.runs} runs right; it may still fail in up to {bound * 100:.0f} of 100 "
                f"runs like these (95 % sure), and more runs narrow that down."
            )
    if counted and max(one.runs for one in counted) < ENOUGH:
        lines += wrap("So few runs say little: the range is where the true share of right runs may lie (95 % sure).")
    lines += wrap(order) if (order := tie_sentence(counted)) else []
    few = [one for one in summaries if one.runs and one not in counted]
    if few:
        each = listed([f"'{one.strategy}' ({_many(one.runs, 'run')})" for one in few])
        it = "it, whatever its share" if len(few) == 1 else "them, whatever their share"
        lines += wrap(f"Listed last because fewer runs than of the others judge {it}: {each}.")
    return ["", *lines] if lines else []


def tie_sentence(counted: Sequence[StrategySummary]) -> str:
    """By what strategies that are right equally often are ordered, if more than their errors decides that; else empty."""
    rates = Counter(one.rate for one in counted)
    tied = [one for one in counted if rates[one.rate] > 1]
    guessing = [one for one in tied if one.assumed]
    alike = len({(one.rate, one.errors.total) for one in tied}) < len(tied)
    if not any(one.assumed_right for one in tied) and not (alike and (guessing or any(one.says_how_sure for one in tied))):
        return ""
    each = "; ".join(f"'{one.strategy}' assumed {one.assumed}, {one.assumed_right} of them right" for one in guessing)
    return (
        "Of those that are right equally often, the one with fewer errors comes first; a colour that was only assumed "
        f"counts as an error{f' ({each})' if each else ''}. Then comes the one that says how sure it is."
    )


def _by_course(summaries: Sequence[StrategySummary], results: Sequence[Result]) -> list[str]:
    courses = list(dict.fromkeys(result.run.course for result in results if result.counts))
    if len(courses) < 2:
        return []
    right = Counter((result.strategy, result.run.course) for result in results if result.outcome is Outcome.RIGHT)
    all_runs = Counter((result.strategy, result.run.course) for result in results if result.counts)
    columns = [TableColumn("right on"), *(TableColumn(printable(course), True) for course in courses)]
    rows = [
        [one.strategy, *(f"{right[one.strategy, course]} of {all_runs[one.strategy, course]}" for course in courses)]
        for one in summaries
    ]  # fmt: skip
    return ["", *table(columns, rows)]


def _apart(summaries: Sequence[StrategySummary], results: Sequence[Result]) -> list[str]:
    """Runs that say nothing about a strategy, why, and what to do about it; strategies with the same to say together."""
    said: dict[tuple[str, str], list[str]] = {}
    some_read = not results or any(result.outcome is not Outcome.NOT_APPLICABLE for result in results)
    for one in summaries:
        for outcome, count in ((Outcome.NOT_APPLICABLE, one.not_applicable), (Outcome.DIVERGES, one.diverges)):
            if not count:
                continue
            mine = [result for result in results if result.strategy == one.strategy and result.outcome is outcome]
            reasons = Counter(why for result in mine for why in result.why)
            reason, _ = reasons.most_common(1)[0] if reasons else ("", 0)
            first = next((found for result in mine for found in result.findings if sentence(found) == reason), None)
            todo = remedy(first, others=some_read) if first is not None else ""
            reason = reason.removeprefix(f"{one.strategy} ")
            more = len(reasons) > 1 and outcome is Outcome.NOT_APPLICABLE
            others = f" (and {_many(len(reasons) - 1, 'more reason', 'more reasons')})" if more else ""
            example = "for example, " if len(reasons) > 1 and outcome is Outcome.DIVERGES else ""
            says = "not applicable to" if outcome is Outcome.NOT_APPLICABLE else "diverges in"
            why = f"{says} {_many(count, 'run')}: {example}{printable(reason)}{others}"
            said.setdefault((why, todo), []).append(one.strategy)
    lines = []
    if not some_read:
        lines += wrap("None of these strategies can read any of these runs.", "  ")
    for (why, todo), names in said.items():
        lines += wrap(f"{listed(names)}: {why}{'.' if todo else ''}", "  ")
        lines += wrap(f"{todo}.", "    ") if todo else []
    return ["", "What these runs cannot tell", *lines] if lines else []


def _wrong(summaries: Sequence[StrategySummary], comparison: Comparison, everything: bool, folder: str) -> list[str]:
    lines: list[str] = []
    rows = [*summaries, *([comparison.own] if comparison.own else [])]
    hidden = False
    listed = 0
    for one in rows:
        source = comparison.robot if one is comparison.own else comparison.results
        wrong = [result for result in source if result.strategy == one.strategy and result.outcome is Outcome.WRONG]
        if not wrong:
            continue
        worst = ", ".join(f"{printable(name)} ({count})" for name, count in one.hardest[:4])
        # Of many strategies the best one that failed: what went wrong there is what is left to mend.
        limit = len(wrong) if everything else SHOWN if listed == 0 or len(rows) <= 2 else 0
        listed += 1
        lines += [""] if limit else []
        lines += wrap(f"{one.strategy}: wrong in {_many(len(wrong), 'run')}, most often at {worst}")
        for result in wrong[:limit]:
            lines.append(f"  {_name(result.run.recording, folder)}")
            for why in result.why or ("it was read differently",):
                lines += wrap(printable(why), "    ")
        if 0 < limit < len(wrong):
            lines.append(f"  and {_many(len(wrong) - limit, 'more run', 'more runs')}")
        hidden = hidden or limit < len(wrong)
    heading = ["", "What went wrong"] if lines else []
    return [*heading, *lines, *(["", "--why lists every wrong run of every strategy with its reasons"] if hidden else [])]


def sensor_or_logic(results: Sequence[Result], folder: str = "") -> list[str]:
    """The verdicts on runs that some strategy misread: how many of each kind, and each that is more than logic."""
    found = {result.run.recording: result.verdict for result in results if result.verdict is not None}
    if not found:
        return []
    counts = Counter(one.kind for one in found.values())
    misread = {result.run.recording for result in results if result.outcome is Outcome.WRONG}
    of = f"{len(found)} of the {len(misread)} runs" if len(found) < len(misread) else "the runs"
    rest = " (--verdicts asks of all)" if len(found) < len(misread) else ""
    lines = ["", f"Sensor or logic? Of {of} that some strategy misread{rest}:"]
    for kind, count in counts.most_common():
        lines += wrap(f"{_many(count, 'run')}: {kind.words}", "  ")
    shown = [(name, one) for name, one in found.items() if one.kind is not CauseKind.LOGIC][:SHOWN]
    for name, one in shown:
        lines += wrap(f"{_name(name, folder)}: {one.kind.words}: {printable(one.why)}", "  ")
    asked = {result.run.recording for result in results if any(one.kind in MISTAKEN for one in result.run.remarks)}
    doubtful = [_name(name, folder) for name in found if name in asked]
    if doubtful:
        which = listed(doubtful) if len(doubtful) <= SHOWN else _many(len(doubtful), "run")
        lines += wrap(f"Of {which} something is asked under 'To know': answer that first, it may be the cause.", "  ")
    return lines


def _unjudged(comparison: Comparison, folder: str) -> list[str]:
    """Readings of runs whose truth is not known."""
    lines: list[str] = []
    untold: dict[str, list[Result]] = {}
    for result in (*comparison.results, *comparison.robot):
        if result.outcome is None:
            untold.setdefault(result.run.recording, []).append(result)
    for recording in dict.fromkeys(result.run.recording for result in comparison.results):
        here = untold.get(recording, [])
        if here:
            lines.append(f"  {_name(recording, folder)}")
            lines += [line for one in here for line in define(one.strategy, readings_text(one), "    ", 18)]
    return ["", "What was read", *lines] if lines else []


def readings_text(result: Result) -> str:
    """The readings of one run in a line: by slot where there is a course, else as they came."""
    taken = result.taken
    if not result.run.slots:
        return printable(", ".join(one.colour or "-" for one in taken.surplus)) or "nothing"
    nothing = (EMPTY, "-")  # decided, or not read
    marks = {"inferred": " (inferred)", "assumed": " (assumed)"}
    parts = [
        f"{name} {one.colour or nothing[one.how == MISSING_READING]}{marks.get(one.how, '') if one.colour else ''}"
        for name, one in zip(result.run.slots, taken.slots, strict=True)
    ]
    beyond = f"; beyond the slots: {', '.join(one.colour or '-' for one in taken.surplus)}" if taken.surplus else ""
    return printable(", ".join(parts) + beyond)


def _remarks(results: Sequence[Result], folder: str) -> list[str]:
    seen: dict[str, dict[str, None]] = {}
    for run in (result.run for result in results):
        for remark in sentences(run.remarks):
            seen.setdefault(remark, {})[run.recording] = None
    lines: list[str] = []
    for group in repeated(results):
        named = ", ".join(_name(one, folder) for one in group[:3])
        named += f" and {len(group) - 3} more" if len(group) > 3 else ""
        lines += wrap(f"{named}: the same readings at the same times. Of one run only one recording should count.", "  ")
    for remark, recordings in seen.items():
        which = _name(next(iter(recordings)), folder) if len(recordings) == 1 else f"{len(recordings)} runs"
        lines += wrap(f"{which}: {printable(remark)}", "  ")
    return ["", "To know", *lines] if lines else []


def _many(count: int, one: str, many: str = "") -> str:
    return f"{count} {one if count == 1 else many or one + 's'}"


def _seconds(ms: int | None) -> str:
    return "-" if ms is None else f"{ms / 1000:.2f} s"
