"""What scripts may use: its example runs, its docstrings are whole, and nothing heavy is imported before it is asked for."""

from __future__ import annotations

import doctest
import inspect
import subprocess
import sys
from pathlib import Path

import pytest

import telemetry
from telemetry import errors

ROOT = Path(__file__).parents[1]
FUNCTIONS = [name for name in telemetry.__all__ if callable(getattr(telemetry, name))]


def test_the_example_of_the_docstring_runs(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    found = doctest.testmod(telemetry, optionflags=doctest.NORMALIZE_WHITESPACE)
    assert found.attempted >= 7
    assert found.failed == 0


@pytest.mark.parametrize("name", FUNCTIONS)
def test_docstrings_name_every_parameter_what_comes_back_and_what_is_raised(name: str) -> None:
    function = getattr(telemetry, name)
    said = inspect.getdoc(function) or ""
    assert "Returns\n-------" in said
    for parameter in inspect.signature(function).parameters:
        assert parameter in said.partition("Parameters\n----------")[2].partition("Returns\n")[0]
    raised = said.partition("Raises\n------\n")[2]
    for word in raised.replace(",", " ").split():
        if word.endswith("Error"):
            assert issubclass(getattr(errors, word), errors.SidelongError)


def test_nothing_heavy_is_imported_at_first() -> None:
    code = "import sys, telemetry; print(sorted({'numpy', 'h5py', 'serial', 'bleak', 'PySide6'} & set(sys.modules)))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT)
    assert done.stdout.strip() == "[]"


def test_a_run_is_followed_as_it_was_loaded() -> None:
    path = ROOT / "recordings" / "venue-01.h5"
    follower = telemetry.follow(path)
    while follower.poll():
        pass
    assert follower.state == "ended"
    assert follower.table.rows == telemetry.load(path).table.rows
    with pytest.raises(errors.SidelongError):
        telemetry.follow(path.with_name("gone.h5")).poll()
    with pytest.raises(errors.UsageError):
        telemetry.compare([path], strategies=["hold", "hold"])
    quick = telemetry.compare([path], strategies=["hold"], why=False)
    assert quick.results[0].findings == ()
