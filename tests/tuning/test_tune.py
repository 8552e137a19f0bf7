"""Settings from simulated runs: what is recommended holds on fresh ones, and what cannot be done is said."""

from __future__ import annotations

import json
import sys
from dataclasses import replace
from pathlib import Path
from typing import ClassVar

import jsonschema
import numpy as np
import pytest

from telemetry.errors import MissingPartError, RecordingError, StrategyError, UsageError
from telemetry.reading.load import load_strategy
from telemetry.report.tune_json import tune_json
from telemetry.report.tune_text import tune_lines
from telemetry.tuning import search
from telemetry.tuning.copies import altered_copies
from telemetry.tuning.evaluate import Outcomes, SettingsSweep
from telemetry.tuning.gains import earlier_read, more_margin, more_right
from telemetry.tuning.runs import saved_runs
from telemetry.tuning.space import asked_axes, at
from telemetry.tuning.tries import Tries
from telemetry.tuning.tune import tune
from tuning.made_runs import made

SCHEMA = json.loads((Path(__file__).parents[2] / "telemetry/report/schemas/tune.json").read_text())
RUNS = [made("venue", seed) for seed in range(12)]


@pytest.mark.timeout(240)
def test_what_is_recommended_holds_on_fresh_runs() -> None:
    strategy = load_strategy("windows")
    runs = [made("slipping", seed) for seed in range(12)]
    found = tune(runs, strategy, axes=asked_axes(strategy, ["vote.least=1..8", "windows.margin_mm=0..60:4"]))
    assert found.map is not None
    assert found.recommended.correct == found.map.max()
    assert found.folds == ("day", 3)
    fresh = [made("slipping", seed) for seed in range(100, 130)]
    both = SettingsSweep().outcomes(fresh, [strategy, at(strategy, found.recommended.settings)]).right.sum(axis=0)
    assert both[1] >= both[0] + 3
    for name, (low, high) in found.works.items():
        assert low <= found.recommended.settings[name] <= high
    document = json.loads(tune_json(found))
    jsonschema.validate(document, SCHEMA)
    assert document["tune"]["recommended"]["correct"] == found.recommended.correct
    text = "\n".join(tune_lines(found))
    assert "simulated" in text
    assert f"{found.recommended.correct} of 12 right" in text


class _Lucky(SettingsSweep):
    """A stand-in: runs right as a function of vote.least, so that one lonely setting reads all of them by luck."""

    TOTALS: ClassVar = {1: 14, 2: 24, 3: 13, 4: 12, 5: 20, 6: 23, 7: 23, 8: 23, 9: 23, 10: 23, 11: 17}

    def outcomes(self, runs, strategies, progress=None):
        least = [next(int(use.settings["least"]) for use in one.uses if use.stage == "vote") for one in strategies]
        right = np.array([[k < self.TOTALS[value] for value in least] for k in range(len(runs))])
        return Outcomes(np.ones_like(right), right, np.full(right.shape, 1000), np.zeros(right.shape, np.int64))


def test_an_overfitted_setting_is_not_recommended() -> None:
    strategy = load_strategy("windows:vote.least=6")
    axes = asked_axes(strategy, ["vote.least=1..11"])
    found = tune([RUNS[0]] * 24, strategy, axes=axes, evaluator=_Lucky(compiled=False))
    assert found.map is not None
    assert found.axes[0].values[int(np.argmax(found.map))] == 2, "what the plain score prefers"
    assert found.recommended.settings["vote.least"] == 8
    assert found.works["vote.least"] == (6, 10)
    assert "One spot of the map reads 24 right" in "\n".join(tune_lines(found))


def test_altered_copies_break_ties_towards_room() -> None:
    """Two settings that read every run right: the one whose altered copies fail is not recommended."""
    runs = [made("practice", seed) for seed in range(4)]
    strategy = load_strategy("windows:vote.least=11")
    axes = asked_axes(strategy, ["vote.least=1..11:5"])
    copies = altered_copies(runs)
    assert {name.partition("(")[2] for name in (copy.name for copy in copies)} >= {"speed)", "height)", "slip)"}
    plain, careful = (tune(runs, strategy, axes=axes, copies=some) for some in ((), copies))
    assert plain.now.correct == careful.best.correct == 4
    assert plain.best.settings["vote.least"] > careful.best.settings["vote.least"]
    assert (careful.best.altered or 0) > (careful.now.altered or 0)


class _Alike(_Lucky):
    """One run more, and as much room as anywhere: chance."""

    TOTALS: ClassVar = {1: 9, 2: 9, **dict.fromkeys(range(3, 9), 23), **dict.fromkeys(range(9, 12), 24)}


