"""The long checks, outside the fast tests; each prints what it found.

    python -m faults.long_runs kills [COUNT]      real captures killed at random moments (default 100)
    python -m faults.long_runs spoil [COUNT]      recordings and journals with random damage (default 5,000)
    python -m faults.long_runs soak [HOURS]       robot hours at 200 lines/s as fast as possible (default 8)
    python -m faults.long_runs reading [HOURS]    at 100 lines/s, round after round, read live by a course (default 10)

Run from the folder ``tests``, or with it on PYTHONPATH.
"""

from __future__ import annotations

import collections
import os
import random
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

from recording.streams import HEADER, line

from telemetry.errors import SidelongError
from telemetry.live.reader import LiveReader
from telemetry.live.readings import LiveReadings
from telemetry.reading.load import load_strategy
from telemetry.recording.capture import Capture
from telemetry.recording.follow import Follower
from telemetry.recording.load import load
from telemetry.recording.make import recover
from telemetry.recording.meta import Meta
from telemetry.sources.source import EndOfStream
from telemetry.sources.synthetic.run import simulate

SIDELONG = [sys.executable, "-c", "import sys; from telemetry.cli import main; sys.exit(main(sys.argv[1:]))"]
HALF_A_SECOND = 0.5


def kills(count: int = 100) -> None:
    """The robot's lines go to the capture and, stamped, to us; what was sent half a second before the kill must be there."""
    rng = random.Random(1)
    worst_s, unreadable, wrong, empty = 0.0, 0, 0, 0
    for number in range(count):
        with tempfile.TemporaryDirectory() as folder:
            sent = _one_kill(Path(folder), rng.uniform(0.05, 3.0))
            path = Path(folder) / "run.h5"
            try:
                said = recover(Path(folder))
                if not path.exists():
                    empty += 1
                    kept = 0
                else:
                    kept = sum(len(data) for _, data in load(path).raw())
                    text = b"".join(data for _, data in load(path).raw())
                    wrong += not b"".join(data for _, data in sent).startswith(text)
                unreadable += any(found.error for found in said)
            except SidelongError as error:
                unreadable += 1
                print(f"  {number}: {error}")
                continue
            killed_at = sent.pop()[0]
            size = 0
            for at_s, data in sent:
                size += len(data)
                if size > kept:
                    worst_s = max(worst_s, killed_at - at_s)
                    break
    print(
        f"{count} captures killed at random moments: {unreadable} unreadable, {wrong} wrong, {empty} before the first byte"
    )
    print(f"the oldest line that was lost had been sent {worst_s * 1000:.0f} ms before the kill (allowed: 500 ms)")
    assert unreadable == wrong == 0
    assert worst_s < HALF_A_SECOND


def _one_kill(folder: Path, after_s: float) -> list[tuple[float, bytes]]:
    """(when, what) of every line sent to a capture; the last is the kill, with no bytes."""
    import socket

    with socket.create_server(("127.0.0.1", 0)) as server:
        port = server.getsockname()[1]
        words = ["capture", f"socket://127.0.0.1:{port}", "-o", str(folder / "run.h5")]
        capture = subprocess.Popen([*SIDELONG, *words], stdout=subprocess.DEVNULL)
        link, _ = server.accept()
    with link:
        sent = [(time.monotonic(), HEADER)]
        link.sendall(HEADER)
        begin, i = time.monotonic(), 0
        while time.monotonic() - begin < after_s:
            time.sleep(max(0.0, begin + i * 0.005 - time.monotonic()))
            sent.append((time.monotonic(), line(i)))
            link.sendall(line(i))
            i += 1
        capture.kill()
        sent.append((time.monotonic(), b""))
        capture.wait()
    return sent


def spoil(count: int = 5000) -> None:
    """In a child for each hundred, so that a crash of a library below would show."""
    outcomes: collections.Counter[str] = collections.Counter()
    for start in range(0, count, 100):
        command = [sys.executable, "-m", "faults.long_runs", "_spoil", str(start)]
        done = subprocess.run(command, check=False, capture_output=True, text=True)
        if done.returncode:
            outcomes["crashed"] += 1
            print(done.stderr[-2000:])
        outcomes.update(done.stdout.split())
    print(f"{count} spoilt files: {dict(outcomes)}")
    assert not outcomes["crashed"]
    assert not outcomes["wrong"]


def _spoil(start: int) -> None:
    from recording.test_recording import write_journal

    from faults.test_damage import PIECES, is_part_of
    from telemetry.recording.make import make_recording

    rng = random.Random(start)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        journal = write_journal(folder / "good.h5", PIECES, Meta(name="good")).read_bytes()
        make_recording(folder / "good.h5.journal")
        right = load(folder / "good.h5").table
        recording = (folder / "good.h5").read_bytes()
        for number in range(100):
            data = bytearray(journal if number % 4 == 0 else recording)
            target = folder / ("x.h5.journal" if number % 4 == 0 else "x.h5")
            for _ in range(rng.choice([1, 1, 3, 30])):
                at = rng.randrange(len(data))
                size = rng.choice([1, 1, 8, 64])
                data[at : at + size] = rng.choice([bytes(size), rng.randbytes(size), data[:size]])
            target.write_bytes(data[: rng.randrange(len(data))] if rng.random() < 0.1 else data)
            try:
                run = load(target)
                outcome = "read" if not run.damage else "damage-said"
                try:
                    is_part_of(run.table, right)
                except AssertionError:
                    outcome = "wrong"
            except SidelongError:
                outcome = "refused"
            print(outcome)
            target.unlink()


