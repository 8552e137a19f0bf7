"""What cannot be done is said at the command line in one sentence, with what is possible instead; never a traceback."""

from __future__ import annotations

import json
import shutil
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from telemetry import cli
from telemetry.calibrate.files import table_from_text
from telemetry.sources.synthetic.run import simulate
from telemetry.tuning.runs import SavedRun
from tuning.made_runs import PALETTE

RECORDINGS = Path(__file__).parents[2] / "recordings"


@pytest.fixture
def said(capsys: pytest.CaptureFixture[str]) -> Any:
    """Exit code and all that was printed, lines joined."""

    def run(*words: object) -> tuple[int, str]:
        code = cli.main([str(word) for word in words])
        shown = capsys.readouterr()
        assert "Traceback" not in shown.out + shown.err
        return code, " ".join((shown.out + " " + shown.err).split())

    return run


@pytest.fixture
def one(tmp_path: Path) -> Path:
    """One run, right as recorded."""
    return Path(shutil.copy(RECORDINGS / "practice-01.h5", tmp_path / "one.h5"))


def ingested(folder: Path, said: Any, text: bytes, *more: object) -> Path:
    """A text stream as a recording on Orchard Row."""
    stream, course = folder / "stream.txt", folder / "course.toml"
    stream.write_bytes(text)
    course.write_text(simulate("practice", 3).course.text, encoding="utf-8")
    code, shown = said("ingest", stream, "--course", course, "-o", folder / "made.h5", *more)
    assert code == 0, shown
    return folder / "made.h5"


def without(text: bytes, *dropped: str) -> bytes:
    """The stream with these columns taken out."""
    lines, kept = [], []
    for line in text.decode().splitlines():
        if line.startswith("#") and "," in line and "t/ms" in line:
            kept = [k for k, name in enumerate(line[1:].split(",")) if name.partition("/")[0] not in dropped]
            lines.append("#" + ",".join(line[1:].split(",")[k] for k in kept))
        elif line[:1].isdigit():
            cells = line.split(",")
            lines.append(",".join(cells[k] for k in kept))
        elif line.startswith("#range"):
            continue
        else:
            lines.append(line)
    return ("\n".join(lines) + "\n").encode()


@pytest.mark.timeout(240)
def test_a_sweep_of_a_thousand_million_is_searched(one: Path, said: Any, tmp_path: Path) -> None:
    """8 x 10^11 settings; tried are as many as asked."""
    over = ("windows.margin_mm=0..200", "vote.least=1..100", "vote.share_pct=1..100", "auto.level_pct=0..100",
            "auto.limit=20..2000", "eliminate.early")  # fmt: skip
    asked = [word for name in over for word in ("--over", name)]
    kept = tmp_path / "found.json"
    code, shown = said("tune", one, "--strategy", "windows", *asked, "--trials", 20, "--as-recorded", "--json", kept)
    assert code == 0
    assert "settings searched" in shown
    assert json.loads(kept.read_text())["tune"]["recommended"]["settings"].keys() >= {"vote.least", "windows.margin_mm"}


def test_one_run_is_judged_and_said_to_be_one(one: Path, said: Any) -> None:
    code, shown = said("tune", one, "--strategy", "windows", "--over", "vote.least=1..3", "--as-recorded")
    assert code == 0
    assert "one run alone cannot be left out and judged; record a second one" in shown
    code, shown = said("stress", one, "--strategy", "windows", "--only", "loop", "--copies", 1)
    assert code == 0
    assert "With 1 run this is rough" in shown


def test_no_truth(said: Any, tmp_path: Path) -> None:
    path = ingested(tmp_path, said, simulate("practice", 3).data)
    for command in (("tune", path, "--strategy", "windows"), ("stress", path, "--strategy", "windows"), ("next", path)):
        code, shown = said(*command)
        assert code == 3
        assert "sidelong runs truth COLOURS FILE" in shown, command


def test_all_wrong(said: Any, one: Path) -> None:
    wrong = ",".join(simulate("practice", 5).truth)
    code, shown = said("stress", one, "--strategy", "hold", "--truth", wrong, "--only", "speed")
    assert code == 3
    assert "reads none of 1 runs right" in shown
    assert "'sidelong compare' says which strategy reads them, 'sidelong tune' which settings do" in shown
    code, shown = said("tune", one, "--strategy", "windows", "--truth", wrong, "--over", "vote.least=1..3", "--as-recorded")
    assert code == 0
    assert "No setting reads a run right. It is not the settings" in shown
    assert "recommended" not in shown
    assert "works from to" not in shown


def test_no_raw_channels_and_no_distance(said: Any, tmp_path: Path) -> None:
    run = simulate("practice", 3)
    truth = ",".join(run.truth)
    path = ingested(tmp_path, said, without(run.data, "red", "green", "blue", "refl", "dist"), "--truth", truth)
    code, shown = said("stress", path, "--strategy", "hold", "--only", "speed,height", "--only", "loop", "--copies", 1)
    assert code == 0
    assert "speed: not possible, the recordings hold no distance." in shown
    assert "height: not possible, the recordings hold no raw channels." in shown
    code, shown = said("tune", path, "--strategy", "windows")
    assert code == 3
    assert "dist" in shown


@pytest.mark.parametrize(("words", "says"), [
    (("tune", "--over", "vote.least=0..5"), "not within 1 to 100"),
    (("tune", "--over", "vote.lest=1..5"), "vote.least"),
    (("stress", "--set", "vote.least=101"), "outside 1 to 100"),
    (("stress", "--only", "hight"), "height"),
    (("stress", "--copies", "0"), "--copies 1 to 100"),
])  # fmt: skip
def test_out_of_range(one: Path, said: Any, words: tuple[str, ...], says: str) -> None:
    code, shown = said(words[0], one, "--strategy", "windows", *words[1:])
    assert code in {2, 3}
    assert says in shown


def test_all_right_says_that_nothing_fails(said: Any) -> None:
    """A margin that is not reached is said as what was searched."""
    from telemetry.reading.load import load_strategy
    from telemetry.report.stress_text import stress_lines
    from telemetry.tuning.directions import asked_directions
    from telemetry.tuning.stress import stress

    run = simulate("practice", 3)
    table = table_from_text(run.data, "easy")
    easy = SavedRun("easy", table, run.course, run.truth, PALETTE, simulated=True)
    short = replace(asked_directions("slip")[0], ladder=(0.0, 0.001))
    text = " ".join(" ".join(stress_lines(stress([easy], load_strategy("map-and-list"), directions=[short]))).split())
    assert "Nothing failed as far as it was altered." in text
    assert "no failure to 0.1 %" in text
