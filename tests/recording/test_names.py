"""One rule for a recording's name: what capture makes, list shows and compare finds."""

from __future__ import annotations

from pathlib import Path

import pytest

from recording.streams import stream
from telemetry.cli import main
from telemetry.errors import UsageError
from telemetry.recording.library import entries
from telemetry.recording.names import recording_called, recordings_below


@pytest.mark.parametrize(
    ("asked", "made"),
    [("run", "run.h5"), ("run.2", "run.2.h5"), ("a.nc", "a.nc"), ("b.H5", "b.H5"), ("d.e f", "d.e f.h5")],
)
def test_what_is_made_is_listed_and_found(tmp_path: Path, asked: str, made: str) -> None:
    (tmp_path / "text").write_bytes(b"".join(stream(40)))
    folder = tmp_path / "runs"
    assert main(["ingest", str(tmp_path / "text"), "-o", str(folder / asked)]) == 0
    assert [Path(entry.path).name for entry in entries(folder)] == [made]
    assert [path.name for path in recordings_below(folder)] == [made]
    assert main(["compare", str(folder), "--strategy", "hold"]) == 0


@pytest.mark.parametrize("asked", ["x.csv", "x.TXT", "x.toml", "x.h5.journal"])
def test_what_is_called_like_something_else_is_refused(tmp_path: Path, asked: str) -> None:
    (tmp_path / "text").write_bytes(b"".join(stream(40)))
    assert main(["ingest", str(tmp_path / "text"), "-o", str(tmp_path / asked)]) == 2
    with pytest.raises(UsageError, match="does not end in"):
        recording_called(Path(asked))
