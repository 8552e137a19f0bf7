"""A walk through every place with the built-in robot, taking a picture at each stop."""

from __future__ import annotations

import random
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from PySide6.QtGui import QPixmap
from PySide6.QtWidgets import QApplication

from gui.application import make_application
from gui.model.season import SeasonKind, free_file
from gui.picture_file import save_picture
from gui.places.colours import ColoursPlace
from gui.places.decide import DecidePlace
from gui.places.live import LivePlace
from gui.places.record import RecordPlace
from gui.places.runs import RunsPlace
from gui.places.start import StartPlace
from gui.shell import make_window
from gui.theme import THEMES
from gui.window import Window
from telemetry.errors import LinkError

SIZE = {1: (1360, 860), 2: (1120, 700)}
"""Logical pixels at 100 % and at 200 %: a desktop's window, and one of a small screen with large type."""
LEVELS = ("practice", "venue", "slipping", "extreme")
RUNS_EACH = 4
SEED = 41
PATIENCE_S = 60.0


class Tour:
    """Drives the real window; waits for what happens, never for a time."""

    def __init__(self, window: Window, out: Path, scale: int) -> None:
        self.window = window
        self.out = out
        self.scale = scale
        self.number = 0

    def wait(self, until: Callable[[], object], what: str) -> None:
        """Let the window work until something has happened."""
        end = time.monotonic() + PATIENCE_S
        while not until():
            QApplication.processEvents()
            time.sleep(0.002)
            if time.monotonic() > end:
                raise LinkError(f"{what} did not happen within {PATIENCE_S:.0f} s", where="screenshots")

    def pause(self, seconds: float) -> None:
        """Let the window work for a while, so that there is something to see."""
        end = time.monotonic() + seconds
        self.wait(lambda: time.monotonic() >= end, "a pause")

    def picture(self, name: str, when: Callable[[], object] | None = None) -> None:
        """One in each theme, taken ``when`` something is to be seen."""
        self.number += 1
        for theme in THEMES:
            self.window.set_look(theme)
            self.pause(0.25)
            if when is not None:
                self.wait(when, name)
            path = self.out / f"{self.number:02}-{name}-{theme}-{self.scale * 100}.png"
            save_picture(self.window.grab(), path)
            print(path, flush=True)
        self.window.set_look("light")

    def sheet(self, name: str) -> None:
        """What each strategy does, for the guide."""
        from gui.plots.strategy_sheet import strategy_sheet

        self.number += 1
        for theme_name, theme in THEMES.items():
            path = self.out / f"{self.number:02}-{name}-{theme_name}-{self.scale * 100}.png"
            save_picture(QPixmap.fromImage(strategy_sheet(theme)), path)
            print(path, flush=True)


def take_pictures(out: Path, scale: int) -> None:
    """All pictures at this scale (Qt's scale factor must be set before). Raises SidelongError."""
    make_application()
    with tempfile.TemporaryDirectory() as folder:
        window = make_window(Path(folder) / "settings.ini", Path(folder) / "runs", "light")
        window.resize(*SIZE[scale])
        tour = Tour(window, out, scale)
        loaded: list[bool] = []
        window.ready.connect(lambda: loaded.append(True))
        window.show()
        try:
            tour.wait(lambda: loaded, "loading")
            _walk(tour)
        finally:
            window.close()
            QApplication.processEvents()


def _walk(tour: Tour) -> None:
    window = tour.window
    follow, shelf = window.workspace.follow, window.workspace.shelf
    make_runs(window.workspace.folder.path)
    shelf.refresh()
    tour.wait(lambda: shelf.entries, "listing the runs")
    tour.picture("start")

    start = window.places["start"]
    assert isinstance(start, StartPlace)
    follow.start_built_in("practice", SEED)
    window.show_place("live")
    live = window.places["live"]
    assert isinstance(live, LivePlace)
    tour.wait(lambda: follow.run is not None and follow.run.table.rows > 2600, "driving")
    tour.picture("live", lambda: live.swatches[0].colour not in (None, "none"))
    live.toggle_axis()
    tour.pause(0.5)
    tour.picture("live-by-distance")
    live.toggle_axis()

    window.show_place("record")
    record = window.places["record"]
    assert isinstance(record, RecordPlace)
    tour.picture("record")
    run = follow.run
    assert run is not None
    tour.wait(lambda: not run.moving, "resting")
    tour.wait(lambda: run.moving, "driving off")
    window.toggle_record()
    tour.wait(lambda: not run.moving, "coming to rest")
    window.toggle_record()
    tour.wait(lambda: record.asked is not None, "asking for the truth")
    tour.picture("what-stood-there")
    record.picker.confirm()
    tour.wait(lambda: record.verdict_card.verdict is not None, "the verdict")
    tour.picture("verdict")

    window.show_place("colours")
    colours = window.places["colours"]
    assert isinstance(colours, ColoursPlace)
    _take_all(tour, colours)
    tour.picture("colours")
    colours.keep_as(free_file(window.workspace.folder.path, SeasonKind.PALETTE, "home light"))
    colours.begin_recheck()
    _take_all(tour, colours)
    tour.picture("re-check")
    window.workspace.selection.use_palette(None)
    follow.disconnect_robot()

    window.show_place("runs")
    runs = window.places["runs"]
    assert isinstance(runs, RunsPlace)
    tour.wait(lambda: runs.table.runs.entries, "listing the runs")
    tour.picture("runs")
    hard = next(Path(entry.path) for entry in shelf.entries if "slipping" in entry.tags)
    runs.open(hard)
    view = runs.view
    assert view is not None
    tour.wait(lambda: getattr(view, "verdict", None) is not None, "the verdict")
    tour.picture("run")
    runs.open(hard, "first-come")
    again = runs.view
    tour.wait(lambda: getattr(again, "verdict", None) is not None, "the verdict")
    tour.pause(0.2)
    again.show_failure()  # type: ignore[union-attr]
    tour.picture("run-failure")
    runs.show_list()
    found = [Path(entry.path) for entry in runs.table.runs.entries if {"practice", "venue"} & set(entry.tags)]
    runs.table.choose(found[0], found[-1])
    runs.open_pair()
    tour.picture("two-runs")
    runs.show_list()

    window.show_place("decide")
    decide = window.places["decide"]
    assert isinstance(decide, DecidePlace)
    tour.wait(lambda: decide.matrix.paths and not decide.matrix.busy, "comparing")
    decide.guard.keep()
    tour.wait(lambda: decide.guard.file is not None, "keeping the readings")
    tour.pause(0.3)
    decide.cards.right.verticalScrollBar().setValue(0)
    tour.picture("decide")
    tour.sheet("strategies")


def _take_all(tour: Tour, colours: ColoursPlace) -> None:
    for _step in colours.calibration.steps:
        colours.take()
        tour.wait(lambda: not colours.calibration.taking, "capturing a colour")


def make_runs(folder: Path) -> None:
    """A few runs of every level by the built-in robot, ingested as saved streams, their truth known."""
    from gui.model.ingesting import ingest
    from telemetry.recording.meta import Meta
    from telemetry.sources.synthetic.run import simulate

    folder.mkdir(parents=True, exist_ok=True)
    lot = random.Random(SEED)
    for level in LEVELS:
        for number in range(RUNS_EACH):
            run = simulate(level, lot.randrange(10_000))
            text = folder / f"{level} {number + 1}.txt"
            text.write_bytes(run.data)
            labels = Meta(course=run.course.text, truth=run.truth, tags=(level,), light="hall lamps", height_mm=12.0)
            ingest(text, folder, replace(labels, simulated=True, robot="built-in"))
            text.unlink()
