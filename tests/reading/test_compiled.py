"""The written-out and compiled loops of whole plans: several sensors, other settings, and what cannot be translated."""

from __future__ import annotations

import builtins
import inspect
import linecache
import sys
import types
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from telemetry.calibrate.files import table_from_text
from telemetry.errors import MissingPartError, StrategyError
from telemetry.palette_default import default_palette
from telemetry.reading import compiled
from telemetry.reading.chain import Chain
from telemetry.reading.compiled import Compiled
from telemetry.reading.load import load_strategy
from telemetry.reading.plan import Plan, make_plan
from telemetry.reading.scope import Scope
from telemetry.reading.switch import Switch
from telemetry.reading.translate import Inliner
from telemetry.sample import QuantizedColumns, whole_columns
from telemetry.sources.synthetic.run import simulate

from . import first_file, second_file
from .given import Given, Tell
from .runtimes import micropython, on_compiler, on_loop, on_micropython, on_objects


def _plan(spec: str, **options: Any) -> tuple[Plan, list[QuantizedColumns], dict[int, int], int]:
    run = simulate("venue", 3, **options)
    table = table_from_text(run.data, "run")
    plan = make_plan(load_strategy(spec), run.course, default_palette(), table.columns, table.colours)
    wholes = [
        whole_columns(table.columns, table.rows, sensor.name, table.colours, plan.names) for sensor in run.course.sensors
    ]
    return plan, wholes, plan.note_rows(table.notes), table.rows


def _stepped(plan: Plan, wholes: list[QuantizedColumns], notes: dict[int, int], rows: int) -> list[tuple[int, int, int]]:
    plan.reset()
    events = []
    for start in range(0, rows, 50):  # fewer rows at once than the written-out loop is thought of for
        events += plan.run(wholes, notes, start, min(start + 50, rows))
    return events + [(rows, sensor, event) for sensor, event in plan.finish()]


@pytest.mark.timeout(240)
@pytest.mark.parametrize("options", [{"two_sensors": True}, {"reversing": True}, {"raw_only": True}], ids=str)
def test_a_whole_plan_compiled_reads_the_same(options: dict[str, bool]) -> None:
    plan, wholes, notes, rows = _plan("map-and-list", **options)
    expected = _stepped(plan, wholes, notes, rows)
    assert len(expected) >= 5
    assert Compiled(plan).run(wholes, notes, rows) == expected


def test_two_sensors_written_out_read_the_same() -> None:
    plan, wholes, notes, rows = _plan("checklist", two_sensors=True)
    expected = _stepped(plan, wholes, notes, rows)
    plan.reset()
    loop = Switch(after=0, least=0).loop(plan.chains, rows)
    assert loop is not None
    events = loop.run(plan.chains, wholes, notes, 0, 100) + loop.run(plan.chains, wholes, notes, 100, rows)
    assert events + [(rows, sensor, event) for sensor, event in plan.finish()] == expected


@pytest.mark.timeout(240)
def test_other_settings_need_no_compiling() -> None:
    plan, wholes, notes, rows = _plan("hold")
    sweep = Compiled(plan)
    found = set()
    for samples in (1, 2, 3, 9):
        other, *_ = _plan(f"hold:hold.samples={samples}")
        readings = sweep.run(wholes, notes, rows, sweep.starting(other))
        assert readings == _stepped(other, wholes, notes, rows)
        found.add(tuple(readings))
    assert len(found) > 1


def test_without_numba_it_is_said_how_to_get_it(monkeypatch: pytest.MonkeyPatch) -> None:
    plan, *_ = _plan("hold")
    genuine = builtins.__import__

    def absent(name: str, *rest: Any, **more: Any) -> Any:
        if name == "numba":
            raise ImportError(name)
        return genuine(name, *rest, **more)

    monkeypatch.setattr(builtins, "__import__", absent)
    monkeypatch.setattr(compiled, "_functions", {})
    with pytest.raises(MissingPartError, match="pip install"):
        Compiled(plan)


def test_where_nothing_can_be_kept_it_compiles_all_the_same(monkeypatch: pytest.MonkeyPatch, tmp_path: Any) -> None:
    blocked = tmp_path / "file"
    blocked.write_text("no folder")
    monkeypatch.setenv("SIDELONG_CACHE", str(blocked))
    assert compiled._kept_file("def run(): pass") is None


def _stage(body: str) -> object:
    """A stage whose step has this body, with a source that can be found."""
    indented = "\n".join("        " + line for line in body.split("\n"))
    text = f"class Odd:\n    def step(self, label, m):\n{indented}\n\n    def helper(self, value):\n        self.x = value\n"
    name = f"<odd {hash(body)}>"
    linecache.cache[name] = (len(text), None, text.splitlines(keepends=True), name)
    room: dict[str, Any] = {"__name__": "odd"}
    exec(compile(text, name, "exec"), room)
    made = room["Odd"]()
    made.table, made.x = [0], 0
    return made