class Fast:
    """``lines`` lines in reads of about 1,000, as fast as they are taken."""

    where = "a fast robot"

    def __init__(self, lines: int) -> None:
        self.lines = lines
        self._blocks = self._make()

    def _make(self) -> Iterator[bytes]:
        for start in range(0, self.lines, 1000):
            yield HEADER + b"".join(map(line, range(start, min(start + 1000, self.lines))))

    def open(self) -> None:
        """Nothing to do."""

    def read(self, timeout_s: float) -> bytes:
        try:
            return next(self._blocks)
        except StopIteration:
            raise EndOfStream from None

    def close(self) -> None:
        """Nothing to do."""


def soak(hours: float = 8.0) -> None:
    """With a follower, as the command has one without a course. Memory is that of this process, from /proc."""
    lines = round(hours * 3600 * 200)
    with tempfile.TemporaryDirectory() as name:
        path = Path(name) / "soak.h5"
        capture = Capture(Fast(lines), path, Meta(name="soak"), least_free=0)
        capture.start()
        follower = Follower(path, keep_samples=False)
        began, memory, next_look = time.monotonic(), [], 0.0
        while capture.running or follower.state == "growing":
            capture.wait(0.05)
            while follower.poll():
                if time.monotonic() >= next_look:
                    memory.append(_memory_mb())
                    next_look = time.monotonic() + 0.25
            if not capture.running and not follower.poll():
                break
        follower.close()
        took_s, journal_mb = time.monotonic() - began, _size_mb(path, ".journal")
        print(f"{lines:,} lines captured and followed in {took_s:.0f} s, journal {journal_mb:.0f} MB")
        seen: list[float] = []
        assert capture.close(progress=lambda share: seen.append(_memory_mb())) is not None
        warm = memory[len(memory) // 5 :]
        print(
            f"memory while capturing: {warm[0]:.1f} MB at a fifth, {max(warm):.1f} MB at the most, {warm[-1]:.1f} at the end"
        )
        rest = seen[len(seen) // 5 :]
        print(f"memory while making the recording: {rest[0]:.1f} MB at a fifth, {max(rest):.1f} MB at the most")
        print(f"recording {_size_mb(path):.0f} MB, made after {time.monotonic() - began:.0f} s in all")
        assert max(warm) - warm[0] < 5
        assert max(rest) - rest[0] < 5
        run = load(path)
        assert run.table.rows == lines
        assert int(run.table.columns["n"][-1]) == lines - 1
        assert not run.table.rejected
        print(f"complete to the last line: {run.table.rows:,} samples, none rejected, {run.table.lost} lost")


class Rounds(Fast):
    """The built-in robot (simulated) round after round, on one clock, as fast as it is taken."""

    def __init__(self, lines: int) -> None:
        super().__init__(lines)
        self.run = simulate("practice", 7)
        self._left, self._round, self._waiting = lines, 0, [self.run.data]
        rows = [one for one in self.run.data.split(b"\n") if one and one[:1] not in b"#!"]
        self.columns = [one.split(b",") for one in rows]
        first = next(one for one in self.run.data.split(b"\n") if one.startswith(b"#") and b"t/ms" in one)
        self._header = first + b"\n"
        self._t = first[1:].split(b",").index(b"t/ms")

    def read(self, timeout_s: float) -> bytes:
        """One round at once."""
        if self._left <= 0:
            raise EndOfStream
        begin, out = int(self.columns[0][self._t]), [self._header]
        last = int(self.columns[-1][self._t])
        for fields in self.columns[: self._left]:
            t = self._round * (last - begin + 1000) + int(fields[self._t])
            out.append(b",".join([*fields[: self._t], str(t).encode(), *fields[self._t + 1 :]]).partition(b"*")[0] + b"\n")
        self._left -= len(self.columns)
        self._round += 1
        return b"".join(out)


def reading(hours: float = 10.0) -> None:
    """What ``capture --course`` does, in one process: captured, followed and read. Memory at each tenth of the way."""
    lines = round(hours * 3600 * 100)
    with tempfile.TemporaryDirectory() as name:
        path = Path(name) / "rounds.h5"
        source = Rounds(lines)
        capture = Capture(source, path, Meta(name="rounds", course=source.run.course.text), least_free=0)
        capture.start()
        strategies = {"hold": load_strategy("hold"), "windows": load_strategy("windows")}
        view = LiveReader(Follower(path), LiveReadings(source.run.course, strategies))
        began, tenths, made = time.process_time(), list(range(1, 11)), 0
        while view.table.stop < lines:
            view.poll()
            made += len(view.read())
            view.forget()
            while tenths and view.table.stop >= lines * tenths[0] // 10:
                so_far = f"{view.table.stop:,} samples, {made:,} readings"
                print(f"  {tenths.pop(0)} tenths: {so_far}, {_memory_mb():.1f} MB", flush=True)
        view.close()
        capture.close()
        print(f"{lines:,} samples captured and read in {time.process_time() - began:.0f} s of processor time")


def _size_mb(path: Path, suffix: str = "") -> float:
    return Path(str(path) + suffix).stat().st_size / 1e6


def _memory_mb() -> float:
    with open("/proc/self/statm") as file:  # noqa: PTH123
        return int(file.read().split()[1]) * os.sysconf("SC_PAGE_SIZE") / 1e6


def main(words: list[str]) -> None:
    """Run what is asked for."""
    what = {"kills": kills, "spoil": spoil, "_spoil": _spoil, "soak": soak, "reading": reading}[words[0]]
    what(*(float(word) if words[0] in {"soak", "reading"} else int(word) for word in words[1:]))  # type: ignore[operator]


if __name__ == "__main__":
    main(sys.argv[1:])
