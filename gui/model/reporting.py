"""A report of the runs that are compared, from the results that are shown: nothing is replayed for it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from msgspec.structs import replace

from telemetry.replay.compare import Comparison
from telemetry.replay.evaluate import loaded
from telemetry.replay.scoring.results import ROBOT, Result
from telemetry.report.margins_file import margins_in
from telemetry.report.page.report import Contents, report_page
from telemetry.report.stress_json import stress_json
from telemetry.text_in_place import write_text

if TYPE_CHECKING:
    from gui.model.jobs import Job
    from gui.model.matrix import Matrix
    from telemetry.palette import Palette
    from telemetry.tuning.stress import Stress


@dataclass(frozen=True, slots=True)
class ReportOrder:
    """What is to be written. ``paths`` are those that could be read."""

    paths: tuple[Path, ...]
    comparison: Comparison
    strategy: str
    palette: Palette | None
    margins: Stress | None


def order_of(matrix: Matrix, columns: Sequence[str], margins: Stress | None) -> ReportOrder:
    """The report of what is shown, in the thread of the window. Raises SidelongError."""
    selection = matrix.selection
    names = [column for column in columns if column != ROBOT]
    in_use = matrix.in_use if matrix.in_use in names else ""
    paths = tuple(path for path in matrix.paths if path not in matrix.problems)
    results: list[Result] = []
    for path in paths:
        for column in names:
            wrong = (one := matrix.result(path, column)) is not None and one.was_wrong
            found = matrix.explained(path, column) if wrong and column == in_use else one
            if found is not None:
                verdict = matrix.causes.get(path) if wrong else None
                results.append(replace(found, strategy=column, verdict=found.verdict or verdict))
    own = [one for path in paths if (one := matrix.result(path, ROBOT)) is not None]
    comparison = Comparison(
        tuple(results), tuple(matrix.summary(column) for column in names), tuple(own),
        matrix.summary(ROBOT) if own else None, (),
    )  # fmt: skip
    return ReportOrder(paths, comparison, in_use, selection.palette, margins)


def write_report(order: ReportOrder, target: Path, job: Job) -> int:
    """Write the page; how many runs it holds. Raises SidelongError and OSError."""
    recordings = {}
    for number, path in enumerate(order.paths, start=1):
        if job.cancelled:
            return 0
        recordings[path.as_posix()] = loaded(path)
        job.tell(number, len(order.paths))
    margins = margins_in(stress_json(order.margins)) if order.margins is not None else None
    page = report_page(Contents(order.comparison, recordings, order.palette, margins, order.strategy))
    if not job.cancelled:
        write_text(target, page)
    return len(recordings)
