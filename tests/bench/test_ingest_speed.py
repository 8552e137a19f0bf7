"""How fast a saved stream becomes a recording, from the command line, everything included."""

from __future__ import annotations

import resource
import subprocess
import sys
import time
from pathlib import Path

import pytest
from recording.streams import HEADER, line

from bench.bench_start import warm
from telemetry.recording.load import load

LINES = 600_000


@pytest.mark.bench
@pytest.mark.timeout(300)
def test_ingest_of_a_saved_stream(tmp_path: Path) -> None:
    block = b"".join(map(line, range(20_000)))
    (tmp_path / "run.txt").write_bytes(HEADER + b"".join(line(i) for i in range(20_000)) + block * (LINES // 20_000 - 1))
    words = ["ingest", str(tmp_path / "run.txt"), "-o", str(tmp_path / "run.h5")]
    command = [sys.executable, "-c", "import sys; from telemetry.cli import main; sys.exit(main(sys.argv[1:]))", *words]
    kept = warm(str(tmp_path / "compiled"))
    subprocess.run([*command[:3], "ingest", "--help"], check=True, capture_output=True, env=kept)
    before, began = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    subprocess.run(command, check=True, capture_output=True, env=kept)
    wall_s = time.perf_counter() - began
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    cpu_s = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    run = load(tmp_path / "run.h5")
    text = (tmp_path / "run.txt").stat().st_size
    size = (tmp_path / "run.h5").stat().st_size
    print(f"\ningest: {LINES / wall_s:,.0f} lines/s by the clock, {LINES / cpu_s:,.0f} lines/s of processor time")
    print(f"size: {size:,} bytes of {text:,} bytes of text, raw bytes included ({size / text:.2f})")
    assert run.table.rows == LINES
    plain_s = _split_and_float(block) * LINES / 20_000
    print(f"split and float of the same lines in memory, nothing kept: {LINES / plain_s:,.0f} lines/s")
    # All of it, files and compression included, in a few times what the plainest parsing alone takes.
    assert cpu_s < 8 * plain_s


def _split_and_float(block: bytes) -> float:
    """Seconds of processor time for the plainest way to read these lines, best of three."""
    best = float("inf")
    for _ in range(3):
        began, numbers = time.process_time(), 0
        for text in block.decode().splitlines():
            for field in text.partition("*")[0].split(","):
                try:
                    float(field)
                    numbers += 1
                except ValueError:
                    pass
        best = min(best, time.process_time() - began)
        assert numbers > 20_000
    return best
