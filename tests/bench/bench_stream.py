"""The line stream's speed: through a real pseudo-terminal, from a saved stream, and at the pace of a robot.

``python tests/bench/bench_stream.py`` prints the figures; test_stream_speed.py asserts their ratios. POSIX only.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import threading
import time
import tty
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import serial

from telemetry.sample import SampleTable
from telemetry.sources.serial.port import SerialPort
from telemetry.sources.source import EndOfStream
from telemetry.sources.text_file import TextFile
from telemetry.stream.decoder import Decoder
from telemetry.stream.line import data_line, header_line

COLUMNS = "n,t/ms,colour,refl/%,red,green,blue,heading/deg,dist/cm"
_LOOK_S = 0.01
_FEEDER = """
import os, sys, time
out, period = int(sys.argv[1]), float(sys.argv[3])
data = open(sys.argv[2], "rb").read()
if not period:
    while data:
        data = data[os.write(out, data[:65536]):]
else:
    due = time.monotonic()
    for line in data.splitlines(keepends=True):
        due += period
        time.sleep(max(0.0, due - time.monotonic()))
        os.write(out, line)
"""


@dataclass(frozen=True, slots=True)
class Pace:
    """Lines per second on the clock, and per second of work of this process.

    Two processes share a machine with others: the clock counts what these do, too, the work does not.
    """

    per_s: float
    per_cpu_s: float


class Stopwatch:
    """Begins where it is made."""

    def __init__(self) -> None:
        self._begun, self._worked = time.perf_counter(), time.process_time()

    def pace(self, lines: int) -> Pace:
        return Pace(lines / (time.perf_counter() - self._begun), lines / (time.process_time() - self._worked))


@dataclass(frozen=True, slots=True)
class Live:
    """Microseconds from read to decoded sample, and the reading process's share of a core."""

    p50_us: float
    p99_us: float
    cpu: float


def stream(count: int) -> bytes:
    """A header about once a second at 200 lines/s, every line with a checksum; 41 bytes a line and more."""
    rng = np.random.default_rng(1)
    raw, colours = rng.integers(0, 1023, (count, 4)).tolist(), ("none", "rust", "leaf", "sky")
    header = header_line(COLUMNS.split(","))
    parts = []
    for i, (red, green, blue, other) in enumerate(raw):
        if i % 200 == 0:
            parts.append(header)
        values = [i, 5 * i, colours[other % 4], other % 101, red, green, blue, (other - 500) / 10, round(i * 0.12, 1)]
        parts.append(data_line(values))
    return b"".join(parts)


class Feed:
    """A process that writes ``data`` into a pseudo-terminal, as fast as it is taken or a line every ``period_s``."""

    def __init__(self, data: bytes, period_s: float = 0.0) -> None:
        self._ours, self._theirs = os.openpty()
        tty.setraw(self._theirs)
        self.port = os.ttyname(self._theirs)
        handle, self._file = tempfile.mkstemp()
        os.write(handle, data)
        os.close(handle)
        self._arguments = [sys.executable, "-c", _FEEDER, str(self._ours), self._file, str(period_s)]

    def __enter__(self) -> Feed:
        return self

    def start(self) -> None:
        self._process = subprocess.Popen(self._arguments, pass_fds=[self._ours])

    def __exit__(self, *_: object) -> None:
        self._process.kill()
        self._process.wait()
        os.close(self._ours)
        os.close(self._theirs)
        Path(self._file).unlink()


def readline_loop(data: bytes, count: int) -> Pace:
    """The usual loop: ``readline``, ``split``, ``float``; no checksum."""
    with Feed(data) as feed, serial.Serial(feed.port, timeout=5) as port:
        feed.start()
        taken = 0
        while taken < count:
            line = port.readline().decode()
            if not taken:
                watch = Stopwatch()
            if not line.startswith("#"):
                fields = line.partition("*")[0].split(",")
                _ = [field if i == 2 else float(field) for i, field in enumerate(fields)]
                taken += 1
        return watch.pace(taken)


