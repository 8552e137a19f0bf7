"""The built-in robot at the other end of a link: what a capture gets is what it sent."""

from __future__ import annotations

import io
import os
import socket
import subprocess
import sys
from pathlib import Path

import pytest

from telemetry.cli import main
from telemetry.course import parse_course
from telemetry.errors import EXIT_INPUT, EXIT_LINK, EXIT_USAGE
from telemetry.sources import EndOfStream, open_source
from telemetry.sources.serve import StandardOutput, TcpPort, serve
from telemetry.sources.synthetic import simulate
from telemetry.sources.synthetic.source import SyntheticRobot

LINKS = ["tcp", "pty"] if os.name == "posix" else ["tcp"]


def robot(*words: str) -> subprocess.Popen[str]:
    code = "import sys; from telemetry.cli import main; sys.exit(main())"
    return subprocess.Popen(
        [sys.executable, "-c", code, "robot", *words], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )


def received(name: str) -> bytes:
    source = open_source(name)
    source.open()
    data = b""
    try:
        while True:
            data += source.read(1.0)
    except EndOfStream:
        source.close()
    return data


@pytest.mark.parametrize("link", LINKS)
@pytest.mark.parametrize("speed_up", ["0", "50"])
def test_in_a_second_process_every_byte_arrives(link: str, speed_up: str) -> None:
    with robot("--level", "venue", "--seed", "1", "--link", link, "--speed-up", speed_up, "--checksum") as process:
        assert process.stdout is not None
        name = process.stdout.readline().strip()
        assert received(name) == simulate("venue", 1, checksum=True).data
        _, said = process.communicate(timeout=30)
        assert process.returncode == 0
    assert "simulated robot, level venue, seed 1: " + ",".join(simulate("venue", 1).truth) in said


@pytest.mark.parametrize("link", LINKS)
def test_it_ends_when_the_listener_leaves(link: str) -> None:
    with robot("--loop-runs", "0", "--link", link, "--speed-up", "20") as process:
        assert process.stdout is not None
        source = open_source(process.stdout.readline().strip())
        source.open()
        while not source.read(1.0):
            pass
        source.close()
        assert process.wait(timeout=30) == 0
        assert process.stderr is not None
        process.stderr.read()


def test_on_stdout(capfdbinary: pytest.CaptureFixture[bytes]) -> None:
    assert main(["robot", "--link", "stdout", "--speed-up", "0", "--loop-runs", "2", "--rest", "0.5"]) == 0
    out, said = capfdbinary.readouterr()
    assert out.count(b"gate open") == 2
    assert b"level practice, seed 1" in said


def test_truth_and_course_of_your_own(tmp_path: Path, capfdbinary: pytest.CaptureFixture[bytes]) -> None:
    course = tmp_path / "course.toml"
    course.write_text('[course]\nname = "c"\n[[slot]]\nname = "a"\nat_cm = 9\nwidth_cm = 3\ncolours = ["rust", "leaf"]\n')
    words = ["robot", "--link", "stdout", "--speed-up", "0", "--course", str(course)]
    assert main([*words, "--truth", "leaf"]) == 0
    out, said = capfdbinary.readouterr()
    assert b"leaf" in out
    assert b"seed 0: leaf" in said
    assert main([*words, "--truth", "plum"]) == EXIT_INPUT
    assert b"plum" in capfdbinary.readouterr().err


def test_the_built_in_course_can_be_had_as_a_file(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["robot", "--show-course", "--two-sensors"]) == 0
    assert [sensor.name for sensor in parse_course(capsys.readouterr().out).sensors] == ["flank", "nose"]


def test_a_still_for_calibration(capfdbinary: pytest.CaptureFixture[bytes]) -> None:
    assert main(["robot", "--link", "stdout", "--speed-up", "0", "--still", "rust", "--day", "3"]) == 0
    assert capfdbinary.readouterr().out.count(b",rust,") > 200


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (["--link", "rope"], EXIT_USAGE),
        (["--link", "tcp:99999"], EXIT_LINK),
        (["--speed-up", "-1"], EXIT_USAGE),
        (["--codes-only", "--raw-only"], EXIT_USAGE),
        (["--course", "no-such.toml"], EXIT_INPUT),
        (["--course", "no-such.toml", "--two-sensors"], EXIT_USAGE),
        (["--stop", "-1"], EXIT_USAGE),
    ],
)
def test_mistyped(words: list[str], code: int, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["robot", *words]) == code
    said = capsys.readouterr().err
    assert said.startswith("sidelong: ")
    assert "Traceback" not in said


def test_a_port_in_use_is_said(capsys: pytest.CaptureFixture[str]) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        assert main(["robot", "--link", f"tcp:{taken.getsockname()[1]}"]) == EXIT_LINK
    assert "this TCP port cannot be used" in capsys.readouterr().err


def test_serving_closes_both_ends() -> None:
    out = io.BytesIO()
    source = SyntheticRobot([simulate("practice", 1)], speed_up=float("inf"))
    assert serve(source, StandardOutput(out)) == len(out.getvalue())
    port = TcpPort()
    port.close()
    with pytest.raises(OSError, match=r".*"):
        socket.create_connection(("127.0.0.1", int(port.name.rpartition(":")[2])), timeout=1.0)
