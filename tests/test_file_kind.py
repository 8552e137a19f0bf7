"""A TOML file is taken for what it is, everywhere."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from replay.runs import ROW

from telemetry.errors import NotThereError, SidelongError
from telemetry.file_kind import FileKind, file_kind, kind_of
from telemetry.palette_default import default_palette
from telemetry.palette_file import palette_text
from telemetry.reading.load import write_toml
from telemetry.reading.strategies import STRATEGIES
from telemetry.replay.baseline.file import Agreed, write_agreed


def test_each_kind_by_what_sidelong_writes() -> None:
    assert kind_of(ROW) is FileKind.COURSE
    assert kind_of(palette_text(default_palette({}))) is FileKind.PALETTE
    for strategy in STRATEGIES.values():
        assert kind_of(write_toml(strategy)) is FileKind.STRATEGY
    assert kind_of(write_agreed(Agreed({"hold": ("code",)}, (), "", "", {}, {}))) is FileKind.BASELINE
    assert kind_of(write_agreed(Agreed({"hold": ("code",)}, (), "row.toml", "home.toml", {}, {}))) is FileKind.BASELINE
    assert kind_of("[[slot]]\n") is FileKind.COURSE
    assert kind_of('[course]\nname = "x"\n') is FileKind.COURSE
    assert kind_of("answer = 42") is None
    assert kind_of("version = 1") is None


def test_what_cannot_be_read_is_said(tmp_path: Path) -> None:
    with pytest.raises(NotThereError, match="there is no such file"):
        file_kind(tmp_path / "gone.toml")
    with pytest.raises(SidelongError, match="is not valid TOML"):
        kind_of("[[")
    (tmp_path / "a.toml").write_bytes(b"\xff\xfe")
    with pytest.raises(SidelongError, match="not a text in UTF-8"):
        file_kind(tmp_path / "a.toml")
    with pytest.raises(SidelongError, match="cannot be read"):
        file_kind(tmp_path)


@pytest.mark.skipif(sys.platform != "linux", reason="elsewhere there always is a screen")
def test_without_a_screen_there_is_one_sentence_and_code_6() -> None:
    pytest.importorskip("PySide6")
    bare = {key: value for key, value in os.environ.items() if key not in {"DISPLAY", "WAYLAND_DISPLAY"}}
    done = subprocess.run(
        [sys.executable, "-m", "gui"], env=bare | {"QT_QPA_PLATFORM": "xcb"}, capture_output=True, text=True, timeout=60,
        check=False,
    )  # fmt: skip
    assert done.returncode == 6
    assert done.stderr.startswith("sidelong: there is no screen")
    assert done.stderr.count("\n") == 1
