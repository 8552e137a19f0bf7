"""Keeping a run: cutting it out of the capture that goes on, and what the built-in robot said of it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from gui.model.processes import said_in
from gui.model.robots import ROBOT_RESTS_S
from telemetry.recording.cut import NothingArrivedError, cut
from telemetry.recording.disk.replacing import free_name
from telemetry.stream.drives import STILL_S, moves

if TYPE_CHECKING:
    from gui.model.folder import RunFolder
    from gui.model.live_run import LiveRun
    from gui.model.messages import Messages
    from gui.model.watch import Watch
    from telemetry.recording.load import Recording
    from telemetry.recording.meta import Meta
    from telemetry.sample import Note

_SETS_OUT_S = 1.0
"""After its rest the robot is slow at first: it is seen to move up to 0.4 s later. No round is as short as this."""


class Keeper:
    """Keeps runs in the folder, with the labels in use."""

    def __init__(self, folder: RunFolder, labels: Callable[[], Meta], messages: Messages) -> None:
        self._folder, self._labels, self._messages = folder, labels, messages

    def keep(self, watch: Watch, begin_us: int, end_us: int, run: LiveRun | None) -> Path:
        """The stretch of the capture as a recording, with the labels and the marks noted; its path.

        ``run``: what follows the capture, None where nothing does. Raises SidelongError.
        """
        made = datetime.fromtimestamp(begin_us / 1e6).astimezone()
        marks = [(int(at_us), str(text)) for at_us, text in watch.marks if int(at_us) >= begin_us]
        trail = run.follower.trail if run is not None else None
        with free_name(self._folder.path, made.strftime("%Y-%m-%d %H.%M.%S")) as target:
            meta = replace(self._labels(), source=watch.source, simulated=watch.simulated, name=target.stem)
            cut(Path(watch.recording), target, begin_us, end_us, meta.begun(made), marks=marks, trail=trail)
        return target

    def keep_last(self, watch: Watch, seconds: float, now_us: int, run: LiveRun | None) -> Path | None:
        """What has just happened; None where it cannot be written, which is told."""
        return self._messages.attempt(lambda: self.keep(watch, now_us - int(seconds * 1e6), now_us, run))

    def keep_begun(self, watch: Watch, now_us: int, run: LiveRun | None = None) -> Path | None:
        """The run that was begun, up to now. It counts as begun for as long as it cannot be written, which is told."""

        def keep() -> Path:
            try:
                path = self.keep(watch, watch.begun_us, now_us, run)
            except NothingArrivedError:
                watch.begun_us = 0
                raise
            watch.begun_us = 0
            return path

        return self._messages.attempt(keep)

    def truth(self, watch: Watch, recording: Recording, run: LiveRun) -> str:
        """As ``simulated_truth``; what goes wrong is told, and empty."""
        return self._messages.attempt(lambda: simulated_truth(watch, recording, run.table.notes)) or ""


def simulated_truth(watch: Watch, recording: Recording, notes: Sequence[Note]) -> str:
    """What the built-in robot said stood there; empty unless the run is one of its rounds for certain, from its start.

    ``notes``: those of the whole capture, because a round is announced before the part of it that is a run. Everything is
    told by the robot's own clock: where the capture lags, several rounds arrive in one moment. Where an announcement was
    lost, the one before is too early for the motion.
    """
    said: dict[str, str] = {}
    for line in said_in(watch.robot_log).splitlines():
        head, colon, truth = line.rpartition(": ")
        if colon:
            said[head] = truth.strip()
    table = recording.table
    moving_us = np.asarray(table.columns["t_us"], dtype=np.int64)[moves(table, 0, table.rows)]
    if not len(moving_us) or int(np.diff(moving_us).max(initial=0)) >= STILL_S * 1e6:
        return ""
    set_out_us, came_to_rest_us = int(moving_us[0]), int(moving_us[-1])
    announced = {note.text.strip(): note.t_us for note in (*notes, *table.notes) if note.text.strip() in said}
    if any(set_out_us < at_us <= came_to_rest_us for at_us in announced.values()):
        return ""
    longest_us = (ROBOT_RESTS_S + _SETS_OUT_S) * 1e6
    mine = [text for text, at_us in announced.items() if 0 <= set_out_us - at_us <= longest_us]
    return said[mine[0]] if len(mine) == 1 else ""
