"""A saved text stream as a source."""

from __future__ import annotations

import os
import sys
import threading
from pathlib import Path

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from telemetry.cli import main
from telemetry.errors import StreamError
from telemetry.recording.journal.records import MAGIC
from telemetry.sources.source import EndOfStream, Source
from telemetry.sources.text_file import RECORDINGS, TextFile, utf16_of


@given(st.binary(max_size=500), st.integers(1, 200))
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_the_same_bytes_in_blocks(tmp_path: Path, data: bytes, block: int) -> None:
    assume(not data.startswith(RECORDINGS) and not utf16_of(data[:64]))
    path = tmp_path / "run.txt"
    path.write_bytes(data)
    source: Source = TextFile(path, block_bytes=block)
    source.open()
    pieces = [source.read(0.0) for _ in range(-(-len(data) // block))]
    with pytest.raises(EndOfStream):
        source.read(0.0)
    source.close()
    source.close()
    assert b"".join(pieces) == data
    assert all(0 < len(piece) <= block for piece in pieces)


def test_opened_again_it_begins_again(tmp_path: Path) -> None:
    path = tmp_path / "run.txt"
    path.write_bytes(b"#t/ms\r\n1\r\n")
    source = TextFile(path)
    for _ in range(2):
        source.open()
        assert source.read(0.0) == b"#t/ms\r\n1\r\n"
    source.close()
    with pytest.raises(EndOfStream):
        source.read(0.0)


def test_close_without_open(tmp_path: Path) -> None:
    TextFile(tmp_path / "run.txt").close()


@pytest.mark.parametrize(("name", "what"), [("absent.txt", "no such file"), (".", "folder"), ("nul\0", "cannot be opened")])
def test_what_cannot_be_opened(tmp_path: Path, name: str, what: str) -> None:
    path = tmp_path / name
    with pytest.raises(StreamError, match=what) as caught:
        TextFile(path).open()
    assert caught.value.where == str(path)
    assert caught.value.todo


@pytest.mark.skipif(os.name != "posix" or os.geteuid() == 0, reason="permissions do not bind here")
def test_not_allowed(tmp_path: Path) -> None:
    path = tmp_path / "run.txt"
    path.write_bytes(b"1")
    path.chmod(0)
    with pytest.raises(StreamError, match="may not be read"):
        TextFile(path).open()


def test_refused_by_the_system(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object) -> None:
        raise PermissionError

    path = tmp_path / "run.txt"
    path.write_bytes(b"1")
    monkeypatch.setattr(Path, "open", refuse)
    with pytest.raises(StreamError, match="may not be read"):
        TextFile(path).open()


@pytest.mark.parametrize("begin", [b"\x89HDF\r\n\x1a\n", MAGIC])
def test_a_recording_is_no_text(tmp_path: Path, begin: bytes) -> None:
    path = tmp_path / "run.txt"
    path.write_bytes(begin + bytes(500))
    source = TextFile(path)
    with pytest.raises(StreamError, match="a recording, not a text"):
        source.open()
    with pytest.raises(EndOfStream):
        source.read()


@pytest.mark.skipif(sys.platform == "win32", reason="pipes of POSIX")
def test_a_pipe_is_read_like_a_file(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    writer = threading.Thread(target=pipe.write_bytes, args=(b"#t/ms\n1\n",))
    writer.start()
    source = TextFile(pipe)
    source.open()
    assert source.read() == b"#t/ms\n1\n"
    with pytest.raises(EndOfStream):
        source.read()
    source.close()
    writer.join()


@pytest.mark.parametrize("codec", ["utf-16", "utf-16-le", "utf-16-be"])
def test_text_in_utf_16_is_given_as_utf_8(tmp_path: Path, codec: str) -> None:
    text = "#t/ms,colour\r\n" + "".join(f"{i},grün\r\n" for i in range(200))
    path = tmp_path / "run.txt"
    path.write_bytes(text.encode(codec))
    source = TextFile(path, block_bytes=37)  # half characters at the ends of blocks
    source.open()
    data = b"".join(source.read() for _ in range(-(-path.stat().st_size // 37)))
    with pytest.raises(EndOfStream):
        source.read()
    source.close()
    assert data.decode() == text


@pytest.mark.skipif(sys.platform == "win32", reason="pipes of POSIX")
def test_that_a_pipe_is_waited_for_is_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    pipe = tmp_path / "run.txt"
    os.mkfifo(pipe)
    writer = threading.Thread(target=pipe.write_bytes, args=(b"#t/ms,refl/%\n1,2\n2,3\n",))
    writer.start()
    assert main(["ingest", str(pipe), "-o", str(tmp_path / "run.h5")]) == 0
    writer.join()
    assert "waiting for whoever writes" in capsys.readouterr().out
