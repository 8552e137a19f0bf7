"""How fast the window is, each figure beside a bare pyqtgraph plot of the same data in the same run.

``python tests/bench/bench_gui.py [live] [link] [hour]`` prints what it measures; without words, everything.
(Opening it: bench_start.py, its pages: bench_pages.py.)
Software rendering, offscreen. What is measured depends on the machine and its load: compare ratios.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

import numpy as np

WIDTH, HEIGHT = 1920, 1080
COLOURS = ("none", "rust", "orange", "leaf", "sky", "white", "pink")
RUN = "import sys; from telemetry.cli import main; sys.exit(main(sys.argv[1:]))"


def show(what: str, values_ms: list[float], note: str = "") -> None:
    values = np.array(values_ms)
    middle, late = np.median(values), np.percentile(values, 99)
    print(f"{what:<58}{middle:8.2f} ms   99 %:{late:8.2f} ms   {1000 / middle:7.0f} /s  {note}", flush=True)


def table_of(rows: int, rate_hz: float) -> Any:
    from telemetry.sample import SampleTable

    t = np.arange(rows) / rate_hz
    lot = np.random.default_rng(1)
    t_us = (t * 1e6).astype(np.int64)
    columns = {
        "t_us": t_us, "arrival_us": t_us + 1_700_000_000_000_000, "boot": np.zeros(rows, np.int64),
        "refl": 50 + 30 * np.sin(t / 3) + lot.normal(0, 3, rows), "red": 500 + 300 * np.sin(t / 2) + lot.normal(0, 10, rows),
        "heading": 20 * np.sin(t / 5) + lot.normal(0, 0.3, rows), "dist": (t * 30) % 300,
        "colour": (np.sin(t / 0.7) * 3.5).clip(0, 6).astype(np.int16),
    }  # fmt: skip
    return SampleTable(columns=columns, rows=rows, colours=COLOURS)  # type: ignore[arg-type]


def four_strips() -> Any:
    from gui.plots.ribbon import Lane
    from gui.plots.stack import StripStack
    from gui.plots.strip import StripSpec, Trace
    from gui.swatches import SwatchBook
    from gui.theme import LIGHT

    specs = [StripSpec(name, "", (Trace(name, "", tint),)) for tint, name in enumerate(("refl", "red", "heading", "dist"))]
    stack = StripStack(specs, [Lane("sensor", "colour", SwatchBook(COLOURS), COLOURS)], LIGHT)
    stack.view.live_span["time"] = 60.0
    return stack


def four_bare() -> tuple[Any, list[Any], list[Any]]:
    """Four plain pyqtgraph plots, one above the other."""
    import pyqtgraph as pg

    widget = pg.GraphicsLayoutWidget()
    plots = [widget.addPlot(row=row, col=0) for row in range(4)]
    curves = [plot.plot(pen="w") for plot in plots]
    return widget, plots, curves


def timed(app: Any, frame: Callable[[], None], frames: int) -> list[float]:
    out = []
    for _ in range(frames):
        begun = time.perf_counter()
        frame()
        app.processEvents()
        out.append((time.perf_counter() - begun) * 1000)
    return out[len(out) // 10 :]


def live(app: Any) -> None:
    """Four plots of 60 s at 1,000 samples/s, as at 60 frames/s, while a capture process records 1,000 lines/s beside."""
    from gui.model.series import Series

    rate, step = 1000.0, 16
    with tempfile.TemporaryDirectory() as folder:
        beside = _capture_beside(Path(folder), speed_up=10.0)
        try:
            print(f"\nlive: 4 plots x 60 s at {rate:.0f} samples/s and the ribbon, {WIDTH}x{HEIGHT}, a capture beside")
            table = table_of(60_000 + 400 * step, rate)
            last = table.rows
            table.rows = 60_000
            series = Series()
            series.take(table)
            stack = four_strips()
            stack.resize(WIDTH, HEIGHT)
            stack.set_series(series, live=True)
            stack.show()
            app.processEvents()

            def ours() -> None:
                table.rows = min(table.rows + step, last)
                series.take(table)
                stack.advance()

            mine = timed(app, ours, 380)
            stack.close()
            widget, plots, curves = four_bare()
            widget.resize(WIDTH, HEIGHT)
            widget.show()
            app.processEvents()
            at = [60_000]
            names = ("refl", "red", "heading", "dist")
            t = table.columns["t_us"] / 1e6

            def bare() -> None:
                at[0] += step
                part = slice(at[0] - 60_000, at[0])
                for plot, curve, name in zip(plots, curves, names, strict=True):
                    curve.setData(t[part], table.columns[name][part])
                    plot.setXRange(t[part.start], t[part.stop - 1], padding=0)

            theirs = timed(app, bare, 120)
            widget.close()
            show("  a frame, ours (four strips, ribbon with letters)", mine)
            show("  a frame, bare pyqtgraph setData (no ribbon)", theirs)
            print(f"  ours takes {np.median(mine) / np.median(theirs):.3f} of the time (wanted: at most 0.333, and 4 ms)")
        finally:
            _stop(*beside)


def _capture_beside(folder: Path, speed_up: float) -> tuple[subprocess.Popen[bytes], ...]:
    words = ["robot", "--loop-runs", "0", "--speed-up", str(speed_up)]
    robot = subprocess.Popen([sys.executable, "-u", "-c", RUN, *words], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL)
    assert robot.stdout is not None
    port = robot.stdout.readline().decode().strip()
    capture = subprocess.Popen([sys.executable, "-c", RUN, "capture", port, "-o", str(folder / "beside.h5")],
                               stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)  # fmt: skip
    while not (folder / "beside.h5.journal").exists():
        time.sleep(0.02)
    return capture, robot


def _stop(*processes: subprocess.Popen[bytes]) -> None:
    for process in processes:
        process.terminate()
    for process in processes:
        process.wait(10)
        if process.stdout is not None:
            process.stdout.close()


WRITER = """
import os, sys, time, tty
ours, theirs = os.openpty(); tty.setraw(theirs); print(os.ttyname(theirs), flush=True)
rate, seconds = float(sys.argv[1]), float(sys.argv[2])
head = b"#n,t/us,colour,refl/%,red,green,blue,heading/deg,dist/cm\\n"
names = [b"none", b"rust", b"leaf", b"sky"]
sys.stdin.readline()
begin = time.monotonic(); n = 0
while True:
    due = begin + n / rate
    wait = due - time.monotonic()
    if wait > 0: time.sleep(wait)
    if due - begin > seconds: break
    if n % int(rate) == 0: os.write(ours, head)
    t = time.monotonic_ns() // 1000
    values = (n, t, names[n // 30 % 4], n % 100, n % 800, n % 500, n % 300, 0.0, (n % 4000) / 40)
    os.write(ours, b"%d,%d,%s,%d,%d,%d,%d,%.1f,%.1f\\n" % values)
    n += 1
"""


def link(app: Any) -> None:
    """From bytes written to a pseudo-terminal, through capture and journal, to the end of the paint; and the cost."""
    from gui.plots.stack import StripStack
    from gui.shell import make_window

    rate, seconds = 200.0, 16.0
    delays: list[float] = []
    measured: dict[str, Any] = {}
    original = StripStack.paintEvent

    def observed(self: Any, event: Any) -> None:
        original(self, event)
        now_us, seen = time.monotonic_ns() // 1000, measured.get("seen", 1 << 60)
        if self._shown_rows > seen:
            t_us = measured["table"].columns["t_us"][seen : self._shown_rows]
            delays.extend(((now_us - t_us) / 1000).tolist())
            measured["seen"] = self._shown_rows

    # Before any is made: Qt asks for the method once.
    StripStack.paintEvent = observed  # type: ignore[method-assign]
    with tempfile.TemporaryDirectory() as folder:
        writer = subprocess.Popen(
            [sys.executable, "-c", WRITER, str(rate), str(seconds)], stdin=subprocess.PIPE, stdout=subprocess.PIPE
        )
        assert writer.stdout is not None
        assert writer.stdin is not None
        port = writer.stdout.readline().decode().strip()
        window = make_window(Path(folder) / "settings.ini", Path(folder) / "runs", "light")
        window.resize(WIDTH, HEIGHT)
        window.show()
        _until(app, lambda: window.workspace.shelf.listed)
        follow = window.workspace.follow
        follow.connect_robot(port)
        window.show_place("live")
        window.place.stack.view.live_span["time"] = 60.0
        _until(app, lambda: follow.run is not None)
        writer.stdin.write(b"go\n")
        writer.stdin.flush()
        run: Any = follow.run
        _until(app, lambda: run.table.rows > 2 * rate)
        follow.start_recording()
        measured.update(table=run.table, seen=run.table.rows)
        delays.clear()
        assert follow.watch is not None
        pids = [os.getpid(), follow.watch.capture_pid]
        cpu, clock = [_cpu_s(pid) for pid in pids], time.monotonic()
        end = clock + 10.0
        _until(app, lambda: time.monotonic() > end)
        spent, lasted = [_cpu_s(pid) - before for pid, before in zip(pids, cpu, strict=True)], time.monotonic() - clock
        StripStack.paintEvent = original  # type: ignore[method-assign]
        print(
            f"\nlink: {rate:.0f} lines/s on a pseudo-terminal, capture process, journal, window {WIDTH}x{HEIGHT}, recording"
        )
        show("  from write to end of paint", delays, "(wanted: 99 % within 25 ms)")
        window_part, capture_part = (100 * one / lasted for one in spent)
        print(f"  processor: window {window_part:.0f} %, capture {capture_part:.0f} % of a core (wanted: under 40 % in all)")
        follow.stop_recording()
        follow.disconnect_robot()
        writer.kill()
        writer.wait()
        writer.stdout.close()
        writer.stdin.close()
        window.close()
        app.processEvents()


def _cpu_s(pid: int) -> float:
    fields = Path(f"/proc/{pid}/stat").read_text(encoding="ascii").rpartition(") ")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def _until(app: Any, what: Callable[[], object]) -> None:
    """A loop of its own, because that is how the window runs: processEvents in a busy loop would cost a whole core."""
    from PySide6.QtCore import QEventLoop, QTimer

    loop = QEventLoop()
    ticker = QTimer()
    ticker.timeout.connect(lambda: loop.quit() if what() else None)
    ticker.start(20)
    if not what():
        loop.exec()
    ticker.stop()


def hour(app: Any) -> None:
    """An hour at 200 samples/s: opening, panning, zooming."""
    from gui.model.series import Series

    rows, rate = 720_000, 200.0
    print(f"\nhour: {rows} samples x 4 channels, {WIDTH}x{HEIGHT}")
    table = table_of(rows, rate)
    stack = four_strips()
    stack.resize(WIDTH, HEIGHT)
    stack.show()
    app.processEvents()
    begun = time.perf_counter()
    series = Series.whole(table)
    stack.set_series(series, live=False)
    app.processEvents()
    print(f"  opened and painted in {(time.perf_counter() - begun) * 1000:.0f} ms (wanted: under 1000)")
    spans = [3600 * 0.97**number for number in range(150)]

    def zoom() -> None:
        span = spans[len(done) % len(spans)]
        stack.set_view(span, 1800 + span / 2)
        done.append(1)

    def pan() -> None:
        stack.set_view(600.0, 700.0 + 4 * len(done))
        done.append(1)

    done: list[int] = []
    zooming = timed(app, zoom, 300)
    done = []
    panning = timed(app, pan, 300)
    stack.close()
    show("  zooming, ours", zooming, "(wanted: 99 % within 16 ms)")
    show("  panning, ours", panning)
    widget, plots, curves = four_bare()
    widget.resize(WIDTH, HEIGHT)
    widget.show()
    t = table.columns["t_us"] / 1e6
    for curve, name in zip(curves, ("refl", "red", "heading", "dist"), strict=True):
        curve.setData(t, table.columns[name])
    app.processEvents()
    number = [0]

    def bare() -> None:
        span = spans[number[0] % len(spans)]
        number[0] += 5
        for plot in plots:
            plot.setXRange(1800 - span / 2, 1800 + span / 2, padding=0)

    theirs = timed(app, bare, 30)
    widget.close()
    show("  zooming, bare pyqtgraph setData", theirs)
    print(f"  ours takes {np.median(zooming) / np.median(theirs):.3f} of the time")


PARTS = {"live": live, "link": link, "hour": hour}

if __name__ == "__main__":
    from gui.application import make_application

    application = make_application()
    for part in sys.argv[1:] or PARTS:
        PARTS[part](application)
