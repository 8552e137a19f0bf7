"""Some calls by which the window reads or changes its folder fail; all: ``faults.every_command 1 both window``."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

STRIDE = 23


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="looks into /proc for what a descriptor is")
def test_a_call_that_fails_under_the_window_costs_nothing_that_was_readable() -> None:
    """In a process of its own: the command's event loop ends with it."""
    words = [sys.executable, "-m", "faults.every_command", str(STRIDE), "alone", "window"]
    done = subprocess.run(words, cwd=Path(__file__).parents[1], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    failed, _, calls = done.stdout.partition("window: ")[2].split()[:3]
    assert 0 < int(failed) < int(calls)
