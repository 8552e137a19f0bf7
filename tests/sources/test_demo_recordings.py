"""The recordings that come with Sidelong are what their script makes, and are what their labels say."""

from __future__ import annotations

import runpy
from pathlib import Path

import numpy as np
import pytest

from telemetry.recording.load import load
from telemetry.sources.synthetic import simulate

FOLDER = Path(__file__).parents[2] / "recordings"
MAKER = runpy.run_path(str(FOLDER / "make.py"))
DEMOS = {demo.name: demo for demo in MAKER["DEMOS"]}


def test_they_are_all_there_and_small() -> None:
    files = list(FOLDER.glob("*.h5"))
    assert {path.stem for path in files} == DEMOS.keys()
    assert 28 <= len(files) <= 32
    assert sum(path.stat().st_size for path in files) < 5_000_000


@pytest.mark.parametrize("name", DEMOS)
def test_each_is_what_the_simulation_gives_today(name: str) -> None:
    """After a change of the physics: delete recordings/*.h5 and run recordings/make.py."""
    demo = DEMOS[name]
    run = simulate(demo.level, demo.seed, **demo.options)
    recording = load(FOLDER / f"{name}.h5")
    assert not recording.damage
    assert recording.meta.simulated
    assert recording.truth == run.truth
    assert recording.course is not None
    assert recording.course.name == run.course.name
    assert recording.table.rows == np.count_nonzero(~run.sample_lost)
    assert recording.table.columns["t_us"].tolist() == (run.sample_ms[~run.sample_lost] * 1000).tolist()
    assert not recording.table.rejected
    assert [note.text for note in recording.table.notes] == [
        line.split(b",", 1)[1].decode().strip() for line in run.lines if line.startswith(b"!")
    ]


def test_the_readme_names_them() -> None:
    text = (FOLDER / "README.md").read_text(encoding="utf-8")
    assert "simulated" in text
    for demo in DEMOS.values():
        assert demo.level in text
        assert demo.variant in text
