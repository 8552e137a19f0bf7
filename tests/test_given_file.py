"""What a user names is read only where it is a plain file of a bounded size; anything else is one sentence, at once."""

from __future__ import annotations

import os
import signal
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from types import FrameType

import pytest

from telemetry.cli import main
from telemetry.errors import EXIT_INPUT, EXIT_USAGE

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="pipes and devices of POSIX")

RUN = str(Path(__file__).parents[1] / "recordings" / "venue-01.h5")
LIMIT_S = 20


def sparse(path: Path) -> None:
    with path.open("wb") as file:
        file.truncate(10 << 30)


KINDS: dict[str, Callable[[Path], None]] = {
    "pipe": os.mkfifo,
    "device": lambda path: path.symlink_to("/dev/zero"),
    "folder": lambda path: path.mkdir(),
    "hole of 10 GB": sparse,
    "link to itself": lambda path: path.symlink_to(path),
    "binary": lambda path: path.write_bytes(bytes(range(256)) * 64) and None,
}
READERS: dict[str, list[str]] = {
    "course.toml": ["compare", RUN, "--strategy", "hold", "--course", "course.toml"],
    "palette.toml": ["compare", RUN, "--strategy", "hold", "--palette", "palette.toml"],
    "ours.toml": ["compare", RUN, "--strategy", "ours.toml"],
    "ours.py": ["compare", RUN, "--strategy", "ours.py"],
    "agreed.txt": ["guard", "--check", "agreed.txt"],
    "x.csv": ["export", "--back", "x.csv"],
    "x.parquet": ["export", "--back", "x.parquet"],
    "margins.json": ["report", RUN, "--margins", "margins.json", "-o", "page.html"],
    "red.txt": ["calibrate", "red=red.txt", "none=red.txt", "-o", "made.toml"],
    "checked.toml": ["recheck", "checked.toml", "none=none.txt"],
    "robot.toml": ["reader", "hold", "--course", "robot.toml", "--like", RUN, "-o", "out"],
}


@pytest.fixture
def at_once() -> Iterator[None]:
    """What waits is ended, and fails."""

    def over(number: int, frame: FrameType | None) -> None:
        raise TimeoutError("it waited")

    before = signal.signal(signal.SIGALRM, over)
    signal.alarm(LIMIT_S)
    yield
    signal.alarm(0)
    signal.signal(signal.SIGALRM, before)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("name", READERS)
@pytest.mark.usefixtures("at_once")
def test_what_is_no_plain_file_is_one_sentence(
    name: str, kind: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    KINDS[kind](tmp_path / name)
    before = sorted(tmp_path.iterdir())
    code = main(READERS[name])
    said = capsys.readouterr().err
    assert code in {EXIT_INPUT, EXIT_USAGE}, said
    assert name in said
    assert "fault" not in said
    assert sorted(tmp_path.iterdir()) == before


@pytest.mark.usefixtures("at_once")
def test_a_device_is_no_saved_stream(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "run.txt").symlink_to("/dev/zero")
    assert main(["ingest", str(tmp_path / "run.txt"), "-o", str(tmp_path / "run.h5")]) == EXIT_INPUT
    assert "device" in capsys.readouterr().err
    assert [path.name for path in tmp_path.iterdir()] == ["run.txt"]
