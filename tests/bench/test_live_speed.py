"""What a capture costs at 200 lines/s, and how long a sample takes from the read to the decoded column.

The delay is one of waking threads, which a busy machine makes long whatever the program does. So bare threads that hand
bytes on in the same way, and do nothing else with them, are timed just before on the same machine: the baseline.
"""

from __future__ import annotations

import os
import queue
import select
import signal
import subprocess
import sys
import threading
import time
from contextlib import suppress
from pathlib import Path

import numpy as np
import pytest

from telemetry.recording.capture import Capture
from telemetry.recording.follow import Follower
from telemetry.recording.meta import Meta
from telemetry.sources.serial.port import SerialPort
from telemetry.sources.synthetic.run import built_in_course

FEEDER = """
import os, sys, time
sys.path.insert(0, sys.argv[2])
from recording.streams import HEADER, line
fd, start = int(sys.argv[1]), time.monotonic()
os.write(fd, HEADER + b"!1000,gate open\\n")
for i in range(int(sys.argv[3])):
    time.sleep(max(0.0, start + i * 0.005 - time.monotonic()))
    os.write(fd, line(i))
time.sleep(3.0)
"""
SIDELONG = [sys.executable, "-c", "import sys; from telemetry.cli import main; sys.exit(main(sys.argv[1:]))"]
pytestmark = [pytest.mark.bench, pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals")]


def feed(lines: int) -> tuple[subprocess.Popen[bytes], str]:
    import tty

    master, slave = os.openpty()
    tty.setraw(slave)
    words = [sys.executable, "-c", FEEDER, str(master), str(Path(__file__).parent.parent), str(lines)]
    feeder = subprocess.Popen(words, pass_fds=[master])
    os.close(master)
    name = os.ttyname(slave)
    os.set_inheritable(slave, False)
    HELD.append(slave)
    return feeder, name


HELD: list[int] = []


def bare_delays_ms(lines: int, path: Path) -> list[float]:
    """From the read to the last of three threads: one reads, one writes to a file, one is told."""
    feeder, port = feed(lines)
    to_write: queue.SimpleQueue[tuple[int, bytes]] = queue.SimpleQueue()
    to_tell: queue.SimpleQueue[int] = queue.SimpleQueue()
    link, file = os.open(port, os.O_RDONLY | os.O_NOCTTY), os.open(path, os.O_WRONLY | os.O_CREAT)
    stopping = threading.Event()

    def read() -> None:
        while not stopping.is_set():
            if select.select([link], [], [], 0.1)[0]:
                data = os.read(link, 65536)
                to_write.put((time.monotonic_ns(), data))

    def write() -> None:
        while not stopping.is_set():
            read_ns, data = to_write.get()
            os.write(file, data)
            to_tell.put(read_ns)

    threads = [threading.Thread(target=work, daemon=True) for work in (read, write)]
    for thread in threads:
        thread.start()
    delays_ms = []
    with suppress(queue.Empty):
        while True:
            read_ns = to_tell.get(timeout=1.0)
            delays_ms.append((time.monotonic_ns() - read_ns) / 1e6)
    stopping.set()
    to_write.put((0, b""))
    for thread in threads:
        thread.join()
    feeder.kill()
    feeder.wait()
    for held in (link, file, HELD.pop()):
        os.close(held)
    return delays_ms


def told(delays_ms: list[float]) -> str:
    late = np.percentile(delays_ms, [50, 99, 100])
    return f"median {late[0]:.2f} ms, 99 % {late[1]:.2f} ms, worst {late[2]:.2f} ms"


def test_from_read_to_decoded_sample(tmp_path: Path) -> None:
    bare_ms = bare_delays_ms(1000, tmp_path / "bare")
    feeder, port = feed(2000)
    capture = Capture(SerialPort(port), tmp_path / "run.h5", Meta())
    capture.start()
    os.close(HELD.pop())
    follower = Follower(tmp_path / "run.h5")
    delays_ms: list[float] = []
    seen = 0
    while capture.running and follower.table.rows < 2000:
        capture.wait(0.1)
        while follower.poll():
            pass
        now_us = capture.now_us()
        if follower.table.rows > seen:
            delays_ms += ((now_us - follower.table.columns["arrival_us"][seen : follower.table.rows]) / 1000).tolist()
            seen = follower.table.rows
    capture.close()
    follower.close()
    feeder.kill()
    feeder.wait()
    print(f"\nload of the machine {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")
    print(f"from read to decoded sample at 200 lines/s: {told(delays_ms)}")
    print(f"bare threads that only hand the bytes on:   {told(bare_ms)}")
    assert len(delays_ms) == 2000
    assert np.median(delays_ms) < 1000 / 200, "a line must be there before the next comes"


def cpu_s(process: int) -> float:
    """Time on a core so far, of all threads that still run. Linux only."""
    tasks = Path(f"/proc/{process}/task").glob("*/schedstat")
    return sum(int(task.read_text().split()[0]) for task in tasks) / 1e9


@pytest.mark.skipif(sys.platform != "linux", reason="/proc")
@pytest.mark.parametrize("extra", [[], ["--quiet"]])
def test_share_of_a_core(tmp_path: Path, extra: list[str]) -> None:
    (tmp_path / "course.toml").write_text(built_in_course("row").text, encoding="utf-8")
    feeder, port = feed(2800)
    words = ["capture", port, "-o", "run.h5", "--course", "course.toml", *extra]
    capture = subprocess.Popen([*SIDELONG, *words], cwd=tmp_path, stdout=subprocess.PIPE, text=True)
    assert capture.stdout is not None
    assert capture.stdout.readline().startswith("capturing")
    marks = []
    for seconds in (1.5, 10.0):
        time.sleep(seconds)  # not a wait for anything: this stretch is what is measured
        marks.append((time.monotonic(), cpu_s(capture.pid)))
    capture.send_signal(signal.SIGINT)
    said, _ = capture.communicate(timeout=60)
    feeder.kill()
    feeder.wait()
    os.close(HELD.pop())
    share = (marks[1][1] - marks[0][1]) / (marks[1][0] - marks[0][0])
    what = "only keeping" if extra else "with readings"
    print(f"\nload of the machine {os.getloadavg()[0]:.1f}: capture {what} at 200 lines/s: {share * 100:.1f} % of a core")
    assert ("crate 1: rust" in said) != bool(extra), said
    assert share < 0.2
