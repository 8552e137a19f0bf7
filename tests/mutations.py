"""Changes the code in small ways, one at a time, and names those that no test notices. A long check, by hand:

    python tests/mutations.py 100              # so many changes, drawn from all rooms below; prints the survivors
    python tests/mutations.py 20 stream 7      # in one room, with another seed

Each change is made in a copy of the project, and only the tests that stand beside that room are run. What survives is
either a gap in the tests or a change that makes no difference; look at each.
"""

from __future__ import annotations

import ast
import os
import random
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[1]
ROOMS = {
    "stream": ("telemetry/stream/*.py", ("tests/stream", "tests/test_gaps.py", "tests/test_formats.py")),
    "reading": ("telemetry/reading/*.py", ("tests/reading/test_strategy_files.py", "tests/reading/test_ledger.py",
                "tests/reading/test_track.py", "tests/reading/test_standing.py", "tests/replay/test_runner.py",
                "tests/test_gaps.py")),
    "portable": ("telemetry/reading/portable/*.py", ("tests/golden", "tests/reading/test_rules.py",
                 "tests/reading/test_ledger.py", "tests/reading/test_track.py", "tests/test_gaps.py")),
    "replay": ("telemetry/replay/*.py", ("tests/replay", "tests/live", "tests/test_wording.py", "tests/test_gaps.py")),
    "scoring": ("telemetry/replay/scoring/*.py", ("tests/replay/test_score.py", "tests/replay/test_statistics.py",
                "tests/replay/test_compare.py", "tests/test_gaps.py")),
    "live": ("telemetry/live/*.py", ("tests/live", "tests/replay/test_runner.py")),
    "recording": ("telemetry/recording/*.py", ("tests/recording", "tests/test_gaps.py")),
    "journal": ("telemetry/recording/journal/*.py", ("tests/recording", "tests/faults/test_crash_points.py")),
}  # fmt: skip
"""Room -> its files, and the tests that should notice."""
COMPARISONS = {ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq}
OPERATORS = {ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Add, ast.FloorDiv: ast.Mult, ast.Mod: ast.FloorDiv}
TEXTS = ast.JoinedStr | ast.List
MOST_S = 240


@dataclass(frozen=True)
class Change:
    """One change: in which file, at which line, what became what; ``text``: the whole file with it."""

    file: Path
    line: int
    was: str
    now: str
    text: str


def changes(file: Path) -> Iterator[Change]:
    """Every change that is tried in a file."""
    source = file.read_text(encoding="utf-8")
    count = sum(1 for _ in _places(ast.parse(source)))
    for number in range(count):
        tree = ast.parse(source)
        node, change = next(one for k, one in enumerate(_places(tree)) if k == number)
        was = ast.unparse(node)
        change()
        now = ast.unparse(node)
        lines = source.splitlines(keepends=True)
        span = lines[node.lineno - 1 : node.end_lineno]
        data = "".join(span).encode()
        end = len("".join(span[:-1]).encode()) + (node.end_col_offset or 0)
        lines[node.lineno - 1 : node.end_lineno] = [(data[: node.col_offset] + f"({now})".encode() + data[end:]).decode()]
        yield Change(file, node.lineno, was, now, "".join(lines))


def _places(tree: ast.AST) -> Iterator[tuple[ast.expr, object]]:
    """(node, what changes it) of all that can be changed, in the order of the file."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Compare) and type(node.ops[0]) in COMPARISONS:
            yield node, lambda node=node: node.ops.__setitem__(0, COMPARISONS[type(node.ops[0])]())
        elif isinstance(node, ast.BoolOp):
            yield node, lambda node=node: setattr(node, "op", ast.Or() if isinstance(node.op, ast.And) else ast.And())
        elif isinstance(node, ast.BinOp) and type(node.op) in OPERATORS and not isinstance(node.left, TEXTS):
            yield node, lambda node=node: setattr(node, "op", OPERATORS[type(node.op)]())
        elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not):
            yield node, lambda node=node: setattr(node, "operand", ast.UnaryOp(ast.Not(), node.operand))
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in {"min", "max"} and node.args:
            yield node, lambda node=node: setattr(node.func, "id", "max" if node.func.id == "min" else "min")


def noticed(change: Change, copy: Path, tests: tuple[str, ...]) -> bool:
    """Whether a test fails, or never ends, with the change."""
    target = copy / change.file.relative_to(ROOT)
    before = target.read_text(encoding="utf-8")
    target.write_text(change.text, encoding="utf-8")
    try:
        return fails(copy, tests)
    finally:
        target.write_text(before, encoding="utf-8")


def fails(copy: Path, tests: tuple[str, ...]) -> bool:
    """Whether a test fails or never ends."""
    environment = os.environ | {"PYTHONPATH": str(copy), "PYTHONDONTWRITEBYTECODE": "1", "QT_QPA_PLATFORM": "offscreen"}
    words = [sys.executable, "-m", "pytest", "-x", "-q", "--no-header", "-p", "no:cacheprovider", *tests]
    try:
        done = subprocess.run(words, cwd=copy, env=environment, capture_output=True, timeout=MOST_S, check=False)
    except subprocess.TimeoutExpired:
        return True
    return done.returncode != 0


def main(count: int, rooms: list[str], seed: int) -> int:
    lot = random.Random(seed)
    found = {room: [one for file in sorted(ROOT.glob(ROOMS[room][0])) for one in changes(file)] for room in rooms}
    survivors = 0
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / "copy"
        left_out = shutil.ignore_patterns(".git", ".venv", "__pycache__", ".*_cache")
        shutil.copytree(ROOT, copy, ignore=left_out)
        for room in rooms:
            if fails(copy, ROOMS[room][1]):
                print(f"the tests of '{room}' fail or are too slow without any change: {' '.join(ROOMS[room][1])}")
                return 1
        for number in range(count):
            room = rooms[number % len(rooms)]
            change = found[room].pop(lot.randrange(len(found[room])))
            if noticed(change, copy, ROOMS[room][1]):
                continue
            survivors += 1
            where = f"{change.file.relative_to(ROOT)}:{change.line}"
            print(f"survived: {where}: {change.was}  ->  {change.now}", flush=True)
    print(f"{count - survivors} of {count} changes were noticed")
    return 0


if __name__ == "__main__":
    words = sys.argv[1:] or ["100"]
    chosen = [word for word in words[1:2] if word in ROOMS] or list(ROOMS)
    sys.exit(main(int(words[0]), chosen, int(words[-1]) if len(words) > 2 else 1))