def test_where_nothing_is_gained_todays_settings_are_kept() -> None:
    strategy = load_strategy("windows:vote.least=7")
    axes = asked_axes(strategy, ["vote.least=1..11"])
    found = tune([RUNS[0]] * 24, strategy, axes=axes, evaluator=_Alike(compiled=False))
    assert found.best.correct == 24 > found.now.correct
    assert found.best.settings != found.now.settings, "else there was nothing to hold back"
    assert not found.gains.any
    assert found.recommended == found.now
    for name, (low, high) in found.works.items():
        assert low <= found.now.settings[name] <= high
    text = " ".join("\n".join(tune_lines(found)).split())
    assert "Keep today's settings: 23 of 24 right, and no other gains more than chance." in text
    assert "Set " not in text
    document = json.loads(tune_json(found))
    jsonschema.validate(document, SCHEMA)
    assert document["tune"]["recommended"]["settings"] == document["tune"]["now"]["settings"]


def test_what_is_chance_and_what_is_gained() -> None:
    few, many = np.arange(12) < 8, np.arange(12) < 11
    assert more_right(few, many)
    assert not more_right(few, np.arange(12) < 9), "one more of twelve is chance"
    assert not more_right(many, few)
    assert more_right(np.zeros(1, bool), np.ones(1, bool)), "one run, and it was wrong"
    of = np.repeat(np.arange(12), 8)
    today = np.tile(np.arange(8) < 5, 12)
    assert more_margin(today, np.tile(np.arange(8) < 6, 12), of)
    one_run = today.copy()
    one_run[:8] = True
    assert not more_margin(today, one_run, of), "all of it from one run"
    times = np.linspace(3000.0, 4000.0, 12)
    assert earlier_read(times, times - 100.0)
    assert not earlier_read(times, times - 5.0)
    assert not earlier_read(times, times + np.where(np.arange(12) % 2, 100.0, -100.0))
    assert not earlier_read(times, np.full(12, np.nan))


def test_one_run_all_right_and_all_wrong() -> None:
    strategy = load_strategy("map-and-list")
    axes = asked_axes(strategy, ["vote.least=1..4"])
    one = tune([made("practice", 1)], strategy, axes=axes, evaluator=SettingsSweep(compiled=False))
    assert one.recommended.left_out is None
    text = "\n".join(tune_lines(one))
    assert "one run alone" in text
    assert "Keep today's settings: 1 of 1 right" in text
    wrong = replace(made("practice", 2), truth=made("practice", 1).truth)
    none = tune([wrong, wrong], strategy, axes=axes, evaluator=SettingsSweep(compiled=False))
    assert none.recommended.correct == 0
    assert "No setting reads a run right" in "\n".join(tune_lines(none))
    jsonschema.validate(json.loads(tune_json(none)), SCHEMA)


def test_what_cannot_be_tuned_is_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    strategy = load_strategy("windows")
    with pytest.raises(StrategyError, match="needs a stop"):
        tune(RUNS[:2], load_strategy("stand-and-look"), evaluator=SettingsSweep(compiled=False))
    with pytest.raises(UsageError, match="no settings"):
        tune(RUNS[:2], replace(strategy, uses=()), evaluator=SettingsSweep(compiled=False))
    for word, says in (
        ("windows.margin_mm=0..999", "not within 0 to 200"), ("windows.margin_mm=5..1", "not within"),
        ("vote.lest=1..2", "vote.least"), ("vote.least=many", "names no values"),
    ):  # fmt: skip
        with pytest.raises(UsageError, match=says):
            asked_axes(strategy, [word])
    with pytest.raises(UsageError, match="twice"):
        asked_axes(strategy, ["vote.least=1..2", "vote.least=3..4"])
    words = ["windows.margin_mm=0..200", "vote.least=1..100", "vote.share_pct=1..100", "eliminate.early"]
    huge = asked_axes(strategy, words)
    monkeypatch.setitem(sys.modules, "optuna", None)
    with pytest.raises(MissingPartError, match=r"4,020,000 settings.*Optuna"):
        search.searched(Tries(SettingsSweep(compiled=False), RUNS[:1], strategy, lambda *_: None), huge, 10)
    empty = tmp_path / "none.txt"
    empty.write_text("")
    with pytest.raises(RecordingError):
        saved_runs([empty])


@pytest.mark.timeout(240)
def test_a_large_space_is_searched() -> None:
    strategy = load_strategy("windows:vote.least=6")
    axes = asked_axes(strategy, ["windows.margin_mm=0..200", "vote.least=1..100", "vote.share_pct=1..100"])
    runs = [made("slipping", seed) for seed in range(12)]
    found = tune(runs, strategy, axes=axes, trials=100)
    assert found.searched
    assert found.recommended.correct > found.now.correct
