"""The recipe sheet: its steps, executed line by line, read what the core reads."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from telemetry.course import Course, parse_course
from telemetry.errors import EXIT_MISSING, EXIT_STORAGE, StrategyError
from telemetry.reading.chain import decode
from telemetry.reading.plan import Plan
from telemetry.reading.portable.moment import Moment
from telemetry.reading.portable.track import Track
from telemetry.reading.strategies import STRATEGIES
from telemetry.recording.load import load
from telemetry.replay.header import palette_for, plan_for
from telemetry.robot.order import order_for_columns
from telemetry.robot.pdf import write_pdf
from telemetry.robot.recipe.nearest import nearest
from telemetry.robot.recipe.page import recipe_html
from telemetry.robot.recipe.sheet import sheet as handed_out
from telemetry.robot.recipe.write import recipe_of, why_not
from telemetry.sample import MISSING, whole_columns
from telemetry.sources.synthetic.run import built_in_course

from .random_streams import rows_of
from .reading import RECORDINGS, events_in
from .recipe_interpreter import Interpreter

COLUMNS = "t/ms,colour,heading/deg,dist/cm"
SAID = ["first-come", "hold", "run-on", "smooth", "checklist", "windows", "map-and-list", "always-answer", "stand-and-look"]
NOT_SAID = {"stop-at-colour": "stop-at", "enough": "weigh", "evidence": "gather"}
RUNS = ["venue-03", "slipping-02", "extreme-04", "venue-reversing-21", "practice-stopping-24"]
RANDOM = 20
SMALL = parse_course("""[course]
name = "made up"
[[leg]]
name = "lane"
[[leg]]
name = "back"
starts = "reverse"
[[slot]]
name = "a"
leg = "lane"
at_cm = 4
group = "g"
[[slot]]
name = "b"
leg = "lane"
at_cm = 9
colours = ["rust", "sky"]
[[slot]]
name = "c"
leg = "back"
at_cm = 3
group = "g"
empty_ok = true
[[slot]]
name = "d"
leg = "back"
at_cm = 7
group = "h"
[[slot]]
name = "e"
leg = "back"
unseen = true
group = "h"
[[slot]]
name = "f"
leg = "back"
at_cm = 12
group = "h"
[[decoy]]
name = "hose"
leg = "lane"
at_cm = 6.5
[[group]]
name = "g"
distinct = ["rust", "leaf", "sky"]
[[group]]
name = "h"
counts = {rust = 2, pink = 1}
""")

Read = list[tuple[int, int, str]]
"""(row, slot, colour), those of one row in the order of the slots."""


def by_core(plan: Plan, stream: Sequence[Sequence[Sequence[int]]]) -> Read:
    found = []
    for row, event in events_in(plan, stream):
        one = decode(event)
        if one.slot is not None:
            found.append((row, one.slot, plan.names[one.colour] if one.colour else "empty"))
    return sorted(found)


def by_recipe(plan: Plan, stream: Sequence[Sequence[Sequence[int]]]) -> Read:
    run = Interpreter(recipe_of(plan))
    layout = plan.layouts[0]
    track: Any = Track(*layout.legs(), round(layout.course.sensors[0].ahead_cm * 100), [-1], [0])  # type: ignore[no-untyped-call]
    m: Any = Moment()  # type: ignore[no-untyped-call]
    found: Read = []
    begun, turns = stream[0][0][0], 0
    before = begun
    for row, sample in enumerate(stream):
        m.t, m.d, m.v, m.h, _, _, _, _, code, m.note = sample[0]
        turns += m.t < before
        before = m.t
        track.step(-1, m)
        shown = run.sample(
            SEEN="nothing" if code < 0 else plan.names[code], LEG=m.leg + 1,
            PLACE=_mm(m.pos), DISTANCE=_mm(m.d), SPEED=_mm(m.v), TIME=m.t - begun + (turns << 30),
        )  # fmt: skip
        found += [(row, slot - 1, colour) for slot, colour in shown]
    found += [(len(stream), slot - 1, colour) for slot, colour in run.finish()]
    return sorted(found)


def _mm(tenths: int) -> Any:
    return "unknown" if tenths == MISSING else Fraction(tenths, 10)


@pytest.mark.parametrize("name", SAID)
def test_the_steps_read_what_the_core_reads_on_recorded_runs(name: str) -> None:
    some = 0
    for run in RUNS:
        recording = load(RECORDINGS / f"{run}.h5")
        course, table = recording.course, recording.table
        assert course is not None
        plan = plan_for(STRATEGIES[name], course, palette_for(table, course, None, recording.meta.palette), table)
        if "nearest" in plan.chains[0].names:
            continue
        made = whole_columns(table.columns, table.rows, course.sensors[0].name, table.colours, plan.names)
        notes = plan.note_rows(table.notes)
        columns = (made.t, made.d, made.v, made.h, made.refl, made.red, made.green, made.blue, made.code)
        samples = zip(*(column.tolist() for column in columns), strict=True)
        stream = [[(*values, notes.get(row, 0))] for row, values in enumerate(samples)]
        wanted = by_core(plan, stream)
        assert by_recipe(plan, stream) == wanted, run
        some += len(wanted)
    assert some > (0 if name == "stand-and-look" else 20)


@pytest.mark.parametrize("course", [None, SMALL], ids=["orchard", "small"])
@pytest.mark.parametrize("name", SAID)
def test_the_steps_read_what_the_core_reads_on_random_runs(name: str, course: Course | None) -> None:
    on = course or load(RECORDINGS / "practice-01.h5").course
    assert on is not None
    plan = order_for_columns(STRATEGIES[name], on, COLUMNS).plan
    some = 0
    for seed in range(RANDOM):
        stream = rows_of(plan, seed)
        wanted = by_core(plan, stream)
        assert by_recipe(plan, stream) == wanted, seed
        some += len(wanted)
    assert some > RANDOM // 2


def test_every_strategy_is_said_or_it_is_said_why_not() -> None:
    course = load(RECORDINGS / "practice-01.h5").course
    assert course is not None
    for name, strategy in STRATEGIES.items():
        plan = order_for_columns(strategy, course, COLUMNS).plan
        if name in SAID:
            assert why_not(plan) == ""
        else:
            assert NOT_SAID[name] in why_not(plan)
            with pytest.raises(StrategyError, match="cannot be built from blocks"):
                recipe_of(plan)


def sheet(folder: Path, name: str, *words: str) -> subprocess.CompletedProcess[str]:
    """``sidelong recipe`` in a process of its own: Qt allows one application in a process, and that is the window's."""
    command = [sys.executable, "-m", "telemetry.cli", "recipe", *words, "-o", str(folder / name)]
    return subprocess.run(command, capture_output=True, text=True, timeout=100, check=False)


