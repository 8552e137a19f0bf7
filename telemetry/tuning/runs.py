"""Saved runs as tuning and stress take them: the samples of the stretch that counts, what stood there, and the day.

Of many runs not all samples are in memory at once (kept.py)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from telemetry.course import Course, Truth, load_course, parse_truth
from telemetry.errors import RecordingError, SidelongError
from telemetry.palette import Palette
from telemetry.palette_file import read_palette
from telemetry.recording.load import Recording, load
from telemetry.replay.evaluate.evaluator import Progress
from telemetry.replay.header import palette_for
from telemetry.replay.judge import longest_stretch
from telemetry.sample import Columns, Note, SampleTable
from telemetry.tuning.kept import KeptTable


@dataclass(frozen=True, slots=True)
class SavedRun:
    """One run with a known truth. ``table``: the stretch that counts. ``day``: the date; ``place``: its light, as told."""

    name: str
    table: SampleTable
    course: Course
    truth: Truth
    palette: Palette
    day: str = ""
    place: str = ""
    simulated: bool = False


@dataclass(frozen=True, slots=True)
class JudgeableRuns:
    """``runs`` that can be judged, ``untold``: recordings whose truth or course is not known, ``problems``: unreadable."""

    runs: tuple[SavedRun, ...]
    untold: tuple[str, ...]
    problems: tuple[SidelongError, ...]


def saved_runs(
    paths: Sequence[Path], *, course: str = "", palette: str = "", truth: str = "", progress: Progress | None = None
) -> JudgeableRuns:
    """Load recordings. ``course``, ``palette`` (files) and ``truth`` stand in for what the recordings say.

    Raises RecordingError where no run has a known truth, and says what to do.
    """
    given_course = load_course(Path(course)) if course else None
    given_palette = read_palette(Path(palette)) if palette else None
    runs: list[SavedRun] = []
    untold: list[str] = []
    problems: list[SidelongError] = []
    for number, path in enumerate(paths, start=1):
        try:
            recording = load(path)
            on, stood = _labels(recording, given_course, truth)
            if on is None or stood is None or not recording.table.rows:
                untold.append(path.as_posix())
            else:
                runs.append(_run(path.as_posix(), recording, on, stood, given_palette))
        except SidelongError as error:
            problems.append(error.alone())
        if progress:
            progress(number)
    if not runs and problems and not untold:
        raise problems[0]
    if not runs:
        raise RecordingError(
            "no run here has a known course and known colours, so nothing can be judged", where=", ".join(untold[:3]),
            todo="Enter what stood there: sidelong runs truth COLOURS FILE, or give --truth.",
        )  # fmt: skip
    return JudgeableRuns(tuple(runs), tuple(untold), tuple(problems))


def _labels(recording: Recording, course: Course | None, truth: str) -> tuple[Course | None, Truth | None]:
    on = course or recording.course
    if on is None:
        return None, None
    if truth:
        return on, parse_truth(truth, on, "--truth")
    if course is None or recording.meta.truth is None:
        return on, recording.truth
    return on, parse_truth(",".join(recording.meta.truth), on, f"{recording.path}, truth")


def _run(name: str, recording: Recording, course: Course, truth: Truth, palette: Palette | None) -> SavedRun:
    meta = recording.meta
    colours = palette_for(recording.table, course, palette, meta.palette, f"{name}, palette")
    return SavedRun(
        name, KeptTable(recording.path, counted(recording.table)), course, truth, colours, day=meta.made[:10],
        place=meta.light.strip(), simulated=meta.simulated,
    )  # fmt: skip


def counted(table: SampleTable) -> SampleTable:
    """The table without what lies outside its longest stretch between two restarts of the robot."""
    stretch = longest_stretch(table)
    if stretch.stop - stretch.start == table.rows:
        return table
    columns = {name: column[stretch.start : stretch.stop] for name, column in table.columns.items()}
    notes = [replace(note, row=note.row - stretch.start) for note in table.notes if stretch.start <= note.row < stretch.stop]
    return table_like(table, columns, stretch.stop - stretch.start, notes)


def table_like(table: SampleTable, columns: Columns, rows: int, notes: Sequence[Note]) -> SampleTable:
    """Another table of the same stream: other samples and notes, the same colours, ranges and units."""
    return SampleTable(
        columns=columns, rows=rows, colours=table.colours, notes=list(notes), ranges=dict(table.ranges),
        units=dict(table.units),
    )  # fmt: skip
