"""The C++ emitter, compiled for this computer: its lines read by our decoder, alone and together with the C reader."""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pytest

from telemetry.cli import main
from telemetry.recording.load import load

from .reading import RECORDINGS, c_compiler, made, run_words, table_of

CPP = shutil.which("g++") or shutil.which("clang++")
pytestmark = pytest.mark.skipif(CPP is None or c_compiler() is None, reason="no C++ compiler here")

PROGRAM = r"""
#include <stdio.h>
#include <stdlib.h>
#include "emitter.h"
#ifdef WITH_READER
#include "reader.h"
#endif
struct Printer { size_t write(const uint8_t *data, size_t size) { return fwrite(data, 1, size, stdout); } };
int main(int argc, char **argv)
{
    Printer printer;
    sidelong::Emitter<Printer> out(printer, "colour,refl/%,dist/cm,gate");
    static uint8_t store[60000];
    long room = argc > 1 ? atol(argv[1]) : 0;
    out.codes("9=none,1=rust,2=leaf");
    out.ranges("refl=0..100");
    if (room) out.keep(store, (size_t)room);
#ifdef WITH_READER
    reader_sample now = reader_nothing;
    reader_begin();
    out.reader(READER_STRATEGY "," READER_FINGERPRINT);
#endif
    for (long k = 0; k < 150; k++) {
        uint32_t ms = 1073741824UL - 1500 + (uint32_t)k * 20;
        out.begin(ms);
        int code = k % 40 < 30 ? 9 : k / 40 % 2 + 1;
        out.whole(code);
        out.number(54.25 + (k % 7) / 10.0, 1);
        int32_t d = out.number(-0.44 + (double)k * 0.3333, 2);
        if (k % 3) out.name("a,b"); else out.missing();
        out.end();
#ifdef WITH_READER
        now.t = (int32_t)(ms & 1073741823UL);
        now.code = code == 9 ? 0 : code == 1 ? CODE_RUST : CODE_LEAF;
        now.d = d;
        int32_t event = reader_step(0, &now);
        if (READER_SLOT(event) >= 0) out.read(ms, reader_slots[READER_SLOT(event)], reader_colours[READER_COLOUR(event)]);
#else
        (void)d;
#endif
        if (k == 20) { out.note(ms, "gate open"); out.note(ms, "ends like *4F"); out.note(ms, "two\r\nlines"); }
    }
    out.hand_over();
    return 0;
}
"""


def built(folder: Path, *words: str) -> Path:
    """The program above, watched by the sanitizers."""
    assert CPP is not None
    assert main(["emitter", "--language", "c", "-o", str(folder / "emitter.h"), "--force"]) == 0
    (folder / "main.cpp").write_text(PROGRAM)
    options = ["-std=c++11", "-Wall", "-Wextra", "-Werror", "-pedantic", "-fsanitize=undefined,address"]
    done = run_words([CPP, *options, *words, folder / "main.cpp", "-o", folder / "program"])
    assert done.returncode == 0, done.stderr.decode()
    return folder / "program"


def test_its_lines_are_understood_live_and_kept(tmp_path: Path) -> None:
    program = built(tmp_path)
    live = table_of(run_words([program]).stdout)
    assert not live.rejected
    assert live.rows == 150
    assert live.lost == 0
    assert np.all(np.diff(live.columns["t_us"].astype(np.int64)) == 20_000)
    assert set(live.colours) == {"none", "rust", "leaf"}
    assert live.ranges["refl"] == (0.0, 100.0)
    assert [note.text for note in live.notes] == ["gate open", "ends like *4F", "two  lines"]
    dist = np.asarray(live.columns["dist"], dtype=np.float64)
    np.testing.assert_array_equal(dist, np.floor((-0.44 + np.arange(150) * 0.3333) * 100 + 0.5) / 100)
    kept = table_of(run_words([program, "60000"]).stdout)
    np.testing.assert_array_equal(kept.columns["dist"], live.columns["dist"])
    full = table_of(run_words([program, "2000"]).stdout)
    assert 20 < full.rows < 150
    assert full.notes[-1].text.startswith("memory full: ")


def test_with_the_reader_robot_and_computer_agree(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    course = load(RECORDINGS / "practice-01.h5").course
    assert course is not None
    (tmp_path / "course.toml").write_text(course.text)
    columns = "n,t/ms,colour,refl/%,dist/cm,gate"
    folder = made(tmp_path / "robot", "hold", "--course", str(tmp_path / "course.toml"), "--columns", columns,
                  "--language", "c")  # fmt: skip
    reader, compiler = folder / "reader.o", c_compiler()
    assert compiler is not None
    assert run_words([compiler, "-std=c99", "-c", folder / "reader.c", "-o", reader]).returncode == 0
    names = ("none", *course.colours)
    codes = [f"-DCODE_{name.upper()}={names.index(name)}" for name in ("rust", "leaf")]
    program = built(folder, "-DWITH_READER", *codes, str(reader))
    (tmp_path / "run.txt").write_bytes(run_words([program]).stdout)
    words = ["ingest", str(tmp_path / "run.txt"), "--course", str(tmp_path / "course.toml"), "-o", str(tmp_path / "run.h5")]
    assert main(words) == 0
    capsys.readouterr()
    assert main(["compare", str(tmp_path / "run.h5"), "--strategy", "hold"]) == 0
    page = " ".join(capsys.readouterr().out.split())
    assert "robot and computer agree in all 3 readings, sample by sample" in page


COLOURS = r"""
#include <cstdio>
#include "emitter.h"
struct Sink { void write(const uint8_t *data, size_t size) { fwrite(data, 1, size, stdout); } };
int main()
{
    static const char *const known[] = {"none", "moss", "navy", "code 3", "code -12", "a=b"};
    static const int32_t sent[] = {7, 1, 2, 8, 99, 8, 3, -12, 5, 6, 10, 11, 12, 13, 14, 15, 16, 8, 0};
    Sink sink;
    sidelong::Emitter<Sink> out(sink, "colour");
    out.codes("7=none, 1=moss,2=navy,8=pink,5=a=b,4=mos");
    for (size_t k = 0; k < sizeof sent / sizeof sent[0]; k++) {
        out.begin((uint32_t)(10 * k));
        fprintf(stderr, "%ld ", (long)out.colour(sent[k], known, 6));
        out.end();
    }
    return 0;
}
"""


def test_a_colour_that_the_reader_does_not_know_is_a_colour(tmp_path: Path) -> None:
    """Numbered as on the computer: behind those that are known, by its name or as 'code N'; eight such at the most."""
    assert main(["emitter", "--language", "c", "-o", str(tmp_path / "emitter.h")]) == 0
    (tmp_path / "main.cpp").write_text(COLOURS)
    assert CPP is not None
    options = ["-std=c++11", "-Wall", "-Wextra", "-Werror", "-pedantic", "-fsanitize=undefined,address"]
    done = run_words([CPP, *options, tmp_path / "main.cpp", "-o", tmp_path / "program"])
    assert done.returncode == 0, done.stderr.decode()
    ran = run_words([tmp_path / "program"])
    assert ran.returncode == 0, ran
    assert ran.stderr.split() == b"0 1 2 6 7 6 3 4 5 8 9 10 11 12 13 13 13 6 13".split()
    table = table_of(ran.stdout)
    assert not table.rejected
    names = [table.colours[code] for code in table.columns["colour"].tolist()]
    assert names[:9] == ["none", "moss", "navy", "pink", "code 99", "pink", "code 3", "code -12", "a=b"]
