"""The next layout: what one run tells, and that the layout chosen tells more than one drawn by lot."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from telemetry.errors import UsageError
from telemetry.reading.load import load_strategy
from telemetry.report.next_text import next_lines
from telemetry.tuning.evaluate import SettingsSweep
from telemetry.tuning.next_run import LayoutSearch, information, next_run
from tuning.made_runs import made


def test_information_as_scipy_says() -> None:
    """Mutual information of strategy and outcome: entropies of scipy."""
    from scipy.stats import entropy

    for shares in (np.array([0.9, 0.4]), np.array([1.0, 0.0]), np.array([0.7, 0.7, 0.7])):
        joint = np.stack([shares, 1 - shares]) / len(shares)
        expected = entropy(joint.sum(axis=1), base=2) + np.log2(len(shares)) - entropy(joint.ravel(), base=2)
        assert information(shares) == pytest.approx(expected, abs=1e-9)
    assert information(np.array([0.5])) == pytest.approx(1.0)


def test_the_layout_chosen_tells_more_than_one_by_lot() -> None:
    runs = [made("venue", seed) for seed in range(4)]
    strategies = {name: load_strategy(name) for name in ("windows", "map-and-list")}
    found = next_run(runs, strategies, evaluator=SettingsSweep(compiled=False), layouts=8)
    assert found.best.bits > found.by_lot  # on seeds that it was not chosen by
    assert set(found.best.right) == set(strategies)
    assert len(found.best.truth) == len(runs[0].course.slots)
    text = "\n".join(next_lines(replace(found, best=replace(found.best, bits=0.3))))
    assert "Set up next: " in text
    assert "Simulated" in text
    worst = min(found.best.right, key=lambda name: found.best.right[name])
    why = f"{worst} in {100 * found.best.right[worst]:.0f} %, and fails most at {found.best.slots[worst]}."
    assert why in " ".join(text.split())
    untold = "\n".join(next_lines(replace(found, best=replace(found.best, bits=0.0), faster=2.0, speed_cm_s=79.5)))
    assert "Set up next" not in untold
    assert "read nearly all of them alike, up to 79.5 cm/s." in " ".join(untold.split())
    assert next_run(runs, strategies, evaluator=SettingsSweep(compiled=False), layouts=8) == found
    with pytest.raises(UsageError):
        next_run(runs, {})


def test_stopped_it_says_what_is_known_by_then() -> None:
    """Ctrl-C arrives while layouts are driven: the best driven so far is named, as stopped; before that, nothing."""
    runs = [made("venue", seed) for seed in range(2)]
    strategies = {"windows": load_strategy("windows")}
    told: list[tuple[int, int]] = []

    def progress(what: str, done: int, of: int) -> None:
        told.append((done, of))
        if what.startswith("layouts") and done == 3:
            raise KeyboardInterrupt

    search = LayoutSearch(runs, strategies, evaluator=SettingsSweep(compiled=False), layouts=8, progress=progress)
    assert search.so_far() is None
    with pytest.raises(KeyboardInterrupt):
        search.go_on()
    found = search.so_far()
    assert found is not None
    assert found.stopped
    assert found.by_lot is None
    assert 0 < found.drives <= 4
    assert found.layouts == 3
    assert all(0 < done <= of for done, of in told[1:])
    text = " ".join("\n".join(next_lines(found)).split())
    assert f"Stopped before all was tried: this is what {found.drives} drives say" in text
