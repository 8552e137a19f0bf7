"""What a user may hand us or suffer: each gets one clear message and an exit code, and nothing captured is lost."""

import os
import socket
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest
from replay.runs import ROW, drive, record

from telemetry import cli
from telemetry.errors import EXIT_INPUT, EXIT_LINK, EXIT_OK, EXIT_STORAGE, EXIT_USAGE
from telemetry.recording.load import load

GOOD = drive((9.0, 11.0, "rust"), (19.0, 21.0, "leaf"), (29.0, 31.0, "sky"))


@pytest.fixture
def here(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "row.toml").write_text(ROW)
    return tmp_path


def sidelong(capsys, *words):
    """Exit code, what was printed, what was said on the error stream."""
    code = cli.main([str(word) for word in words])
    out = capsys.readouterr()
    return code, out.out, out.err


def ingest(capsys, stream, *words):
    data = stream if isinstance(stream, bytes) else stream.encode()
    Path("run.txt").write_bytes(data)
    labels = ["--course", "row.toml", "--truth", "rust,leaf,sky"]
    return sidelong(capsys, "ingest", "run.txt", "-o", "run.h5", *labels, *words)


DAMAGE = [
    pytest.param(GOOD[: len(GOOD) - 4], 1, "samples", id="a last line cut in half"),
    pytest.param(GOOD + "730,no\n", 1, "rejected", id="half a line"),
    pytest.param(GOOD + "x" * 1_000_000 + "\n730,none,36.5\n", 1, "No line end in", id="a megabyte without a line end"),
    pytest.param(GOOD.encode() + b"730,no\0ne,36.5\n740,none,37\n", 1, "rejected", id="NUL bytes"),
    pytest.param(GOOD.encode() + b"730,no\xff\xfene,36.5\n740,none,37\n", 1, "rejected", id="invalid UTF-8"),
    pytest.param(GOOD + "730,none,36.5*00\n", 1, "rejected", id="a wrong checksum"),
    pytest.param(GOOD + "#t/ms,refl/furlong\n730,36.5\n", None, "furlong", id="a header with an unknown unit"),
    pytest.param(GOOD + "#t/ms,dist/cm\n730,36.5\n", 0, "header changed", id="a header that changes its columns"),
    pytest.param(GOOD + "MPY: soft reboot\n" + "5,none,0\n15,none,0\n", 0, "restarted", id="a robot that restarts"),
    pytest.param(GOOD.replace("\n650,", "\n630,"), 0, "time", id="a time that jumps back"),
    pytest.param(GOOD + "#codes,4=rust\n730,17,36.5\n", 0, "17", id="a colour code that was not explained"),
    pytest.param(GOOD + "730,ultraviolet,36.5\n", 0, "samples", id="a colour that the course does not know"),
]


@pytest.mark.parametrize(("stream", "rejected", "words"), DAMAGE)
def test_damage_in_a_stream_costs_only_itself(here, capsys, stream, rejected, words):
    code, out, err = ingest(capsys, stream)
    assert code == EXIT_OK
    assert words in out + err
    assert "Traceback" not in out + err
    table = load("run.h5").table
    if rejected is not None:
        assert len(table.rejected) == rejected
    assert b"".join(data for _, data in load("run.h5").raw()) == (stream if isinstance(stream, bytes) else stream.encode())
    code, out, err = sidelong(capsys, "compare", "run.h5", "--strategy", "windows", "--strategy", "hold")
    assert code == EXIT_OK
    assert out.count("1 of 1") == 2, out


