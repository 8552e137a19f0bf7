"""What makes evidence robust, one cure a test: on runs with the trouble it reads more than it does with the cure taken out.

Simulated runs, and spliced real readings. Misread runs are counted and compared, as how many there are depends on the draw.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import chain
from typing import Any

import pytest
from evidence.runs import Reader

from telemetry.reading.evidence import stages, table
from telemetry.reading.portable.evidence import by_distance
from telemetry.reading.portable.evidence import misfit as fits
from telemetry.reading.portable.evidence.field import Field
from telemetry.reading.portable.evidence.marker import Marker
from telemetry.reading.switch import Switch

from .cases import Case, cases, there

SETUPS = range(60, 68)


class OnObjects(Reader):
    """Reads by the classes themselves, so that what a test has changed in them counts."""

    def read(self, case: Case) -> Any:  # type: ignore[override]
        self._plans.clear()
        plan = self.plan(case)  # type: ignore[arg-type]
        self._plans = {key: (replace(plan, switch=Switch(after=None)), kept) for key, (_, kept) in self._plans.items()}
        return super().read(case)  # type: ignore[arg-type]


def misread(
    *kinds: tuple[str, str], stream: str = "raw", spec: str = "evidence", setups: range = SETUPS, runs: int = 2
) -> int:
    """How many runs of these generators and levels are misread."""
    found = chain.from_iterable(cases(g, level, setups=setups, runs=runs, stream=stream) for g, level in kinds)
    return sum(OnObjects(spec).read(case)[0] != case.truth for case in found)


def _brightest_first(self: Any, at: int, kept: int) -> None:
    """In place of Marker.balance: cells weigh by the square of their departure, as in a mean that bright samples rule."""
    sizes = [sum(self.shown[at + j * 6 + q] ** 2 for q in range(3)) for j in range(kept)]
    for j in range(kept):
        self.shown[at + j * 6 + 5] = 384 * sizes[j] // max(sum(sizes), 1)


def _averaged(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Marker, "balance", _brightest_first)
    monkeypatch.setattr(fits, "CAP", 4000)
    monkeypatch.setattr(stages, "SHINES", 1 << 20)


def test_a_torn_patch_is_outvoted(monkeypatch: pytest.MonkeyPatch) -> None:
    torn, setups = ("spectral", "torn"), range(60, 84)
    with_it = misread(torn, setups=setups)
    monkeypatch.setattr(fits, "CAP", 4000)
    assert misread(torn, setups=setups) >= 2 * with_it + 1


@pytest.mark.parametrize("level", ["gloss", "edges", "line"])
def test_a_shining_spot_edge_or_printed_line_does_not_win_by_its_brightness(
    level: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    with_it = misread(("spectral", level), setups=range(4, 20))
    _averaged(monkeypatch)
    assert misread(("spectral", level), setups=range(4, 20)) >= 2 * with_it + 1


@pytest.mark.parametrize("stream", ["raw", "codes"])
def test_markers_that_touch_end_where_the_next_begins(stream: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """They were once taken to show around their edges, as others do, and slid along the row until two had one marker."""

    def alone(*given: Any) -> table.PlaceTable:
        made = table.place_table(*given)
        low = [at - half - table.AROUND for at, half in zip(made.at, made.half, strict=True)]
        high = [at + half + table.AROUND for at, half in zip(made.at, made.half, strict=True)]
        return replace(made, low=low, high=high, less=[0] * len(made.less))

    row = range(1101, 1113, 3)  # set-ups whose markers stand side by side
    with_it = misread(("in turn", "bench"), setups=row, stream=stream)
    monkeypatch.setattr(stages, "place_table", alone)
    monkeypatch.setattr(by_distance, "CLOSE", -1000)
    assert misread(("in turn", "bench"), setups=row, stream=stream) >= 2 * with_it + 2


def test_the_fields_own_code_is_none(monkeypatch: pytest.MonkeyPatch) -> None:
    kinds = (("regulated", "lab"), ("spectral", "lab"))
    with_it = misread(*kinds, stream="codes")
    monkeypatch.setattr(Field, "find_code", lambda self, first: None)
    assert misread(*kinds, stream="codes") >= 2 * with_it + 1


def test_two_lightnesses_of_one_hue_are_told_by_the_light_of_the_whole_run() -> None:
    twins = ("spectral", "twins")
    assert misread(twins, spec="evidence:decide.loose_pct=50") >= 2 * misread(twins) + 1


@pytest.mark.skipif(not there("spliced"), reason="the real readings are not here")
def test_a_gain_that_all_channels_share_is_part_of_the_noise(monkeypatch: pytest.MonkeyPatch) -> None:
    kinds = (("spliced", "steady field"), ("spliced", "fast"))
    with_it = misread(*kinds)
    monkeypatch.setattr(table, "_spreads", lambda palette, scale, use: (table.LEAST_COMMON, 0))
    assert misread(*kinds) >= 2 * with_it + 1
