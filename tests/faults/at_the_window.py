"""What a user does at the window while calls fail: waits for the list, opens a run, labels it, puts one away, closes."""

from __future__ import annotations

import contextlib
import os
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

from PySide6.QtCore import QTimer

from faults.faulty_system import Failing
from gui.application import make_application
from gui.opening import open_paths
from gui.window import Window

PATIENCE_S = 3.0
"""For what a failed call may have kept from happening: then the user goes on."""
LONG_S = 60.0
"""While none has failed yet, on a computer that is busy."""
TICK_MS = 5
_failing: list[Failing] = []




def _until(what: Callable[[], object]) -> Iterator[None]:
    began = time.monotonic()
    while not what() and time.monotonic() < began + (PATIENCE_S if _failing[-1].failed else LONG_S):
        yield


def _visit(windows: Callable[[], list[Window]], runs: Path, left: set[str]) -> Iterator[None]:
    yield from _until(windows)
    window = windows()[0]
    workspace, shelf = window.workspace, window.workspace.shelf
    yield from _until(lambda: shelf.listed)
    left -= {"list"} if shelf.listed else set()
    open_paths(workspace, [str(runs / "a.h5")])
    yield from _until(lambda: _judged(window))
    left -= {"open"} if _judged(window) else set()
    if shelf.relabel(runs / "a.h5", "light", lambda meta: replace(meta, light="lamp")):
        left.discard("label")
    yield
    shelf.remove([runs / "b.h5"])
    yield from _until(lambda: shelf.entry(runs / "b.h5") is None)
    left -= {"put away"} if shelf.entry(runs / "b.h5") is None else set()


def _judged(window: Window) -> bool:
    view = getattr(window.places.get("runs"), "view", None)
    return getattr(view, "verdict", None) is not None


@contextlib.contextmanager
def somebody_at_the_window(place: Path, failing: Failing) -> Iterator[set[str]]:
    """While the block lasts, a window that is opened is used, and closed in the end. Yields what is left to do there."""
    _failing.append(failing)
    app, left = make_application(), {"list", "open", "label", "put away"}

    def windows() -> list[Window]:
        return [one for one in app.topLevelWidgets() if isinstance(one, Window) and one.isVisible()]

    steps, timer = _visit(windows, place / "runs", left), QTimer()

    def step() -> None:
        try:
            next(steps)
        except StopIteration:
            timer.stop()
            app.closeAllWindows()
            app.quit()

    timer.timeout.connect(step)
    timer.start(TICK_MS)
    try:
        yield left
    finally:
        timer.stop()
        for one in app.topLevelWidgets():
            one.deleteLater()
        app.processEvents()