def test_garbage_is_said_to_look_like_a_wrong_baud_rate(here, capsys):
    code, out, err = ingest(capsys, bytes((i * 73 + i // 7) % 256 for i in range(20_000)))
    assert code == EXIT_INPUT
    assert "wrong baud rate" in err
    assert not (here / "run.h5").exists()
    assert sidelong(capsys, "capture", "run.txt", "-o", "run.h5")[0] == EXIT_OK  # a capture keeps whatever came
    code, out, err = sidelong(capsys, "compare", "run.h5")
    assert code == EXIT_OK
    assert "no sample" in out


def test_a_stream_of_nothing(here, capsys):
    for stream in (b"", b"\n\n\n", b"hello\n"):
        (here / "run.h5").unlink(missing_ok=True)
        code, out, err = ingest(capsys, stream)
        assert "Traceback" not in out + err
        assert code in {EXIT_OK, EXIT_INPUT}
        if (here / "run.h5").exists():
            assert sidelong(capsys, "compare", "run.h5")[0] == EXIT_OK


FILES = [
    pytest.param(lambda path: path.write_bytes(path.read_bytes()[:3000]), "cut short", id="a recording cut short"),
    pytest.param(lambda path: path.write_bytes(b"\x89HDF\r\n\x1a\n" + bytes(900)), "run.h5", id="only the head of HDF5"),
    pytest.param(lambda path: path.write_bytes(b"just text\n" * 400), "not a recording", id="not HDF5 at all"),
    pytest.param(lambda path: path.write_bytes(b""), "run.h5", id="an empty file"),
]


@pytest.mark.parametrize(("spoil", "words"), FILES)
def test_files_that_are_no_recordings(here, capsys, spoil, words):
    spoil(record(here / "run.h5", GOOD))
    code, out, err = sidelong(capsys, "compare", "run.h5")
    assert code == EXIT_INPUT
    assert words in err
    assert "Traceback" not in err
    assert out == ""


def test_a_folder_where_a_file_is_meant(here, capsys):
    (here / "folder.h5").mkdir()
    code, _, err = sidelong(capsys, "compare", "folder.h5")
    assert code == EXIT_INPUT
    assert "no recording in this folder" in err


TYPOS = [
    (["--course", "typo.toml"], EXIT_INPUT, "typo.toml, slot 'a': unknown key 'at_mm'. Did you mean 'at_cm'?"),
    (["--course", "nowhere.toml"], EXIT_INPUT, "nowhere.toml: there is no such file"),
    (["--course", "row.toml", "--truth", "rust,leaf"], EXIT_INPUT, "names 2 colours, but the course has 3 slots"),
    (["--course", "row.toml", "--truth", "rust,leaf,skye"], EXIT_INPUT, "'skye' cannot stand there. Did you mean 'sky'?"),
    (["--strategy", "holt"], EXIT_INPUT, "there is no strategy 'holt'. Did you mean 'hold'?"),
    (["--strategy", "typo_strategy.toml"], EXIT_INPUT, "there is no stage 'hodl'. Did you mean 'hold'?"),
    (["--strategy", "nowhere.toml"], EXIT_INPUT, "nowhere.toml"),
    (["--strategy", "broken.py"], EXIT_INPUT, "broken.py, line 2"),
    (["--strategy", "hold", "--set", "hold.samples=x"], EXIT_USAGE, "not a whole number"),
    (["--strategy", "hold", "--set", "hold.samples=9999"], EXIT_USAGE, "outside 1 to 100"),
    (["--palette", "nowhere.toml"], EXIT_INPUT, "nowhere.toml"),
    (["--jsno", "x"], EXIT_USAGE, "Did you mean '--json'?"),
    (["--cores", "0"], EXIT_USAGE, "--cores must be 1 or more"),
    (["--strategy", "hold", "--json", "no/such/folder/out.json"], EXIT_STORAGE, "no/such/folder"),
]


@pytest.mark.parametrize(("words", "code", "message"), TYPOS)
def test_typos_are_answered(here, capsys, words, code, message):
    record(here / "run.h5", GOOD)
    (here / "typo.toml").write_text(ROW.replace("at_cm = 10", "at_mm = 100"))
    (here / "typo_strategy.toml").write_text('[[stage]]\nuse = "auto"\n[[stage]]\nuse = "hodl"\n')
    (here / "broken.py").write_text("class Ours:\n    step = 1 / 0\n")
    got, _, err = sidelong(capsys, "compare", "run.h5", *words)
    assert got == code
    assert message in err
    assert "Traceback" not in err
    assert err.count("\n") == 1


def test_own_logic_that_stumbles_names_its_line(here, capsys):
    record(here / "run.h5", GOOD)
    (here / "ours.py").write_text("class Ours:\n    def step(self, label, m):\n        return self.nothing\n")
    code, _, err = sidelong(capsys, "compare", "run.h5", "--strategy", "ours.py")
    assert code == EXIT_INPUT
    assert "ours.py, line 3" in err
    assert "Traceback" not in err


def test_no_such_port(here, capsys):
    code, _, err = sidelong(capsys, "capture", "/dev/ttyNOSUCH", "--no-reconnect", "-o", "run.h5")
    assert code == EXIT_LINK
    assert "port not found" in err
    assert err.count("Traceback") == 0


def test_nobody_listens(here, capsys):
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    code, _, err = sidelong(capsys, "capture", f"socket://127.0.0.1:{port}", "--no-reconnect", "-o", "run.h5")
    assert code == EXIT_LINK
    assert "nobody listens" in err


def serve_once(data, pause=False):
    """A robot on a socket that sends ``data`` and is then unplugged. Returns its port."""
    server = socket.create_server(("127.0.0.1", 0))

    def talk():
        with server, server.accept()[0] as link:
            link.sendall(data)
            link.shutdown(socket.SHUT_WR)

    thread = threading.Thread(target=talk, daemon=True)
    thread.start()
    return server.getsockname()[1], thread


@pytest.mark.parametrize("garbage", [b"", bytes(range(128, 256)) * 60])
def test_an_unplugged_cable_keeps_what_came(here, capsys, garbage):
    port, thread = serve_once(GOOD.encode() + garbage)
    words = ["--no-reconnect", "-o", "run.h5", "--course", "row.toml", "--truth", "rust,leaf,sky"]
    code, out, err = sidelong(capsys, "capture", f"socket://127.0.0.1:{port}", *words)
    thread.join(10)
    assert code in {EXIT_OK, EXIT_LINK}
    assert "Traceback" not in out + err
    assert load("run.h5").table.rows == 73
    assert b"".join(data for _, data in load("run.h5").raw()) == GOOD.encode() + garbage
    assert sidelong(capsys, "compare", "run.h5", "--strategy", "hold")[0] == EXIT_OK


@pytest.mark.skipif(os.name != "posix", reason="pseudo-terminals are a POSIX thing")
def test_a_port_in_use(here, capsys):
    ours, theirs = os.openpty()
    port = os.ttyname(theirs)
    try:
        with subprocess.Popen(
            [sys.executable, "-m", "telemetry.cli", "capture", port, "-o", "first.h5", "--no-reconnect"],
            stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
        ) as first:  # fmt: skip
            try:
                deadline = time.monotonic() + 20
                while not (here / "first.h5.journal").exists() and not list(here.glob("first.h5*")):
                    assert first.poll() is None
                    assert time.monotonic() < deadline
                    os.write(ours, b"#t/ms,colour\n")
                    time.sleep(0.02)
                code, _, err = sidelong(capsys, "capture", port, "-o", "second.h5", "--no-reconnect", "--for", "1")
                assert code == EXIT_LINK
                assert "another program has this port open" in err
                code, _, err = sidelong(capsys, "capture", "robot:practice", "-o", "first.h5", "--for", "1")
                assert code == EXIT_STORAGE
                assert "first.h5" in err
            finally:
                first.terminate()
                first.wait(20)
    finally:
        os.close(ours)
        os.close(theirs)


@pytest.mark.skipif(os.name != "posix" or os.geteuid() == 0, reason="the administrator may write anywhere")
def test_a_place_that_may_not_be_written_to(here, capsys):
    (here / "run.txt").write_text(GOOD)
    (here / "closed").mkdir(mode=0o500)
    code, _, err = sidelong(capsys, "ingest", "run.txt", "-o", "closed/run.h5")
    assert code == EXIT_STORAGE
    assert "permission denied" in err.lower()
