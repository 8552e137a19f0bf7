"""Changes the code in small ways, one at a time, and names those that no test notices. A long check, by hand:

    python tests/mutations.py                  # all that ``mutations.txt`` lists, about ten minutes of a processor
    python tests/mutations.py stream walk.py   # those in files whose path has one of these words

Each change is made in a copy of the project, and only the tests named beside its file are run. What survives is either a gap
in the tests or a change that makes no difference; look at each. A change that fits nothing any more is named, too: the code
has moved on, and its line in the list must.
"""

from __future__ import annotations

import ast
import multiprocessing
import os
import shutil
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[1]
LIST = Path(__file__).with_suffix(".txt")
MOST_S = 300


@dataclass(frozen=True)
class Change:
    """In ``file``, within ``function``, the first expression that reads ``was`` becomes ``now``; ``tests`` should notice."""

    file: str
    function: str
    was: str
    now: str
    tests: tuple[str, ...]

    def text(self) -> str | None:
        """The whole file with the change; None where it fits nothing."""
        source = (ROOT / self.file).read_text(encoding="utf-8")
        scope = _scope(ast.parse(source), self.function)
        if scope is None:
            return None
        found = (node for node in ast.walk(scope) if isinstance(node, ast.expr) and ast.unparse(node) == self.was)
        node = next(found, None)
        if node is None or node.end_lineno is None:
            return None
        lines = source.splitlines(keepends=True)
        span = lines[node.lineno - 1 : node.end_lineno]
        data = "".join(span).encode()
        end = len("".join(span[:-1]).encode()) + (node.end_col_offset or 0)
        changed = data[: node.col_offset] + f"({self.now})".encode() + data[end:]
        lines[node.lineno - 1 : node.end_lineno] = [changed.decode()]
        return "".join(lines)


def _scope(tree: ast.Module, function: str) -> ast.AST | None:
    """The function or class of this dotted name."""
    scope: ast.AST = tree
    for name in function.split("."):
        kinds = ast.FunctionDef | ast.ClassDef
        inner = [node for node in ast.iter_child_nodes(scope) if isinstance(node, kinds) and node.name == name]
        if not inner:
            return None
        scope = inner[0]
    return scope


def listed() -> Iterator[Change]:
    """All changes of the list."""
    file, tests = "", ()
    for line in LIST.read_text(encoding="utf-8").splitlines():
        if line.startswith("telemetry/"):
            file, _, words = (part.strip() for part in line.partition("<"))
            tests = tuple(words.split())
        elif line and not line.startswith("#"):
            function, _, change = line.partition(": ")
            was, now = (part.strip() for part in change.split(" => "))
            yield Change(file, function, was, now, tests)


def tried(copy: Path, tests: tuple[str, ...], *, kept: bool) -> str:
    """passed, failed, or 'out of time'. ``kept``: the compiled files stay, for a run of the code as it is."""
    method = "forkserver" if "forkserver" in multiprocessing.get_all_start_methods() else "spawn"
    context = multiprocessing.get_context(method)
    if method == "forkserver":
        context.set_forkserver_preload(["pytest", "numpy", "h5py", "hypothesis.strategies", "msgspec"])
    process = context.Process(target=_run, args=(str(copy), tests, kept))
    process.start()
    process.join(MOST_S)
    if process.exitcode is None:
        process.kill()
        process.join()
        return "out of time"
    return "failed" if process.exitcode else "passed"


def _run(copy: str, tests: tuple[str, ...], kept: bool) -> None:
    import pytest

    os.environ |= {"PYTHONPATH": copy, "QT_QPA_PLATFORM": "offscreen"}
    sys.path[:0] = [copy]
    sys.dont_write_bytecode = not kept
    sys.stdout = sys.stderr = open(os.devnull, "w", encoding="utf-8")  # noqa: PTH123, SIM115 (a device, for good)
    os.chdir(copy)
    imported = "ignore::pytest.PytestAssertRewriteWarning"  # hypothesis is there already
    sys.exit(int(pytest.main(["-x", "-q", "-W", imported, "-p", "no:cacheprovider", *tests])))


def outcome(change: Change, copy: Path, sound: dict[tuple[str, ...], str]) -> str:
    """noticed, survived, 'out of time' (which may be the change or a busy machine), 'fits nothing', or 'its tests fail'
    without any change.
    """
    text = change.text()
    if text is None:
        return "fits nothing"
    if change.tests not in sound:
        sound[change.tests] = tried(copy, change.tests, kept=True)
    if sound[change.tests] != "passed":
        return "its tests fail"
    target = copy / change.file
    before, stamp = target.read_text(encoding="utf-8"), target.stat()
    target.write_text(text, encoding="utf-8")
    try:
        return {"failed": "noticed", "passed": "survived"}.get(said := tried(copy, change.tests, kept=False), said)
    finally:
        target.write_text(before, encoding="utf-8")
        os.utime(target, ns=(stamp.st_atime_ns, stamp.st_mtime_ns))


def main(words: list[str]) -> int:
    """Try all changes whose file has one of ``words`` in its path, or all; 0 where every one was noticed."""
    chosen = [one for one in listed() if not words or any(word in one.file for word in words)]
    counts: dict[str, int] = {}
    sound: dict[tuple[str, ...], str] = {}
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / "copy"
        shutil.copytree(ROOT, copy, ignore=shutil.ignore_patterns(".git", ".venv", "__pycache__", ".*_cache"))
        for number, change in enumerate(chosen, start=1):
            said = outcome(change, copy, sound)
            counts[said] = counts.get(said, 0) + 1
            if said != "noticed":
                print(f"{said}: {change.file}, {change.function}: {change.was}  ->  {change.now}", flush=True)
            print(f"{number} of {len(chosen)}", end="\r", file=sys.stderr, flush=True)
    print(", ".join(f"{count} {said}" for said, count in counts.items()))
    return 0 if set(counts) <= {"noticed"} else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
