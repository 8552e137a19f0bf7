"""Keeping a run: cutting it out of the capture that goes on, and what the built-in robot said of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from telemetry.live.detector import drives, moves
from telemetry.recording.cut import NothingArrivedError, cut
from telemetry.recording.disk.replacing import free_name

if TYPE_CHECKING:
    from gui.model.jobs import Job
    from gui.model.live_run import LiveRun
    from gui.model.watch import Watch
    from gui.model.workspace import Workspace
    from telemetry.recording.load import Recording
    from telemetry.sample import Note


def keep_run(workspace: Workspace, watch: Watch, begin_us: int, end_us: int, run: LiveRun | None) -> Path:
    """The stretch of the capture as a recording in the folder, with the labels and the marks noted; its path.

    ``run``: what follows the capture, None where nothing does. Raises SidelongError.
    """
    made = datetime.fromtimestamp(begin_us / 1e6).astimezone()
    marks = [(int(at_us), str(text)) for at_us, text in watch.marks if int(at_us) >= begin_us]
    trail = run.follower.trail if run is not None else None
    with free_name(workspace.folder, made.strftime("%Y-%m-%d %H.%M.%S")) as target:
        meta = replace(workspace.labels(), source=watch.source, simulated=watch.simulated, name=target.stem)
        cut(Path(watch.recording), target, begin_us, end_us, meta.begun(made), marks=marks, trail=trail)
    return target


def keep_begun(workspace: Workspace, watch: Watch, now_us: int, run: LiveRun | None = None) -> Path | None:
    """The run that was begun, up to now. It counts as begun for as long as it cannot be written, which is told."""

    def keep() -> Path:
        try:
            path = keep_run(workspace, watch, watch.begun_us, now_us, run)
        except NothingArrivedError:
            watch.begun_us = 0
            raise
        watch.begun_us = 0
        return path

    return workspace.attempt(keep)


def drives_in(recording: Recording) -> int:
    """How many drives are in a run: more than one, where it was ended too late."""
    return len(drives(recording.table))


def cut_into_drives(recording: Recording, job: Job) -> list[Path]:
    """Each drive as a recording of its own beside this one, which stays as it is; their paths. Raises SidelongError.

    ``job`` is told how far it is; nothing is left of what was made when it is cancelled.
    """
    arrival_us = recording.table.columns["arrival_us"]
    out: list[Path] = []
    found = drives(recording.table)
    try:
        for number, drive in enumerate(found, start=1):
            job.tell(number, len(found))
            begin_us, end_us = int(arrival_us[drive.first]), int(arrival_us[drive.last])
            marks = [(mark.arrival_us, mark.text) for mark in recording.marks if begin_us <= mark.arrival_us <= end_us]
            made = datetime.fromtimestamp(begin_us / 1e6).astimezone()
            with free_name(recording.path.parent, f"{recording.path.stem} drive {number}") as target:
                meta = replace(recording.meta, name=target.stem, truth=None)
                cut(recording.path, target, begin_us, end_us, meta.begun(made), marks=marks)
            out.append(target)
            if job.cancelled:
                break
    except BaseException:
        _remove(out)
        raise
    if job.cancelled:
        _remove(out)
    return out


def simulated_truth(watch: Watch, recording: Recording, notes: Sequence[Note]) -> str:
    """What the built-in robot said stood there; empty where that is not known.

    ``recording`` holds one drive. ``notes``: those of the whole capture, because a drive may have been announced before the
    run was begun.
    """
    said: dict[str, str] = {}
    for line in watch.robot_log.read_text(encoding="utf-8", errors="replace").splitlines():
        head, colon, truth = line.rpartition(": ")
        if colon:
            said[head] = truth.strip()
    table = recording.table
    moving = np.flatnonzero(moves(table, 0, table.rows))
    last_row = int(moving[-1]) if len(moving) else 0
    # The next round is announced while the robot still stands after this one.
    named = [note.text.strip() for note in table.notes if note.row <= last_row and note.text.strip() in said]
    if not named:
        first_us = recording.summary.first_us
        before = [note for note in notes if note.text.strip() in said and note.arrival_us < first_us]
        named = [before[-1].text.strip()] if before else []
    return said[named[0]] if len(set(named)) == 1 else ""


def _remove(paths: list[Path]) -> None:
    for path in paths:
        path.unlink(missing_ok=True)
