"""How fast the window opens: ``python tests/bench/bench_start.py [start] [full]``; without words, both.

Software rendering, offscreen, each in a process of its own. Beside it stands an empty window of Qt's own.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

import numpy as np

CHILD = """
import os, sys, time, json
from PySide6.QtCore import QObject, QTimer
from gui.application import make_application
app = make_application()
from gui.shell import make_window
from pathlib import Path
window = make_window(Path(sys.argv[1]) / "s.ini", Path(sys.argv[1]) / "runs", "light")
times = {}
def spent():
    return time.time() - float(os.environ["BEGUN"]), time.process_time()
class Watch(QObject):
    def eventFilter(self, what, event):
        if event.type() == event.Type.Paint and "shell" not in times:
            QTimer.singleShot(0, lambda: times.setdefault("shell", spent()))
        return False
watch = Watch(); window.rail.installEventFilter(watch)
def ready():
    window.show_place("live")
    app.processEvents()
    times["plots"] = spent()
    print(json.dumps(times)); window.close(); app.quit()
window.ready.connect(ready)
window.show()
app.exec()
"""


BARE = """
import time
from PySide6.QtCore import QObject, QTimer
from PySide6.QtWidgets import QApplication, QLabel, QMainWindow
app = QApplication([]); app.setStyle("Fusion")
window, label = QMainWindow(), QLabel("x")
window.setCentralWidget(label); window.resize(1360, 860)
class Watch(QObject):
    def eventFilter(self, what, event):
        if event.type() == event.Type.Paint:
            QTimer.singleShot(0, lambda: (print(time.process_time()), app.quit()))
        return False
watch = Watch(); label.installEventFilter(watch)
window.show(); app.exec()
"""


def warm(compiled: str) -> dict[str, str]:
    """The modules are compiled, as after any first start; where an environment forbids to keep that, it is kept aside."""
    return os.environ | {"PYTHONDONTWRITEBYTECODE": "", "PYTHONPYCACHEPREFIX": compiled}


def start() -> None:
    """From the start of the process to the painted shell, and to painted plots; warm, median of five."""
    shells, plots, bare = [], [], []
    with tempfile.TemporaryDirectory() as compiled:
        kept = warm(compiled)
        for number in range(6):
            with tempfile.TemporaryDirectory() as folder:
                done = subprocess.run([sys.executable, "-c", CHILD, folder], capture_output=True, text=True, check=True,
                                      env=kept | {"BEGUN": str(time.time())})  # fmt: skip
            empty = subprocess.run([sys.executable, "-c", BARE], capture_output=True, text=True, check=True, env=kept)
            times = json.loads(done.stdout)
            if number:
                shells.append(times["shell"])
                plots.append(times["plots"])
                bare.append(float(empty.stdout))
    print("\nstart: from the start of the process, warm; the processor's time beside it, for others share the machine")
    for what, found, wanted in (("shell", shells, 200), ("plots", plots, 500)):
        wall, cpu = (float(np.median([one[at] for one in found])) * 1000 for at in range(2))
        print(f"  {what} painted after {wall:.0f} ms, {cpu:.0f} ms of processor (wanted: {wanted})")
    print(f"  an empty window of Qt's own: {np.median(bare) * 1000:.0f} ms of processor")


FULL = """
import os, sys, time, json
from pathlib import Path
from PySide6.QtCore import QTimer
from gui.application import make_application
app = make_application()
from gui.shell import make_window
window = make_window(Path(sys.argv[1]) / "s.ini", Path(sys.argv[2]), "light")
window.resize(1920, 1080)
begun = []
def spent():
    return time.time() - float(os.environ["BEGUN"]), time.process_time()
def look():
    runs = window.place
    entries = window.workspace.shelf.entries
    if window.workspace.shelf.listed and all(window.workspace.standings.of(one) for one in runs.table.in_view()):
        app.processEvents()
        print(json.dumps([*begun, *spent(), len(entries)])); window.close(); app.quit()
ticker = QTimer(); ticker.timeout.connect(look)
def ready():
    window.show_place("runs"); app.processEvents(); begun.extend(spent()); ticker.start(10)
window.ready.connect(ready)
window.show()
app.exec()
"""


def full() -> None:
    """A window of 1920 by 1080 on the 30 sample runs: until the list is painted, until each row in view has its result.

    Warm, median of five; by the clock and, for others share the machine, by the processor.
    """
    recordings = str(Path(__file__).resolve().parents[2] / "recordings")
    found, count = [], 0
    with tempfile.TemporaryDirectory() as compiled:
        for number in range(6):
            with tempfile.TemporaryDirectory() as folder:
                words = [sys.executable, "-c", FULL, folder, recordings]
                begun = warm(compiled) | {"BEGUN": str(time.time())}
                done = subprocess.run(words, capture_output=True, text=True, check=True, env=begun)
            *times, count = json.loads(done.stdout)
            if number:
                found.append(times)
    listed, listed_cpu, whole, whole_cpu = np.median(found, axis=0) * 1000
    print(f"\nfull: 1920x1080, {count} runs, from the start of the process, warm; the processor's time beside it")
    print(f"  Runs painted after {listed:.0f} ms, {listed_cpu:.0f} ms of processor (wanted: 1000)")
    print(f"  with each result in view {whole:.0f} ms, {whole_cpu:.0f} ms of processor")


PARTS = {"start": start, "full": full}

if __name__ == "__main__":
    for part in sys.argv[1:] or PARTS:
        PARTS[part]()
