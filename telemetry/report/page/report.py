"""A report as one page: the answer first, then strategies, what failed and why, margins, colours, and what was recorded."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import PurePath

from telemetry.calibrate.outlook import pairs
from telemetry.palette import Palette
from telemetry.recording.load import Recording
from telemetry.replay.compare import Comparison
from telemetry.replay.header import palette_for
from telemetry.replay.scoring.results import ROBOT, Result, StrategySummary, comparable, ranked
from telemetry.replay.scoring.score import Outcome
from telemetry.report import margin_words
from telemetry.report.comparison_text import tie_sentence
from telemetry.report.fills import NONE_FILL, fill_of
from telemetry.report.margins_file import SavedMargins
from telemetry.report.page import markup
from telemetry.report.page.markup import chip, figure, paragraph, table, text
from telemetry.report.page.pictures import intervals, run_picture
from telemetry.report.page.run_data import picture_of
from telemetry.report.stress_text import UNSEEN
from telemetry.wording import listed

MOST_PICTURES = 24
"""A page of more runs is hard to read and to print; those left out are counted."""
PAIRS = 8


@dataclass(frozen=True, slots=True)
class Contents:
    """What a report is made from. ``margins``: the answer of 'sidelong stress', or none.

    ``strategy``: the one in use, whose failures are shown; empty: the best.
    """

    comparison: Comparison
    recordings: Mapping[str, Recording]
    palette: Palette | None = None
    margins: SavedMargins | None = None
    strategy: str = ""
    made: datetime = field(default_factory=lambda: datetime.now().astimezone())


def report_page(contents: Contents) -> str:
    """The page as HTML."""
    name = _in_use(contents)
    body = [
        *_answer(contents, name),
        *_strategies(contents),
        *_failures(contents, name),
        *_margins(contents),
        *_colours(contents),
        *_recorded(contents),
    ]
    return markup.page("Sidelong: report", body)


def _in_use(contents: Contents) -> str:
    if contents.strategy:
        return contents.strategy
    return ranked(contents.comparison.summaries)[0].strategy


def _answer(contents: Contents, name: str) -> list[str]:
    runs = contents.recordings
    simulated = sum(one.meta.simulated for one in runs.values())
    courses = Counter(one.course.name if one.course else "no course" for one in runs.values())
    kinds = "simulated" if simulated == len(runs) else f"{simulated} of them simulated" if simulated else "none simulated"
    on = "; ".join(courses)
    lines = [
        f'<p class="kicker">Report made {text(contents.made.strftime("%Y-%m-%d %H:%M"))}</p>',
        f"<h1>{_many(len(runs), 'run')} on {text(on)} ({kinds})</h1>",
        '<div class="answer">',
    ]
    one = next((each for each in contents.comparison.summaries if each.strategy == name), None)
    lines += [paragraph(_rate_words(f"The strategy '{name}'", one) + _equals(contents, one))] if one else []
    best = ranked(contents.comparison.summaries)[0]
    if best.strategy != name and best.runs:
        lines.append(paragraph(_rate_words(f"The best of {len(contents.comparison.summaries)}, '{best.strategy}',", best)))
    own = contents.comparison.own
    if own is not None and own.runs:
        lines.append(paragraph(_rate_words("The robot's own program", own)))
    if one is not None and one.hardest:
        slots = ", ".join(f"{slot} ({count})" for slot, count in one.hardest[:3])
        lines.append(paragraph(f"Slots that failed most often with it: {slots}."))
    lines += [paragraph(words) for words in _causes(contents, name)]
    return [*lines, "</div>"]


def _rate_words(who: str, one: StrategySummary) -> str:
    if not one.runs or one.wilson95 is None:
        return f"{who} is not judged: of no run is it known what really stood there."
    low, high = (round(100 * part) for part in one.wilson95)
    return f"{who} read {one.correct} of {_many(one.runs, 'run')} correctly (95 % range {low} to {high} %)."


def _equals(contents: Contents, one: StrategySummary) -> str:
    """Who else read as many of as many runs: then the order says little."""
    others = [f"'{other.strategy}'" for other in ranked(contents.comparison.summaries)
              if one.runs and other is not one and (other.correct, other.runs) == (one.correct, one.runs)]  # fmt: skip
    return f" So did {listed(others)}." if others else ""


def _causes(contents: Contents, name: str) -> list[str]:
    kinds = Counter(
        result.verdict.kind for result in contents.comparison.results
        if result.strategy == name and result.outcome is Outcome.WRONG and result.verdict is not None
    )  # fmt: skip
    return [f"Cause of {_many(count, 'misread run')}: {kind.words}." for kind, count in kinds.most_common()]


def _sentence(clause: str) -> str:
    return f"{clause[:1].upper()}{clause[1:]}{'' if clause.endswith(('.', '?')) else '.'}" if clause else ""


def _strategies(contents: Contents) -> list[str]:
    summaries = ranked(contents.comparison.summaries)
    own = contents.comparison.own
    every = [*summaries, *([own] if own is not None else [])]
    judged = [one for one in every if one.wilson95 is not None and one.rate is not None]
    lines = ["<h2>Strategies</h2>"]
    if judged:
        rows = [
            (_who(one), one.wilson95[0], one.rate, one.wilson95[1], f"{one.correct} of {one.runs}")
            for one in judged if one.wilson95 is not None and one.rate is not None
        ]  # fmt: skip
        lines.append(figure(
            intervals(rows), "Runs read correctly; the bar is where the true share may lie (Wilson, 95 %)", "strategies",
            ("strategy", "low", "rate", "high", "runs"), rows,
        ))  # fmt: skip
    cells = [
        (
            text(_who(one)), f"{one.correct} of {one.runs}" if one.runs else "not judged", *(
                str(count) if one.runs else "-"
                for count in (one.errors.missed, one.errors.wrong, one.errors.repeated, one.errors.extra)
            ), str(one.not_applicable + one.diverges), "" if one.decided_ms is None else f"{one.decided_ms / 1000:.2f} s",
        )
        for one in every
    ]  # fmt: skip
    headings = ("strategy", "correct", "missed", "wrong", "repeated", "extra", "cannot tell", "decided after")
    order = tie_sentence(comparable(summaries))
    return [*lines, table(headings, cells, range(1, 8)), *([paragraph(order, "note")] if order else [])]


def _who(one: StrategySummary) -> str:
    return "the robot's own program" if one.strategy == ROBOT else one.strategy


def _failures(contents: Contents, name: str) -> list[str]:
    comparison = contents.comparison
    mine = [one for one in comparison.results if one.strategy == name and one.outcome is not Outcome.NOT_APPLICABLE]
    failed = [one for one in mine if one.outcome is Outcome.WRONG]
    untold = [one for one in mine if one.outcome is None]
    lines = [f"<h2>Runs that '{text(name)}' misread</h2>"]
    if not failed:
        lines.append(paragraph("None." if not untold else "None of those whose actual colours are known."))
    for result in failed[:MOST_PICTURES]:
        lines += _run(contents, result)
    if len(failed) > MOST_PICTURES:
        words = f"{len(failed) - MOST_PICTURES} more are not shown; sidelong compare --why lists all."
        lines.append(paragraph(words, "note"))
    if len(contents.recordings) == 1 and not failed and mine:
        lines += ["<h2>The run</h2>", *_run(contents, mine[0])]
    return lines


def _run(contents: Contents, result: Result) -> list[str]:
    recording = contents.recordings[result.run.recording]
    lines = ['<section class="run">', f"<h3>{text(PurePath(result.run.recording).name)}</h3>"]
    lines += [paragraph(why) for why in result.why]
    if result.verdict is not None:
        lines.append(paragraph(f"Cause: {result.verdict.kind.words}. {_sentence(result.verdict.why)}"))
    picture = picture_of(recording, result, contents.palette)
    if picture.lines:
        names = list(picture.lines)
        rows = [
            (f"{index / max(len(next(iter(picture.lines.values()))) - 1, 1) * picture.seconds:.3f}",
             *(f"{value:.4f}" for value in values))
            for index, values in enumerate(zip(*picture.lines.values(), strict=True))
        ]  # fmt: skip
        caption = "Channels, as parts of the largest value; below them the colour seen; shaded where each slot passed"
        title = f"{PurePath(result.run.recording).name}, as '{result.strategy}' read it"
        lines.append(figure(run_picture(picture, title), caption, "run", ("time/s", *names), rows))
    truth = result.run.truth
    marks = result.score.slots if result.score is not None else ("",) * len(result.run.slots)
    says = any(one.confidence is not None for one in result.taken.slots)
    cells = [
        (
            str(i + 1), text(slot), "" if truth is None else _chip(truth[i]), _chip(one.colour), _mark(marks[i]),
            *(("" if one.confidence is None else f"{100 * one.confidence:.1f} %",) if says else ()),
        )
        for i, (slot, one) in enumerate(zip(result.run.slots, result.taken.slots, strict=True))
    ]  # fmt: skip
    return [*lines, table(("", "slot", "actual", "read", "", "confidence")[: 5 + says], cells, (5,)), "</section>"]


def _chip(colour: str | None) -> str:
    return chip(colour, NONE_FILL if colour == "none" else fill_of(colour or ""))


def _mark(how: str) -> str:
    words = "correct" if how == "right" else how
    return f'<span class="{"good" if how == "right" else "bad"}">{text(words)}</span>'


def _margins(contents: Contents) -> list[str]:
    if contents.margins is None or not contents.margins.margins:
        words = (
            "Not measured. 'sidelong report RUNS -o report.html --measure' measures them as well, which takes up to a few "
            "minutes; in the window: Decide, Margins."
        )
        return ["<h2>Margins</h2>", paragraph(words, "note")]
    rows = []
    for one in contents.margins.margins:
        limit, first = one.right_up_to, one.first_failure
        reached = margin_words.figure(one.searched_to, one.unit)
        words = f"no failure up to {reached}" if limit is None else margin_words.figure(limit, one.unit)
        fails = "-" if first is None else f"{first.slot} in {PurePath(first.recording).name}"
        cells = (margin_words.recorded(one.recorded, one.unit), words, margin_words.span(one.interval95, one.unit), fails)
        rows.append(tuple(text(cell) for cell in (one.what or one.of, *cells)))
    whose = f"Of '{contents.margins.strategy}', on {_many(contents.margins.runs, 'run')}."
    note = paragraph("From recordings that were altered on the computer, not recorded so. " + UNSEEN, "note")
    heads = ("how far with", "as recorded", "correct up to", "95 % range", "fails first")
    return ["<h2>Margins</h2>", *([paragraph(whose)] if contents.margins.strategy else []), table(heads, rows), note]


def _colours(contents: Contents) -> list[str]:
    """Every palette that a run was read with: the one given, else its recording's own."""
    lines = ["<h2>Colours</h2>"]
    runs_of: dict[int, list[str]] = {}
    palettes: dict[int, Palette] = {}  # by address, as runs with the same palette share one
    without = []
    for path, one in contents.recordings.items():
        palette = palette_for(one.table, one.course, contents.palette, one.meta.palette)
        if palette.measured:
            palettes[id(palette)] = palette
            runs_of.setdefault(id(palette), []).append(PurePath(path).name)
        else:
            without.append(PurePath(path).name)
    if not palettes:
        return [*lines, paragraph("No measured palette was used; typical colours stood in for it.", "note")]
    if len(palettes) > 1:
        lines.append(paragraph(f"Not all runs were read with the same palette; there are {len(palettes)}."))
    own = "" if contents.palette is not None else ", from the recordings themselves"
    for key, palette in palettes.items():
        of = f" Of {', '.join(runs_of[key])}." if len(palettes) > 1 or without else ""
        made = palette.made or "made at a time not said"
        name = palette.name or "without a name"
        called = name if name.lower().startswith("palette") else f"Palette {name}"
        lines.append(paragraph(f"{called[:1].upper()}{called[1:]}{own}, {made}.{of}"))
        lines += _pairs(palette)
    if without:
        words = f"No measured palette was used for {', '.join(without)}; typical colours stood in for it."
        lines.append(paragraph(words, "note"))
    return lines


