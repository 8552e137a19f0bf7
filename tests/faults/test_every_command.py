"""Some of the calls by which each command changes a folder fail; every one of them in ``python -m faults.every_command``."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from faults import every_command

pytestmark = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="looks into /proc for what a descriptor is")


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("every") / "made"
    every_command.prepare(place)
    return place


@pytest.mark.parametrize("name", ["runs list", "runs tag", "ingest", "export", "guard --keep", "compare"])
def test_a_call_that_fails_costs_nothing_that_was_readable(made: Path, name: str) -> None:
    count = every_command.every_call(name, made, stride=7, first=2)
    assert count.failed >= 1


def test_with_a_second_program_beside_neither(made: Path) -> None:
    every_command.one("runs tag", made, 9, 28, beside=True)
