"""The line stream against the usual reading loop, in the same run. Ratios only: figures differ from machine to machine."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

if sys.platform == "win32":
    pytest.skip("a pseudo-terminal is needed", allow_module_level=True)

from bench import bench_stream as bench


@pytest.mark.bench
def test_forty_times_the_readline_loop(tmp_path: Path) -> None:
    """Counted in work of the reading process: the clock counts what else the machine does, and failed on a busy one."""
    count, few = 100_000, 6000
    data, less = bench.stream(count), bench.stream(few)
    slow, fast = bench.readline_loop(less, few), bench.through_pty(data, count)
    for _ in range(2):
        slow = max(slow, bench.readline_loop(less, few), key=lambda pace: pace.per_cpu_s)
        fast = max(fast, bench.through_pty(data, count), key=lambda pace: pace.per_cpu_s)
    saved = bench.saved(data, count, tmp_path)
    print(
        f"\nlines per second of work: readline loop {slow.per_cpu_s:,.0f}; through a pty {fast.per_cpu_s:,.0f}"
        f" ({fast.per_cpu_s / slow.per_cpu_s:.0f} x); saved {saved.per_cpu_s:,.0f}. By the clock {slow.per_s:,.0f},"
        f" {fast.per_s:,.0f} ({fast.per_s / slow.per_s:.0f} x), {saved.per_s:,.0f}"
    )
    assert fast.per_cpu_s >= 40 * slow.per_cpu_s
    assert saved.per_cpu_s >= 40 * slow.per_cpu_s


@pytest.mark.bench
def test_a_line_is_decoded_before_the_next_comes() -> None:
    count = 400
    live = bench.live(bench.stream(count), count)
    print(f"\nread to sample: median {live.p50_us:.0f} us, 99th percentile {live.p99_us:.0f} us; {live.cpu:.1%} of a core")
    assert live.p99_us < 1_000_000 / 200
