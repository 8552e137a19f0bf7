"""One bad run, one dead worker, one parent that is killed: the rest stands, and nothing is left behind."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from replay.runs import GOOD, drive, record
from telemetry.cli import main
from telemetry.own_program import own_command
from telemetry.replay import compare as comparing
from telemetry.replay.compare import ComparisonRequest, compare
from telemetry.replay.evaluate import pool

DEADLY = """
import os
class Deadly:
    def __init__(self, names):
        self.deadly = names.index("pink")
    def step(self, label, m):
        if label == self.deadly:
            os._exit(9)
        return -1
"""
LINUX = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="looks into /proc")


def test_a_run_that_kills_its_worker_is_one_line_and_the_rest_is_judged(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(pool, "WORTH_A_PROCESS", 4)
    (tmp_path / "deadly.py").write_text(DEADLY)
    paths = [record(tmp_path / f"r{i}.h5", drive(*GOOD)) for i in range(9)]
    bad = record(tmp_path / "r4 bad.h5", drive(*GOOD, (34, 35, "pink")))
    found = compare([*paths[:5], bad, *paths[5:]], ComparisonRequest((str(tmp_path / "deadly.py"),)), cores=2)
    assert [one.path for one in found.problems] == [bad]
    assert "died of it" in str(found.problems[0].problem)
    assert sorted(result.run.recording for result in found.results) == sorted(path.as_posix() for path in paths)
    assert comparing is not None


@pytest.mark.parametrize("number", ["1e200", "-1e200", "1e308", "nan", "9" * 40])
def test_a_number_beyond_all_bounds_is_one_runs_problem_or_none(
    tmp_path: Path, number: str, capsys: pytest.CaptureFixture[str]
) -> None:
    for name in ("a", "c"):
        record(tmp_path / f"{name}.h5", drive(*GOOD))
    lines = drive(*GOOD).splitlines()
    middle = len(lines) // 2
    fields = lines[middle].split(",")
    for place in range(1, len(fields)):
        odd = [*fields[:place], number, *fields[place + 1 :]]
        record(tmp_path / f"b{place}.h5", "\n".join([*lines[:middle], ",".join(odd), *lines[middle + 1 :]]) + "\n")
    code = main(["compare", str(tmp_path), "--strategy", "hold", "--strategy", "windows", "--json", "-"])
    said = capsys.readouterr()
    assert code in {0, 3}, said.err
    for name in ("a.h5", "c.h5"):
        assert f"{name}" in said.out
    assert main(["guard", str(tmp_path / "a.h5"), "--keep", str(tmp_path / "agreed.txt"), "--strategy", "hold"]) == 0


def children(pid: int) -> set[int]:
    """All processes that descend from this one."""
    parents = {}
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit():
            try:
                parents[int(entry.name)] = int(entry.joinpath("stat").read_text().rpartition(")")[2].split()[1])
            except (OSError, ValueError):
                continue
    found, last = {pid}, 0
    while len(found) != last:
        last = len(found)
        found |= {child for child, parent in parents.items() if parent in found}
    return found - {pid}


def alive(pid: int) -> bool:
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False


@LINUX
@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGHUP, signal.SIGKILL])
def test_a_comparison_that_is_ended_leaves_no_worker(tmp_path: Path, number: signal.Signals) -> None:
    for i in range(24):
        record(tmp_path / f"{i}.h5", drive(*GOOD))
    command = subprocess.Popen(own_command(["compare", str(tmp_path), "--cores", "2"]), stdout=subprocess.DEVNULL)
    until = time.monotonic() + 60
    workers: set[int] = set()
    while len(workers) < 2 and command.poll() is None and time.monotonic() < until:
        time.sleep(0.05)
        workers = children(command.pid)
    assert len(workers) >= 2
    command.send_signal(number)
    command.wait(30)
    until = time.monotonic() + 30
    while any(map(alive, workers)) and time.monotonic() < until:
        time.sleep(0.05)
    assert not [pid for pid in workers if alive(pid)]
    assert os.name == "posix"
