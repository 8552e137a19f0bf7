"""Wraps, restarts, small steps back and lost lines."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from stream_decoding import decode, lines

from telemetry.stream.counters import Counters


def times(*ms: int, before: tuple[str, ...] = ()) -> tuple[list[int], list[int], list[str]]:
    table = decode(lines(*before, "#t/ms", *map(str, ms)))
    return [t // 1000 for t in table.columns["t_us"].tolist()], table.columns["boot"].tolist(), table.remarks


def test_a_counter_that_falls_back_is_a_restart() -> None:
    t, boot, remarks = times(0, 10, 20, 0, 10, 5000, 3)
    assert t == [0, 10, 20, 0, 10, 5000, 3]
    assert boot == [0, 0, 0, 1, 1, 1, 2]
    assert len(remarks) == 2
    assert "restarted after 3 samples: its clock fell from 0.020 s to 0.000 s" in remarks[0]


def test_an_announced_wrap_is_taken_out() -> None:
    t, boot, remarks = times(900, 950, 10, 500, 990, 0, before=("#wrap,t=1000",))
    assert t == [900, 950, 1010, 1500, 1990, 2000]
    assert boot == [0] * 6
    assert not remarks


def test_a_wrap_of_t_is_in_the_headers_unit() -> None:
    table = decode(lines("#t/s", "#wrap,t=10", "9.5", "0.5"))
    assert table.columns["t_us"].tolist() == [9_500_000, 10_500_000]


def test_a_restart_is_told_from_a_wrap() -> None:
    t, boot, _ = times(900, 100, 400, 0, before=("#wrap,t=1000",))
    assert t == [900, 1100, 1400, 0]
    assert boot == [0, 0, 0, 1]


def test_the_running_number_tells_a_restart_where_the_clock_looks_wrapped() -> None:
    table = decode(lines("#wrap,t=1000", "#n,t/ms", "700,900", "0,10", "1,20"))
    assert table.columns["t_us"].tolist() == [900_000, 10_000, 20_000]
    assert table.columns["boot"].tolist() == [0, 1, 1]


def test_a_clock_that_runs_on_through_a_restart() -> None:
    table = decode(lines("#n,t/ms", "700,900", "0,910", "1,920"))
    assert table.columns["t_us"].tolist() == [900_000, 910_000, 920_000]
    assert table.columns["boot"].tolist() == [0, 1, 1]
    assert "its running number fell from 700 to 0" in table.remarks[0]


def test_a_small_step_back_is_no_restart() -> None:
    t, boot, remarks = times(1000, 1010, 1005, 1020, 1015, 1030)
    assert t == [1000, 1010, 1005, 1020, 1015, 1030]
    assert boot == [0] * 6
    assert "jumped back by 5 ms after 2 samples" in remarks[0]
    assert remarks[1] == "The robot's time jumped back 2 times in all."


@pytest.mark.parametrize(("back_ms", "restarts"), [(100, 0), (101, 1)])
def test_a_step_back_of_a_tenth_of_a_second_is_still_small(back_ms: int, restarts: int) -> None:
    assert times(1000, 2000, 2000 - back_ms, 3000)[1] == [0, 0, restarts, restarts]


def test_a_small_step_back_across_a_wrap() -> None:
    t, boot, remarks = times(995, 2, 998, 5, before=("#wrap,t=1000",))
    assert t == [995, 1002, 998, 1005]
    assert boot == [0] * 4
    assert "jumped back by 4 ms" in remarks[0]


def test_a_wrap_smaller_than_a_small_step_back() -> None:
    table = decode(lines("#t/us", "#wrap,t=2048", *(str(t % 2048) for t in range(0, 9000, 500))))
    assert table.columns["t_us"].tolist() == list(range(0, 9000, 500))
    assert not table.remarks


def test_lines_that_changed_places() -> None:
    table = decode(lines("#n,t/ms", "50,1000", "52,1010", "51,1005", "53,1015"))
    assert table.columns["n"].tolist() == [50, 52, 51, 53]
    assert table.columns["boot"].tolist() == [0] * 4


@pytest.mark.parametrize("many", [False, True])
def test_lost_lines_are_counted(many: bool) -> None:
    numbers = [0, 1, 2, 5, 6, 9, 3, 4] + ([5 + i for i in range(40)] if many else [])
    table = decode(lines("#wrap,n=10", "#n,t/ms", *(f"{n % 10},{100 * i}" for i, n in enumerate(numbers))))
    # 3 and 4, 7 and 8, then 0 to 2 of the next turn.
    assert table.lost == 2 + 2 + 3
    assert table.columns["n"].tolist()[:8] == [0, 1, 2, 5, 6, 9, 13, 14]


def test_a_restart_loses_no_lines() -> None:
    assert decode(lines("#n,t/ms", "5,50", "900,9000", "0,0", "1,10")).lost == 894


def test_many_restarts_are_said_a_few_times_only() -> None:
    _, boot, remarks = times(*[500, 0] * 100)
    assert boot[-1] == 100
    assert len(remarks) == 20


@given(
    st.lists(st.tuples(st.integers(-50_000, 300_000), st.integers(-3, 4)), min_size=1, max_size=60),
    st.sampled_from([None, 2048, 500_000, 2_000_000]),
    st.sampled_from([None, 10, 30]),
    st.lists(st.integers(1, 20), min_size=1, max_size=4),
)
@settings(deadline=None)
def test_in_blocks_as_one_by_one(
    steps: list[tuple[int, int]], t_modulus: int | None, n_modulus: int | None, sizes: list[int]
) -> None:
    t = np.cumsum([max(-40_000, step) for step, _ in steps], dtype=np.int64)
    n = np.maximum(np.cumsum([step for _, step in steps], dtype=np.int64), -1)
    t = t % t_modulus if t_modulus else t
    n = np.where(n >= 0, n % n_modulus, n) if n_modulus else n
    said: tuple[list[str], list[str]] = ([], [])
    single = Counters(lambda _, text: said[0].append(text))
    blocks = Counters(lambda _, text: said[1].append(text))
    for counters in (single, blocks):
        counters.t.modulus, counters.n.modulus = t_modulus, n_modulus
    expected = []
    for row, (one_t, one_n) in enumerate(zip(t.tolist(), n.tolist(), strict=True)):
        expected.append((*single.step(one_t, one_n, row), single.boot))
    got: list[tuple[int, int, int]] = []
    place, turn = 0, 0
    while place < len(t):
        end = min(place + sizes[turn % len(sizes)], len(t))
        times_us, numbers, boots = blocks.run(t[place:end], n[place:end], place)
        assert numbers is not None
        got.extend(zip(times_us.tolist(), numbers.tolist(), boots.tolist(), strict=True))
        place, turn = end, turn + 1
    assert got == expected
    assert (single.boot, single.lost, single.slips) == (blocks.boot, blocks.lost, blocks.slips)
    assert said[0] == said[1]


@pytest.mark.parametrize("seed", range(12))
def test_in_long_blocks_as_one_by_one(seed: int) -> None:
    """Whatever interrupts a block of hundreds of lines, what follows is counted as one line at a time would be."""
    chance = np.random.default_rng(seed)
    rows, t_modulus, n_modulus = 600, [None, 1 << 20][seed % 2], [None, 256][seed // 2 % 2]
    t = np.cumsum(np.where(chance.random(rows) < 0.01, chance.integers(-150_000, 900_000, rows), 10_000))
    n = np.cumsum(np.where(chance.random(rows) < 0.02, chance.integers(-5, 40, rows), 1))
    for fall in chance.integers(100, rows, 3):
        t[fall:] -= t[fall] - 1_000
        n[fall:] -= n[fall] - 1
    t, n = np.maximum(t, 0), np.where(chance.random(rows) < 0.005, -1, np.maximum(n, 0))
    t, n = t % t_modulus if t_modulus else t, np.where(n >= 0, n % n_modulus, n) if n_modulus else n
    single, blocks = Counters(lambda *_: None), Counters(lambda *_: None)
    for counters in (single, blocks):
        counters.t.modulus, counters.n.modulus = t_modulus, n_modulus
    expected = [(*single.step(*line, row), single.boot) for row, line in enumerate(zip(t.tolist(), n.tolist(), strict=True))]
    times_us, numbers, boots = blocks.run(t, n, 0)
    assert numbers is not None
    assert list(zip(times_us.tolist(), numbers.tolist(), boots.tolist(), strict=True)) == expected
    assert (single.boot, single.lost, single.slips) == (blocks.boot, blocks.lost, blocks.slips)


def test_in_a_long_block_a_small_step_back_across_a_wrap() -> None:
    t = np.arange(-200_000, 90_000, 1_000)
    t = np.concatenate([t, [-10_000], t[-1:] + np.arange(1_000, 50_000, 1_000)]) % (1 << 20)
    single, blocks = Counters(lambda *_: None), Counters(lambda *_: None)
    single.t.modulus = blocks.t.modulus = 1 << 20
    expected = [single.step(one, -1, row)[0] for row, one in enumerate(t.tolist())]
    assert blocks.run(t, None, 0)[0].tolist() == expected
    assert (single.boot, single.slips) == (blocks.boot, blocks.slips) == (0, 1)
