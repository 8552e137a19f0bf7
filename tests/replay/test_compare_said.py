"""How a comparison is called, and what it says or leaves out: settings in names, one run, reasons nobody is shown."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from replay.runs import GOOD, drive, record
from telemetry import cli
from telemetry.reading.load import load_strategy
from telemetry.replay.compare import ComparisonRequest, compare
from telemetry.replay.sources import find_recordings
from telemetry.report.comparison_text import comparison_lines

SHORT = (GOOD[0], (20.0, 20.5, "leaf"), GOOD[2])


@pytest.fixture
def runs(tmp_path: Path) -> Path:
    folder = tmp_path / "runs"
    folder.mkdir()
    record(folder / "good.h5", drive(*GOOD))
    record(folder / "short.h5", drive(*SHORT), simulated=True)
    return folder


def test_settings_of_the_command_line_stand_in_the_name(runs: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = [str(runs), "--strategy", "hold", "--strategy", "checklist:hold.samples=4", "--strategy", "first-come"]
    assert cli.main(["compare", *words, "--set", "hold.samples=5", "--json", "-"]) == 0
    names = [one["strategy"] for one in json.loads(capsys.readouterr().out)["strategies"]]
    assert sorted(names) == ["checklist:hold.samples=4,hold.samples=5", "first-come", "hold:hold.samples=5"]
    assert load_strategy("checklist:hold.samples=4,hold.samples=5").uses == load_strategy("checklist:hold.samples=5").uses
    assert cli.main(["compare", *words, "--set", "hold.samples=5"]) == 0
    assert "hold:hold.samples=5  " in capsys.readouterr().out


def test_one_run_is_no_ground_for_statistics(runs: Path, capsys: pytest.CaptureFixture[str]) -> None:
    named = [word for name in ("hold", "windows", "checklist") for word in ("--strategy", name)]
    assert cli.main(["compare", str(runs / "good.h5"), *named]) == 0
    said = capsys.readouterr().out
    assert said.count("One run decides nothing") == 1
    assert not any(word in said for word in ("Holm", "Cochran", "p = ", "chance", "few runs"))


def test_reasons_that_no_page_shows_are_not_worked_out(
    runs: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The page of many runs is the same, whether all reasons are known or only those that it shows."""
    first = sorted(runs.glob("*.h5"))
    for k in range(2 * len(first)):
        (tmp_path / f"r{k}.h5").write_bytes(first[k % len(first)].read_bytes())
    paths = find_recordings([str(tmp_path)])
    monkeypatch.setattr("telemetry.replay.compare.VERDICTS", 2)
    for names in (("first-come", "hold", "run-on"), ("first-come", "hold"), ("evidence", "first-come")):
        every = compare(paths, ComparisonRequest(names), cores=1)
        some = compare(paths, ComparisonRequest(names, every_reason=False), cores=1)
        assert comparison_lines(every) == comparison_lines(some)
        assert all(one.findings for one in every.results if one.was_wrong)


def test_all_reasons_are_worked_out_where_all_are_asked_for(runs: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("telemetry.replay.compare.VERDICTS", 0)
    monkeypatch.setattr("telemetry.replay.compare.SHOWN", 0)
    paths = find_recordings([str(runs)])
    for every in (True, False):
        found = compare(paths, ComparisonRequest(("hold",), every_reason=every), cores=1)
        assert [bool(one.findings) for one in found.results if one.was_wrong] == [every]


def test_of_two_strategies_the_reasons_of_both_are_shown(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each fails on a run of its own, and none of these gets a verdict, for which all reasons would be worked out."""
    record(tmp_path / "a.h5", drive(*SHORT))
    record(tmp_path / "b.h5", drive(*GOOD[:2], (25.0, 25.1, "pink"), GOOD[2]))
    monkeypatch.setattr("telemetry.replay.compare.VERDICTS", 0)
    paths = find_recordings([str(tmp_path)])
    names = ("first-come", "hold")
    every, some = (compare(paths, ComparisonRequest(names, every_reason=each), cores=1) for each in (True, False))
    assert [[one.was_wrong for one in every.results if one.strategy == name] for name in names] == [
        [False, True], [True, False],
    ]  # fmt: skip
    assert comparison_lines(every) == comparison_lines(some)
    assert all(one.findings for one in some.results if one.was_wrong)


def test_a_question_about_the_run_comes_before_its_verdict(runs: Path, capsys: pytest.CaptureFixture[str]) -> None:
    record(runs / "far.h5", drive(*((10 * low, 10 * high, name) for low, high, name in GOOD), to_cm=360, step_cm=5))
    assert cli.main(["compare", str(runs)]) == 0
    page = " ".join(capsys.readouterr().out.split())
    assert "Of far.h5 something is asked under 'To know': answer that first, it may be the cause." in page
    assert "is the unit of dist another (mm, cm, m), or that of at_cm?" in page
    (runs / "far.h5").unlink()
    assert cli.main(["compare", str(runs)]) == 0
    assert "answer that first" not in capsys.readouterr().out
