"""What the times in a recording say: repeated measurements right after it was made, the clock in its description."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from telemetry.cli import main
from telemetry.recording.load import load
from telemetry.report.recording_text import describe
from telemetry.stream.line import data_line, header_line


def _stream(path: Path, *, lines_a_measurement: int) -> Path:
    draw = random.Random(1)
    out = [header_line(["t/ms", "red", "green"])]
    values = [0, 0]
    for i in range(600):
        if i % lines_a_measurement == 0:
            values = [draw.randint(0, 1023), draw.randint(0, 1023)]
        out.append(data_line([5 * i, *values]))
    path.write_bytes(b"".join(out))
    return path


@pytest.mark.parametrize(("lines", "said"), [(4, True), (1, False)])
def test_repeats_are_said_when_a_recording_is_made(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], lines: int, said: bool
) -> None:
    text = _stream(tmp_path / "run.txt", lines_a_measurement=lines)
    assert main(["ingest", str(text), "-o", str(tmp_path / "run.h5")]) == 0
    sentence = "The loop is faster than the sensor: it measures about every 20 ms, so about 4 lines"
    assert (sentence in capsys.readouterr().out) == said
    words = "\n".join(describe(load(tmp_path / "run.h5")))
    assert (sentence in words) == said
    assert "The loop runs every 5 ms" in words
    assert "clock" not in words  # a stream that was fetched afterwards says nothing about it
