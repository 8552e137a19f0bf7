"""The window on a folder of files made to do harm: run by ``hostile_folder`` as a process of its own.

    cd tests; python -m faults.hostile_window FOLDER

Opens the window without a screen, waits until the runs are listed and each is judged, opens some damaged ones, and prints
as JSON: which runs are judged, after how many seconds, and the longest time for which the window stood still: by the clock,
and by the work of its own thread, which no other program on the computer makes longer.
"""

from __future__ import annotations

import json
import os
import sys
import tempfile
import time
from pathlib import Path

os.environ["QT_QPA_PLATFORM"] = "offscreen"

from PySide6.QtCore import QTimer

from gui.application import make_application
from gui.opening import open_paths
from gui.shell import make_window

LIMIT_S = 1500
TICK_MS = 10
OPENED = 20


def main(folder: Path) -> None:
    """Open, wait, print."""
    application = make_application()
    began = last = time.monotonic()
    longest = most_cpu = 0.0
    last_cpu = time.thread_time()

    def tick() -> None:
        nonlocal last, longest, last_cpu, most_cpu
        now, cpu = time.monotonic(), time.thread_time()
        longest, last = max(longest, now - last - TICK_MS / 1000), now
        most_cpu, last_cpu = max(most_cpu, cpu - last_cpu), cpu

    with tempfile.TemporaryDirectory() as place:
        window = make_window(Path(place) / "settings.ini", folder, "light")
        window.resize(1360, 860)
        window.show()
        workspace = window.workspace
        timer = QTimer()
        timer.timeout.connect(tick)

        def wait(over: object) -> None:
            while not over() and time.monotonic() - began < LIMIT_S:  # type: ignore[operator]
                application.processEvents()
                time.sleep(0.002)

        wait(lambda: workspace.shelf.listed)
        listed_s = time.monotonic() - began
        window.show_place("runs")
        last, last_cpu = time.monotonic(), time.thread_time()
        timer.start(TICK_MS)
        whole = [entry for entry in workspace.shelf.entries if entry.state == "whole"]
        asked = 0.0

        def all_judged() -> bool:
            nonlocal asked
            rest = [entry for entry in whole if workspace.standings.of(entry) is None]
            if rest and time.monotonic() > asked + 1:  # the page asks for those in view only
                workspace.standings.want(rest)
                asked = time.monotonic()
            return not rest

        wait(all_judged)
        judged = [Path(entry.path).name for entry in whole if workspace.standings.of(entry) is not None]
        judged_s = time.monotonic() - began
        damaged = [entry.path for entry in workspace.shelf.entries if entry.state != "whole"]
        open_paths(workspace, damaged[:: max(1, len(damaged) // OPENED)])
        until = time.monotonic() + 3
        wait(lambda: time.monotonic() > until)
        timer.stop()
        window.close()
    said = {"judged": judged, "listed_s": listed_s, "judged_s": judged_s, "damaged": len(damaged)}
    said |= {"stood_still_s": longest, "stood_still_cpu_s": most_cpu}
    print(json.dumps(said))


if __name__ == "__main__":
    main(Path(sys.argv[1]).resolve())
