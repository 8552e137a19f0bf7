"""Every demo run with every strategy: what MicroPython and compiled C read is what the core reads."""

from __future__ import annotations

from pathlib import Path

import pytest

from telemetry.reading.strategies import STRATEGIES

from .all_runs import RUNS_PY, alone, readers, said_of_all, wanted
from .reading import MICROPYTHON, RECORDINGS, c_compiler, needs_micropython, on_micropython, run_words


@needs_micropython
@pytest.mark.timeout(300)  # thirty runs
@pytest.mark.parametrize("name", STRATEGIES)
def test_on_micropython(name: str, tmp_path: Path) -> None:
    harness = tmp_path / "runs.py"
    harness.write_text(RUNS_PY, encoding="utf-8")
    count = 0
    for kind, folder, streams in readers(name, tmp_path / "readers"):
        paths = "".join(f"{path}\n" for path in streams).encode()
        done = run_words([MICROPYTHON, harness, folder], paths)
        assert done.returncode == 0, done
        found = said_of_all(done.stdout)
        assert found == [wanted(name, path) for path in kind.runs]
        assert on_micropython(folder, streams[0].read_bytes()) == found[0], "its own way in gives the same"
        count += len(found)
    assert count == len(list(RECORDINGS.glob("*.h5"))) == 30


@pytest.mark.skipif(c_compiler() is None, reason="no C compiler here")
@pytest.mark.timeout(300)
@pytest.mark.parametrize("name", STRATEGIES)
def test_in_c(name: str, tmp_path: Path) -> None:
    compiler = c_compiler()
    assert compiler is not None
    count = 0
    for kind, folder, streams in readers(name, tmp_path / "readers", "--language", "c"):
        done = run_words([compiler, "-std=c99", "-Wall", "-Wextra", "-Werror", *folder.glob("*.c"), "-o", folder / "check"])
        assert done.returncode == 0, done.stderr.decode()
        for path, stream in zip(kind.runs, streams, strict=True):
            assert alone(folder / "check", stream) == wanted(name, path), path.name
            count += 1
    assert count == 30
