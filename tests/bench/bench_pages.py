"""How fast pages change, and how fast thousands of runs are listed and searched.

``python tests/bench/bench_pages.py [RUNS]``: offscreen, on entries without files behind them (default 5,000), so that what
is measured is the window. All figures are processor time. Listing stands beside a plain list of as many lines.
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

import numpy as np
from PySide6.QtWidgets import QApplication, QListWidget


def timed_ms(work: Callable[[], object], rounds: int = 9) -> float:
    """The median of ``rounds``, with everything painted, in ms of processor time: others share the machine."""
    out = []
    for _ in range(rounds):
        begun = time.process_time()
        work()
        QApplication.processEvents()
        out.append((time.process_time() - begun) * 1000)
    return float(np.median(out))


def main(words: list[str]) -> None:
    from gui.application import make_application
    from gui.shell import make_window
    from telemetry.recording.library import Entry

    count = int(words[1]) if len(words) > 1 else 5000
    app = make_application()
    with tempfile.TemporaryDirectory() as folder:
        window = make_window(Path(folder) / "settings.ini", Path(folder) / "runs", "light")
        window.resize(1920, 1080)
        ready: list[bool] = []
        window.ready.connect(lambda: ready.append(True))
        window.show()
        while not ready or not window.workspace.shelf.listed:
            app.processEvents()
        for name in window.titles:  # made once
            window.show_place(name)
            app.processEvents()
        for name in window.titles:
            other = "start" if name != "start" else "runs"
            window.show_place(other)
            app.processEvents()
            print(f"to {name:<10}{timed_ms(lambda name=name: window.show_place(name), 1):8.1f} ms")  # type: ignore[misc]
        window.show_place("runs")
        runs = window.place
        entries = [
            Entry(f"/none/run {n}.h5", name=f"run {n} of the league", course="Orchard Row", tags=("venue",), rows=900,
                  seconds=9.0, made=f"2026-{1 + n // 500 % 12:02}-{1 + n // 20 % 28:02}T{8 + n % 12:02}:00:00")
            for n in range(count)
        ]  # fmt: skip
        bare = QListWidget()
        bare.resize(1200, 800)
        bare.show()

        def fill_bare() -> None:
            bare.clear()
            bare.addItems([entry.title for entry in entries])

        def fill() -> None:
            window.workspace.shelf.entries = entries
            window.workspace.shelf.changed.emit()

        print(f"{count} runs: listed {timed_ms(fill, 3):.0f} ms, in a bare list {timed_ms(fill_bare, 3):.0f} ms")
        letters = []
        for text in ("4", "42", "423", ""):
            letters.append(timed_ms(lambda text=text: runs.search.setText(text), 1))  # type: ignore[misc,attr-defined]
        print(f"searched: {', '.join(f'{one:.0f}' for one in letters)} ms a letter")
        bare.close()
        window.close()
        app.processEvents()


if __name__ == "__main__":
    main(sys.argv)
