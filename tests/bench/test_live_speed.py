"""What a capture costs at 200 lines/s, and how long a sample takes from the read to the decoded column."""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from telemetry.recording.capture import Capture
from telemetry.recording.follow import Follower
from telemetry.recording.meta import Meta
from telemetry.sources.serial_port import SerialPort
from telemetry.sources.synthetic.run import built_in_course

FEEDER = """
import os, sys, time
sys.path.insert(0, sys.argv[2])
from recording.streams import HEADER, line
fd, start = int(sys.argv[1]), time.monotonic()
os.write(fd, HEADER)
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


def test_from_read_to_decoded_sample(tmp_path: Path) -> None:
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
    late = np.percentile(delays_ms, [50, 99, 100])
    told = f"median {late[0]:.2f} ms, 99 % {late[1]:.2f} ms, worst {late[2]:.2f} ms"
    print(f"\nfrom read to decoded sample at 200 lines/s: {told}")
    assert len(delays_ms) == 2000
    assert late[0] < 1000 / 200, 'a line must be there before the next comes'


@pytest.mark.parametrize("extra", [[], ["--quiet"]])
def test_share_of_a_core(tmp_path: Path, extra: list[str]) -> None:
    (tmp_path / "course.toml").write_text(built_in_course("row").text, encoding="utf-8")
    used = {}
    for seconds in (2, 12):
        feeder, port = feed(seconds * 200 + 400)
        words = ["capture", port, "-o", f"run{seconds}.h5", "--course", "course.toml", "--for", str(seconds), *extra]
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run([*SIDELONG, *words], cwd=tmp_path, check=True, capture_output=True)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        used[seconds] = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
        feeder.kill()
        time.sleep(0.01)
        feeder.wait()
        os.close(HELD.pop())
    share = (used[12] - used[2]) / 10
    what = "only keeping" if extra else "with readings"
    print(f"\ncapture {what} at 200 lines/s: {share * 100:.1f} % of a core")
    assert share < 0.2
