"""Machine code, the written-out loop and the objects judge alike: readings, causes and all."""

from __future__ import annotations

from functools import partial

import pytest

from telemetry.calibrate.files import table_from_text
from telemetry.reading.compiled import CompiledLoop
from telemetry.reading.load import load_strategy
from telemetry.reading.plan import make_plan
from telemetry.reading.switch import Switch
from telemetry.replay import header
from telemetry.replay.case import Ask, Case
from telemetry.replay.judge import judge
from telemetry.replay.scoring.results import Result
from telemetry.sources.synthetic.run import simulate

STRATEGIES = ("hold", "windows", "map-and-list")
KINDS = ({}, {"two_sensors": True}, {"reversing": True})


def _cases() -> list[Case]:
    cases = []
    for seed, options in enumerate(KINDS * 2):
        run = simulate("extreme", seed, **options)
        table = table_from_text(run.data, "run")
        # The robot restarts in mid-run: what comes before counts for nothing.
        if seed == 3:
            table.columns["boot"] = (table.columns["t_us"] > table.columns["t_us"][40]).astype("int64")
        cases.append(Case(f"run {seed}", table, run.course, run.truth))
    return cases


def _judged(switch: Switch, monkeypatch: pytest.MonkeyPatch) -> list[list[Result]]:
    monkeypatch.setattr(header, "make_plan", partial(make_plan, switch=switch))
    strategies = {name: load_strategy(name) for name in STRATEGIES}
    return [judge(case, strategies, Ask(why=True))[0] for case in _cases()]


@pytest.mark.timeout(300)
def test_machine_code_gives_what_the_objects_give_with_every_cause(monkeypatch: pytest.MonkeyPatch) -> None:
    plain = _judged(Switch(after=None), monkeypatch)
    assert sum(result.was_wrong and bool(result.findings) for one in plain for result in one) >= 5
    assert _judged(Switch(after=0, least=0, made_at=1 << 40), monkeypatch) == plain
    fast = Switch(least=0, made_at=0, make_at=0)
    assert _judged(fast, monkeypatch) == plain
    assert all(loop is not None for loop in fast._compiled.values())
    assert len(fast._compiled) >= len(STRATEGIES)


def test_machine_code_is_taken_only_where_it_pays() -> None:
    case = _cases()[0]
    chains = make_plan(load_strategy("hold"), case.course, header.palette_for(case.table, case.course, None),
                       case.table.columns, case.table.colours).chains  # fmt: skip
    few = Switch(made_at=1000, make_at=5000)
    assert not isinstance(few.loop(chains, 6000), CompiledLoop), "nothing is expected, as in the window"
    few.expect(1000)
    assert isinstance(few.loop(chains, 100), CompiledLoop)