def test_the_sheet_is_a_page_with_all_steps_and_as_pdf(tmp_path: Path) -> None:
    like = ["--like", str(RECORDINGS / "practice-01.h5")]
    done = sheet(tmp_path, "sheet.html", "map-and-list", *like)
    assert done.returncode == 0, done.stderr
    page = (tmp_path / "sheet.html").read_text(encoding="utf-8")
    for title in ("Is the sensor at a slot?", "Ignore the places where decoys are", "Block TAKE", "Dry run", "<svg"):
        assert title in page
    done = sheet(tmp_path, "sheet.html", "map-and-list", *like)
    assert done.returncode == EXIT_STORAGE
    assert "--force" in done.stderr
    done = sheet(tmp_path, "sheet.pdf", "map-and-list", *like)
    if done.returncode == EXIT_MISSING:
        assert "needs Qt" in done.stderr
    else:
        assert done.returncode == 0, done.stderr
        data = (tmp_path / "sheet.pdf").read_bytes()
        assert data.startswith(b"%PDF")
        assert data.count(b"/Type /Page\n") in {0, 1, 2}


def test_what_cannot_be_said_is_replaced_and_the_cost_is_said(tmp_path: Path) -> None:
    run = str(RECORDINGS / "practice-01.h5")
    done = sheet(tmp_path, "sheet.html", "evidence", "--like", run, "--cost-on", run)
    assert done.returncode == 0, done.stderr
    assert "'evidence' cannot be built from blocks: its stage 'gather' needs more than blocks can do." in done.stdout
    assert "of 1 recorded runs 'evidence' reads 1 right" in done.stdout


def test_where_raw_is_the_better_the_sheet_goes_by_the_sensors_own_colours(monkeypatch: pytest.MonkeyPatch) -> None:
    """A measured palette may make 'auto' read raw channels, which blocks cannot say; the robot's own colours are there."""
    monkeypatch.setattr("telemetry.reading.plan.told_apart", lambda *_: SimpleNamespace(raw_is_better=True))
    columns = "t/ms,colour,red,green,blue,dist/cm"
    order = order_for_columns(STRATEGIES["checklist"], built_in_course(), columns)
    assert why_not(order.plan)
    found = nearest(order)
    assert found.plan.strategy.name == "checklist"
    assert not why_not(found.plan)
    assert "own colours" in found.cost


def test_names_on_the_sheet_are_escaped() -> None:
    nasty = "<script>alert(1)</script>&\"'"
    course = replace(SMALL, slots=(replace(SMALL.slots[0], name=nasty), *SMALL.slots[1:]), name=nasty)
    plan = order_for_columns(STRATEGIES["checklist"], course, COLUMNS).plan
    page = recipe_html(plan, recipe_of(plan), "00000000", nasty)
    assert "<script" not in page
    assert page.count("&lt;script&gt;") >= 3


def test_the_run_card_says_what_drives_and_what_was_checked(tmp_path: Path) -> None:
    run = str(RECORDINGS / "practice-01.h5")
    command = [sys.executable, "-m", "telemetry.cli", "card", "checklist", "--like", run, "--cost-on", run,
               "-o", str(tmp_path / "card.html")]  # fmt: skip
    done = subprocess.run(command, capture_output=True, text=True, timeout=100, check=False)
    assert done.returncode == 0, done.stderr
    page = (tmp_path / "card.html").read_text(encoding="utf-8")
    mark = done.stdout.split("fingerprint ")[1].strip()
    for words in (mark, "same as on the computer", "1 of 1 read right", "hold", "One-minute re-check", "Cautions", "<svg"):
        assert words in page


def test_every_sheet_fits_two_pages(tmp_path: Path) -> None:
    for name, strategy in STRATEGIES.items():
        order = order_for_columns(strategy, built_in_course(), COLUMNS)
        write_pdf(handed_out(order).page, tmp_path / f"{name}.pdf")
        assert (tmp_path / f"{name}.pdf").read_bytes().count(b"/Type /Page\n") <= 2, name