def _pairs(palette: Palette) -> list[str]:
    rows = [
        (
            _chip(one.first), _chip(one.second), "-" if one.by_raw is None else f"{one.mahalanobis:.1f}", text(one.verdict)
        )
        for one in pairs(palette)[:PAIRS]
    ]
    return [table(("colour", "and", "apart (standard deviations)", "single samples"), rows, (2,))] if rows else []


def _recorded(contents: Contents) -> list[str]:
    rows = []
    for name, one in contents.recordings.items():
        meta = one.meta
        marks = ["simulated"] if meta.simulated else []
        marks += ["altered"] if "altered" in meta.tags else []
        marks += one.damage[:1]
        rows.append((
            text(PurePath(name).name), text(meta.made[:16].replace("T", " ")), text(meta.robot), text(meta.light),
            "" if meta.height_mm is None else f"{meta.height_mm:g} mm", str(one.table.rows),
            "colours entered" if one.truth is not None else "colours not entered", text(", ".join(marks)),
        ))  # fmt: skip
    for problem in contents.comparison.problems:
        rows.append((text(problem.path.name), "", "", "", "", "", "could not be read", text(problem.problem)))
    headings = ("recording", "made", "robot", "light", "height", "samples", "truth", "to know")
    return ["<h2>What was recorded</h2>", table(headings, rows, (5,))]


def _many(count: int, one: str) -> str:
    return f"{count} {one}" if count == 1 else f"{count} {one}s"
