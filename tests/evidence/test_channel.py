"""What a comparison says about the channel that the stage 'auto' took."""

from __future__ import annotations

from dataclasses import replace

import pytest

from telemetry.palette import Palette
from telemetry.reading.load import load_strategy
from telemetry.reading.plan import make_plan
from telemetry.replay.case import Ask
from telemetry.replay.case import Case as Judged
from telemetry.replay.judge import judge
from telemetry.wording import sentence, sentences

from .runs import Case, built_in_palette, built_in_runs


def remarks(case: Case, palette: Palette | None, strategy: str = "windows") -> tuple[str, ...]:
    one = Judged("a run", case.table, case.course, case.truth, palette, simulated=True)
    (result,), _ = judge(one, {strategy: load_strategy(strategy)}, Ask())
    return tuple(remark for remark in sentences(result.run.remarks) if "'auto'" in remark)


def spoilt(false: float) -> Palette:
    """Of sky, this share of the codes said 'leaf'."""
    palette = built_in_palette()
    codes = {one.name: {one.name: 1.0} for one in palette.colours} | {"sky": {"sky": 1.0 - false, "leaf": false}}
    colours = [replace(one, codes=codes[one.name]) for one in palette.colours]
    return replace(palette, colours=tuple(colours))


@pytest.fixture(scope="module")
def run() -> Case:
    return next(iter(built_in_runs(3, 1, ("practice",))))


@pytest.mark.parametrize(
    ("false", "taken", "stage"),
    [(0.05, "the sensor's codes, not by the palette", "code"), (0.6, "raw channels and the palette", "nearest")],
)  # fmt: skip
def test_the_channel_that_was_taken_is_said_with_its_reason(run: Case, false: float, taken: str, stage: str) -> None:
    palette = spoilt(false)
    (said,) = remarks(run, palette)
    assert said.startswith(f"strategies that name a colour at every sample (stage 'auto') went by {taken}: ")
    assert f" {100 * false:.1f} % of the samples by code" in said
    plan = make_plan(load_strategy("windows"), run.course, palette, tuple(run.table.columns), run.table.colours)
    assert stage in [name for name, _, _ in plan.recipes[0]]
    assert plan.chose is not None
    assert plan.fresh().chose == plan.chose
    assert sentence(plan.chose) == said


def test_nothing_is_said_where_nothing_hangs_on_the_choice(run: Case) -> None:
    assert not remarks(run, spoilt(0.0)), "by code no colour is taken for another"
    assert remarks(run, spoilt(0.02))


def test_nothing_is_said_without_a_choice_or_a_measured_palette(run: Case) -> None:
    palette = spoilt(0.4)
    assert not remarks(run.only("raw"), palette)
    assert not remarks(run.only("codes"), palette)
    assert not remarks(run, None)
    assert not remarks(run, palette, "evidence")  # uses both
    untold = replace(palette, colours=tuple(replace(one, codes={}) for one in palette.colours))
    assert remarks(run, untold) == (
        "strategies that name a colour at every sample (stage 'auto') went by the sensor's codes, not by the palette, which "
        "does not know all colours both by code and by raw channels",
    )