def through_pty(data: bytes, count: int) -> Pace:
    """Source, decoder and table, checksums checked.

    A thread reads, as in a capture; the decoder takes what has gathered a hundred times a second, as the window does.
    """
    gathered: list[bytes] = []
    there = threading.Condition()

    def read(source: SerialPort) -> None:
        left = len(data)
        while left:
            piece = source.read(5.0)
            if not piece:
                return
            left -= len(piece)
            with there:
                gathered.append(piece)
                there.notify()

    decoder, table = Decoder(), SampleTable()
    with Feed(data) as feed:
        source = SerialPort(feed.port)
        source.open()
        reader = threading.Thread(target=read, args=(source,))
        reader.start()
        feed.start()
        while table.rows < count:
            with there:
                there.wait_for(lambda: gathered, timeout=5.0)
            if table.rows:
                time.sleep(_LOOK_S)
            with there:
                if not table.rows:
                    watch = Stopwatch()  # the feeding process's start is no reading
                piece, gathered[:] = b"".join(gathered), []
            for chunk in decoder.feed(piece, 0):
                table.append(chunk)
        pace = watch.pace(count)
        reader.join()
        source.close()
    assert not table.rejected
    return pace


def saved(data: bytes, count: int, folder: Path) -> Pace:
    """From a file to a table, without making a recording of it; the best of three."""
    path = folder / "run.txt"
    path.write_bytes(data)
    paces = []
    for _ in range(3):
        decoder, table, source = Decoder(), SampleTable(), TextFile(path)
        watch = Stopwatch()
        source.open()
        try:
            while True:
                for chunk in decoder.feed(source.read(0), 0):
                    table.append(chunk)
        except EndOfStream:
            source.close()
        paces.append(watch.pace(count))
        assert table.rows == count
    return max(paces, key=lambda pace: pace.per_cpu_s)


def live(data: bytes, count: int, lines_per_s: float = 200.0) -> Live:
    """A robot's pace: what passes from a read to its samples in the table, and what it costs."""
    decoder, table = Decoder(), SampleTable()
    delays: list[float] = []
    with Feed(data, 1 / lines_per_s) as feed:
        source = SerialPort(feed.port)
        source.open()
        feed.start()
        begun, worked = time.perf_counter(), time.process_time()
        while table.rows < count:
            piece = source.read(5.0)
            read = time.perf_counter()
            for chunk in decoder.feed(piece, 0):
                table.append(chunk)
            delays.append(1e6 * (time.perf_counter() - read))
        share = (time.process_time() - worked) / (time.perf_counter() - begun)
        source.close()
    return Live(float(np.median(delays)), float(np.quantile(delays, 0.99)), share)


def main() -> None:
    big, small, paced = 200_000, 10_000, 1000
    data = stream(big)
    print(f"lines of {len(data) / big:.0f} bytes with checksums")
    slow = readline_loop(stream(small), small)
    fast = through_pty(data, big)
    with tempfile.TemporaryDirectory() as folder:
        file = saved(data, big, Path(folder))
    for words, pace in (
        ("readline, split, float through a pseudo-terminal", slow),
        ("source, decoder, table through a pseudo-terminal", fast),
        ("a saved stream to a table", file),
    ):
        print(
            f"{words}: {pace.per_s:,.0f} lines/s, {pace.per_s / slow.per_s:.0f} times as many;"
            f" {pace.per_cpu_s:,.0f} a second of work, {pace.per_cpu_s / slow.per_cpu_s:.0f} times as many"
        )
    at_pace = live(stream(paced), paced)
    print(
        f"at 200 lines/s, from read to sample: median {at_pace.p50_us:.0f} us, 99th percentile {at_pace.p99_us:.0f} us;"
        f" {at_pace.cpu:.1%} of a core"
    )


if __name__ == "__main__":
    main()
