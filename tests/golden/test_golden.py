"""Readings, confidences and verdicts are what they were, to the last digit.

Where a change of readings is wanted, write the files anew (see ``lines.py``) and say in the commit what changed and why.
"""

from __future__ import annotations

import pytest

from .lines import KEPT, file_of


@pytest.mark.timeout(300)  # hundreds of runs, each through every strategy
@pytest.mark.parametrize("what", KEPT)
def test_as_kept(what: str) -> None:
    kept = file_of(what).read_text(encoding="utf-8").splitlines()
    now = set(KEPT[what]())
    gone = [line for line in kept if line not in now]
    beside = {_key(line): line for line in now}
    shown = "\n".join(f"was: {line}\nnow: {beside.get(_key(line), '-')}" for line in gone[:5])
    assert kept
    assert not gone, f"{len(gone)} of {len(kept)} lines of {file_of(what).name} are otherwise now, the first:\n{shown}"


def _key(line: str) -> str:
    """Run and strategy, which come first; of a verdict the run."""
    parts = line.split(" | ")
    return " | ".join(parts[: 2 if len(parts) > 2 else 1])
