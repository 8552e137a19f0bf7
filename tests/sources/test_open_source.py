"""What a user writes, and which source it is."""

from __future__ import annotations

from pathlib import Path

import pytest

from telemetry.errors import StreamError, UsageError
from telemetry.sources import EndOfStream, Source, open_source
from telemetry.sources.ble.source import BleSource
from telemetry.sources.serial.port import SerialPort
from telemetry.sources.synthetic import simulate
from telemetry.sources.synthetic.source import SyntheticRobot
from telemetry.sources.text_file import TextFile
from telemetry.stream.decoder import Decoder


class Clock:
    """Time that passes only while somebody sleeps."""

    def __init__(self) -> None:
        self.now = 100.0

    def __call__(self) -> float:
        return self.now

    def sleep(self, seconds: float) -> None:
        self.now += seconds


def read_all(source: Source) -> bytes:
    source.open()
    data = b""
    try:
        while True:
            data += source.read(0.2)
    except EndOfStream:
        source.close()
        return data


@pytest.mark.parametrize(
    ("spec", "kind"),
    [
        ("COM3", SerialPort),
        ("/dev/ttyUSB0", SerialPort),
        ("socket://192.168.4.1:2217", SerialPort),
        ("rfc2217://robot:2217", SerialPort),
        ("loop://", SerialPort),
        ("ble:cart", BleSource),
        ("ble:", BleSource),
        ("robot:venue?seed=1", SyntheticRobot),
        ("robot:", SyntheticRobot),
        ("not-there.txt", TextFile),
        ("run.csv", TextFile),
    ],
)
def test_kinds(spec: str, kind: type) -> None:
    source = open_source(spec, baud=9600, dtr=False)
    assert type(source) is kind
    source.close()


def test_a_file_that_is_there_is_read_whatever_its_name(tmp_path: Path) -> None:
    saved = tmp_path / "fetched"
    saved.write_bytes(b"#t/ms\n1\n")
    assert read_all(open_source(str(saved))) == b"#t/ms\n1\n"


def test_a_mistyped_file_is_not_called_a_missing_port() -> None:
    with pytest.raises(StreamError, match="no such file"):
        open_source("no-such-run.txt").open()


def test_serial_options_reach_the_port() -> None:
    port = open_source("COM3", baud=9600, dtr=False, rts=True, reconnect_s=5.0)
    assert isinstance(port, SerialPort)
    assert (port.baud, port.dtr, port.rts, port.reconnect_s) == (9600, False, True, 5.0)


def test_the_robot_in_this_process_keeps_time() -> None:
    clock = Clock()
    robot = open_source("robot:venue?seed=1", clock=clock, sleep=clock.sleep)
    run = simulate("venue", 1)
    assert read_all(robot) == run.data
    assert clock.now - 100.0 == pytest.approx(run.at_ms[-1] / 1000.0, abs=0.01)


def test_it_gives_nothing_before_its_time_and_all_of_it_when_late() -> None:
    clock = Clock()
    robot = open_source("robot:practice?seed=2", clock=clock, sleep=lambda seconds: None)
    robot.open()
    assert robot.read(0.1) == b""
    clock.now += 1.0
    late = robot.read(0.0)
    run = simulate("practice", 2)
    assert late == b"".join(line for line, at in zip(run.lines, run.at_ms, strict=True) if at <= 1000.0)


def test_several_runs_are_one_stream_of_one_robot_that_stays_on() -> None:
    clock = Clock()
    data = read_all(open_source("robot:practice?seed=5&runs=3&codes_only&speed_up=4", clock=clock, sleep=clock.sleep))
    decoder = Decoder()
    chunks = decoder.feed(data, 0) + decoder.finish()
    assert decoder.boot == 0
    assert decoder.lost == 0
    assert [note.text for chunk in chunks for note in chunk.notes].count("gate open") == 3
    assert not any("red" in chunk.columns for chunk in chunks)


@pytest.mark.parametrize(
    ("spec", "message"),
    [
        ("robot:moon", "practice, venue"),
        ("robot:venue?sed=1", "no option 'sed'.*seed"),
        ("robot:venue?seed=one", "not a number"),
        ("robot:venue?runs=0", "at least 1"),
        ("robot:venue?speed_up=-1", "above 0"),
    ],
)
def test_mistyped_robots(spec: str, message: str) -> None:
    with pytest.raises(UsageError, match=message):
        open_source(spec)


def test_reading_before_the_opening_and_after_the_closing_is_the_end() -> None:
    robot = open_source("robot:practice")
    with pytest.raises(EndOfStream):
        robot.read(0.0)
    robot.open()
    robot.close()
    robot.close()
    with pytest.raises(EndOfStream):
        robot.read(0.0)