@pytest.mark.parametrize(
    ("body", "rule"),
    [
        ("return label + 0.5", "0.5 is not a whole number"),
        ("return 'rust'", "not a whole number"),
        ("if label:\n    return 1", "on every way through it"),
        ("for x in self.table:\n    label = x\nreturn label", "a loop runs over range"),
        ("try:\n    label = 1\nfinally:\n    pass\nreturn 1", "cannot use 'try'"),
        ("x = [1, 2]\nreturn 1", "cannot use 'list'"),
        ("return self.helper(1)", "does not return a number"),
        ("x = y = 1\nreturn x", "one assignment sets one thing"),
        ("x, y = 1, 2\nreturn x", "cannot use 'tuple'"),
        ("self.table = self.table\nreturn 1", "never exchanged"),
        ("return print(1)", "no function 'print'"),
        ("return 1 if label or self.helper(1) else 0", "where it may not be reached"),
        ("label\nreturn 1", "stands alone"),
        ("return somewhere", "neither a variable nor a whole number"),
        ("return label.real.imag", "only self, its parts and m have attributes"),
    ],
)
def test_a_breach_of_the_rules_is_named(body: str, rule: str, monkeypatch: pytest.MonkeyPatch) -> None:
    made = _stage(body)
    monkeypatch.setitem(sys.modules, "odd", types.ModuleType("odd"))
    code = type(made).step.__code__  # type: ignore[attr-defined]
    monkeypatch.setattr(inspect, "getsource", lambda cls: "".join(linecache.getlines(code.co_filename)))
    with pytest.raises(StrategyError) as caught:
        Inliner(made, "m0_", {id(made): Scope(made, "z0_", {"table": "table0"})}).step()
    assert rule in str(caught.value)
    assert "line" in str(caught.value)


def _own_chain() -> Chain:
    counter = second_file.Counter(30)  # type: ignore[no-untyped-call]
    second = second_file.Second(second_file.Pair(counter), counter)  # type: ignore[no-untyped-call]
    labels = [k % 7 for k in range(60)]
    given = Given(labels, [0] * 60, [0] * 60, [-1] * 60, [0] * 60)  # type: ignore[no-untyped-call]
    stages = [given, first_file.First(), second, Tell()]  # type: ignore[no-untyped-call]
    return Chain(0, stages, ["given", "first", "second", "tell"])


@pytest.mark.timeout(240)
def test_parts_and_helpers_of_one_name_mean_the_same_on_every_runtime(tmp_path: Path) -> None:
    rows = [(k, *(-(1 << 30),) * 8, 0) for k in range(60)]
    plain = on_objects(_own_chain(), rows)
    assert len({label for _, label in plain}) > 4
    assert on_loop(_own_chain(), rows) == plain
    assert on_compiler(_own_chain(), rows) == [entry for entry in plain if entry[0] < 60]
    if micropython():
        assert on_micropython(_own_chain(), rows, tmp_path) == plain


def test_when_the_loop_is_written_out_is_decided_by_the_switch_it_is_given() -> None:
    plan, wholes, notes, rows = _plan("hold")
    switch = Switch(after=2 * rows)
    assert [switch.loop(plan.chains, rows) is None for _ in range(3)] == [True, False, False]
    assert switch.loop(plan.chains, 20) is None
    assert Switch(after=None).loop(plan.chains, 1 << 20) is None
    used = []

    class Watched(Switch):
        def loop(self, chains: Any, rows: int, ahead: int = 0) -> Any:
            used.append(rows)
            return super().loop(chains, rows, ahead)

    replace(plan, switch=Watched(after=0)).fresh().run(wholes, notes, 0, rows)
    assert used == [rows]


@pytest.mark.skipif(sys.platform == "win32", reason="owners and rights of POSIX")
def test_machine_code_is_kept_only_in_a_folder_that_is_ours_alone(tmp_path, monkeypatch):
    monkeypatch.setenv("SIDELONG_CACHE", str(tmp_path / "cache"))
    assert compiled._kept_file("a = 1\n") is not None
    assert (tmp_path / "cache").stat().st_mode & 0o077 == 0
    (tmp_path / "cache" / "compiled").chmod(0o777)
    assert compiled._kept_file("a = 1\n") is None
    (tmp_path / "cache" / "compiled").chmod(0o700)
    (tmp_path / "cache").chmod(0o777)
    assert compiled._kept_file("a = 1\n") is None
    monkeypatch.setenv("SIDELONG_CACHE", str(tmp_path / "link"))
    (tmp_path / "link").symlink_to(tmp_path / "cache")
    assert compiled._kept_file("a = 1\n") is None
