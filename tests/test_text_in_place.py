"""A text is written whole or not at all, and nothing is left beside it."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from telemetry.cli import main
from telemetry.errors import EXIT_STORAGE, EXIT_USAGE
from telemetry.text_in_place import write_text

RUN = Path(__file__).parents[1] / "recordings" / "venue-01.h5"


def test_the_new_text_takes_the_place_of_the_old(tmp_path: Path) -> None:
    path = tmp_path / "agreed.toml"
    for text in ("rust\n", "größer ➜ 大\n"):
        write_text(path, text)
        assert path.read_bytes() == text.encode()
        assert list(tmp_path.iterdir()) == [path]


def test_where_it_fails_the_old_stays_and_nothing_is_left(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "agreed.toml"
    path.write_text("old")
    with pytest.raises(UnicodeEncodeError):
        write_text(path, "new \ud800")

    def full(self: Path, target: Path) -> Path:
        raise OSError(28, "No space left on device", str(self))

    monkeypatch.setattr(Path, "replace", full)
    with pytest.raises(OSError, match="No space left") as error:
        write_text(path, "new")
    assert error.value.filename == str(path), "the name that the user knows"
    assert path.read_text() == "old"
    assert list(tmp_path.iterdir()) == [path]


def test_a_folder_is_named_as_such(tmp_path: Path) -> None:
    (tmp_path / "x").mkdir()
    with pytest.raises(OSError) as error:  # noqa: PT011 - which one differs between systems
        write_text(tmp_path / "x", "text")
    assert error.value.filename == str(tmp_path / "x")
    assert [path.name for path in tmp_path.iterdir()] == ["x"]


def test_no_recording_is_written_over(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    data = RUN.read_bytes()
    for name in ("a.h5", "b.h5"):
        (tmp_path / name).write_bytes(data)
    for words in (
        ["compare", "--json", "a.h5", "b.h5"], ["compare", "b.h5", "--junit", "a.h5"], ["guard", "b.h5", "--keep", "a.h5"],
        ["runs", "list", ".", "--json", "a.h5"], ["emitter", "-o", "a.h5", "--force"],
        ["calibrate", "none=b.h5", "-o", "a.h5"],
        ["capture", "text", "-o", "c.h5", "--log", "a.h5"],
    ):  # fmt: skip
        assert main(words) in {EXIT_USAGE, EXIT_STORAGE}, words
        assert "is a recording, and none is written over" in capsys.readouterr().err
    assert {path.name: path.read_bytes() for path in tmp_path.glob("*.h5")} == {"a.h5": data, "b.h5": data}
    assert not list(tmp_path.glob("*before*"))


@pytest.mark.skipif(os.name == "nt", reason="pipes of POSIX")
def test_a_pipe_in_a_folder_is_refused_and_what_is_named_in_dev_written_into(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(OSError, match="not a plain file"):
        write_text(tmp_path / "pipe", "text")
    assert (tmp_path / "pipe").is_fifo()
    (tmp_path / "device").symlink_to("/dev/null")
    with pytest.raises(OSError, match="not a plain file"):
        write_text(tmp_path / "device", "text")
    read, write = os.pipe()
    write_text(Path(f"/dev/fd/{write}"), "text")
    os.close(write)
    assert os.read(read, 100) == b"text"
    os.close(read)


def test_new_writes_over_nothing(tmp_path: Path) -> None:
    (tmp_path / "x").write_text("mine")
    with pytest.raises(FileExistsError):
        write_text(tmp_path / "x", "text", new=True)
    assert (tmp_path / "x").read_text() == "mine"
    assert len(list(tmp_path.iterdir())) == 1
