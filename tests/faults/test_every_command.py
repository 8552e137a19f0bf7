"""Some of the calls by which commands read or change a folder fail; all, of all, in ``python -m faults.every_command``."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from faults import commands_tried, every_command
from telemetry.commands import ALL_COMMANDS

pytestmark = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="looks into /proc for what a descriptor is")

STRIDE = {
    "runs list": 9, "runs tag": 7, "runs cut": 9, "runs remove": 5, "runs restore": 1,
    "ingest": 19, "session": 31, "capture": 31, "export": 7, "guard --keep": 4, "compare": 5,
    "emitter --force": 3, "reader": 7, "calibrate": 5,
}  # fmt: skip


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("every") / "made"
    commands_tried.prepare(place)
    return place


@pytest.mark.parametrize("name", STRIDE)
def test_a_call_that_fails_costs_nothing_that_was_readable(made: Path, name: str) -> None:
    count = every_command.every_call(name, made, stride=STRIDE[name], first=2)
    assert count.failed >= 1


def test_with_a_second_program_beside_neither(made: Path) -> None:
    every_command.one("runs tag", made, every_command.everything_before(made), 9, beside=True)


def test_no_command_is_left_out() -> None:
    assert {tried.words[0] for tried in commands_tried.COMMANDS.values()} == set(ALL_COMMANDS)
