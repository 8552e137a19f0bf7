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
    count, few = 100_000, 6000
    data, less = bench.stream(count), bench.stream(few)
    slow = fast = 0.0
    # Two processes and a pseudo-terminal on a machine with other work: the best that each way shows, by turns.
    for _ in range(5):
        slow = max(slow, bench.readline_loop(less, few))
        fast = max(fast, bench.through_pty(data, count))
        if fast >= 40 * slow:
            break
    saved = bench.saved(data, count, tmp_path)
    print(f"\nreadline loop {slow:,.0f} lines/s; through a pty {fast:,.0f} ({fast / slow:.0f} x); saved {saved:,.0f}")
    assert fast >= 40 * slow
    assert saved >= 40 * slow


@pytest.mark.bench
def test_a_line_is_decoded_before_the_next_comes() -> None:
    count = 400
    live = bench.live(bench.stream(count), count)
    print(f"\nread to sample: median {live.p50_us:.0f} us, 99th percentile {live.p99_us:.0f} us; {live.cpu:.1%} of a core")
    assert live.p99_us < 1_000_000 / 200
