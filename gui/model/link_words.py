"""The state of the link in a few words."""

from __future__ import annotations

from typing import Final

from gui.model.live_run import LiveRun
from gui.model.watch import Watch
from gui.words import tr

SILENT_S: Final = 0.4
"""After so long without a sample it is said that nothing comes."""


def link_summary(watch: Watch | None, run: LiveRun | None) -> str:
    """Whether a robot is connected, and how many lines it sends."""
    if watch is None:
        return tr("No robot connected")
    if run is None or not run.table.rows:
        return tr("{robot}: waiting for the first line", robot=watch.title)
    if run.follower.link_is_down:
        return tr("{robot}: the link is down, waiting for it", robot=watch.title)
    if run.silence_s > SILENT_S:
        return tr("{robot}: nothing for {seconds:.1f} s", robot=watch.title, seconds=run.silence_s)
    return tr("{robot}: {rate:.0f} lines/s", robot=watch.title, rate=run.health.lines_per_s)


def recorded_for(watch: Watch | None, now_us: int) -> str:
    """How long the run in progress is, empty while none is recorded."""
    if watch is None or not watch.begun_us:
        return ""
    return tr("● recording {seconds:.0f} s", seconds=(now_us - watch.begun_us) / 1e6)
