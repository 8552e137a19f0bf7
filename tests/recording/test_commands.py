"""The commands of this room, as a user types them."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from recording.streams import HEADER, line, stream
from telemetry import cli
from telemetry.errors import EXIT_INPUT, EXIT_LINK, EXIT_OK, EXIT_STORAGE, EXIT_USAGE
from telemetry.recording.load import load
from telemetry.sources.synthetic.run import built_in_course, simulate


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "course.toml").write_text(built_in_course("row").text, encoding="utf-8")
    (tmp_path / "run.txt").write_bytes(b"".join(stream(200)))
    return tmp_path


TRUTH = "orange,white,rust,leaf,orange,rust,pink,white,sky"


def sidelong(*words: str) -> int:
    return cli.main(list(words))


def test_an_ingested_run_is_labelled_found_and_relabelled(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    ingest = ["ingest", "run.txt", "-o", "runs/a.h5", "--course", "course.toml", "--tag", "wet", "--driven-by", "checklist"]
    assert sidelong(*ingest) == EXIT_OK
    assert sidelong("ingest", "run.txt", "-o", "runs/b.h5") == EXIT_OK
    run = load("runs/a.h5")
    assert (run.table.rows, run.truth, run.meta.tags, run.meta.driven_by) == (200, None, ("wet",), "checklist")
    assert run.meta.fetched
    capsys.readouterr()
    assert sidelong("runs", "truth", TRUTH, "runs/a.h5") == EXIT_OK
    assert sidelong("runs", "tag", "dry,late", "runs/a.h5", "runs/b.h5") == EXIT_OK
    assert sidelong("runs", "tag", "late", "--remove", "runs/b.h5") == EXIT_OK
    assert sidelong("runs", "rename", "the good one", "runs/a.h5") == EXIT_OK
    assert sidelong("runs", "note", "lamp was off", "runs/a.h5") == EXIT_OK
    capsys.readouterr()
    assert sidelong("runs", "list", "runs") == EXIT_OK
    assert "a.h5 (the good one)" in (listed := capsys.readouterr().out)
    assert "b.h5 (" not in listed
    for words, names in {
        (): ["a.h5", "b.h5"],
        ("--tag", "late"): ["a.h5"],
        ("--course", "orchard"): ["a.h5"],
        ("--entered", "yes"): ["a.h5"],
        ("--truth", "unknown"): ["b.h5"],
        ("--text", "lamp"): ["a.h5"],
        ("--since", "2001"): ["a.h5", "b.h5"],
        ("--until", "2001-02"): [],
    }.items():
        assert sidelong("runs", "list", "runs", "--json", *words) == EXIT_OK
        assert sorted(Path(entry["path"]).name for entry in json.loads(capsys.readouterr().out)) == names
    assert sidelong("runs", "show", "runs/a.h5") == EXIT_OK
    shown = capsys.readouterr().out
    assert "the good one" in shown
    assert "wet dry late" in shown
    assert TRUTH in shown
    assert sidelong("runs", "truth", "unknown", "runs/a.h5") == EXIT_OK
    assert load("runs/a.h5").truth is None
    assert load("runs/a.h5").table.rows == 200
    assert sidelong("runs") == EXIT_OK


@pytest.mark.parametrize(
    ("words", "code", "message"),
    [
        (["runs", "truth", "rust", "runs/a.h5"], EXIT_INPUT, "the course has 9 slots"),
        (["runs", "truth", "runs/a.h5", "rust"], EXIT_USAGE, "the colours come first"),
        (["runs", "truth", "rust", "leaf", "runs/a.h5"], EXIT_INPUT, "commas between and no blanks"),
        (["runs", "truth", TRUTH, "runs/b.h5"], EXIT_INPUT, "has no course"),
        (["runs", "tag", "x", "runs/none.h5"], EXIT_INPUT, "no such file"),
        (["runs", "list", "nowhere"], EXIT_INPUT, "cannot be listed"),
        (["runs", "list", "runs", "--since", "yesterday"], EXIT_USAGE, "is not a date"),
        (["ingest", "run.txt", "-o", "runs/a.h5"], EXIT_STORAGE, "there already"),
        (["ingest", "run.txt", "--truth", "rust"], EXIT_USAGE, "--truth needs --course"),
        (["ingest", "run.txt", "--columns", "t/furlong"], EXIT_USAGE, "furlong"),
        (["capture", "run.txt", "--for", "-1"], EXIT_USAGE, "--for"),
    ],
)
def test_what_cannot_be_done_is_said_and_changes_nothing(
    here: Path, capsys: pytest.CaptureFixture[str], words: list[str], code: int, message: str
) -> None:
    sidelong("ingest", "run.txt", "-o", "runs/a.h5", "--course", "course.toml")
    sidelong("ingest", "run.txt", "-o", "runs/b.h5")
    before = {path.name: path.read_bytes() for path in Path("runs").iterdir()}
    capsys.readouterr()
    assert sidelong(*words) == code
    assert message in capsys.readouterr().err
    assert {path.name: path.read_bytes() for path in Path("runs").iterdir() if path.suffix == ".h5"} == before


def test_headerless_numbers_are_ingested_with_named_columns(here: Path) -> None:
    (here / "plain.txt").write_bytes(b"".join(b"%d %d %.1f\n" % (i * 10, 50 + i % 3, i / 10) for i in range(100)))
    assert sidelong("ingest", "plain.txt", "-o", "p.h5", "--columns", "t/ms,refl/%,heading/deg") == EXIT_OK
    run = load("p.h5")
    assert run.table.rows == 100
    assert run.table.columns["refl"].tolist()[:4] == [50, 51, 52, 50]
    assert run.meta.columns == "t/ms,refl/%,heading/deg"


def test_a_journal_that_was_left_becomes_a_recording_at_the_next_start(
    here: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert sidelong("capture", "run.txt", "-o", "runs/a.h5", "--quiet", "--journal-only") == EXIT_OK
    assert [path.name for path in Path("runs").iterdir()] == ["a.h5.journal"]
    (here / "nothing.txt").write_bytes(b"")
    assert sidelong("capture", "nothing.txt", "-o", "runs/b.h5", "--quiet", "--journal-only") == EXIT_LINK
    assert "nothing arrived" in capsys.readouterr().err
    assert sidelong("capture", "run.txt", "-o", "runs/c.h5", "--quiet") == EXIT_OK
    assert "a.h5 was recovered" in capsys.readouterr().err
    assert sorted(path.name for path in Path("runs").iterdir()) == ["a.h5", "c.h5"]
    assert load("runs/a.h5").table.rows == load("runs/c.h5").table.rows == 200


def test_a_session_says_what_a_short_rest_does_to_a_run(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    source = "robot:venue?seed=4&speed_up=8"
    assert sidelong("session", source, "--course", "course.toml", "--rest", "1", "--no-ask") == EXIT_OK
    said = capsys.readouterr().out
    assert "a stop of 1 s before leg 'yard' ends the run too; --rest must be longer than it lasts" in said
    assert "it moved for less than 1.5 s: not kept as a run; if the robot only stopped on its way, --rest must be" in said
    (whole,) = (here / "runs" / ".removed").iterdir()
    assert load(whole).table.rows > sum(load(path).table.rows for path in (here / "runs").glob("*.h5"))
    assert sidelong("runs", "restore", f"runs/{whole.name}") == EXIT_OK


def test_a_session_tells_once_what_a_run_lacks(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    course = (here / "course.toml").read_text(encoding="utf-8")
    (here / "course.toml").write_text(course.replace("gate open", "gate lifted"), encoding="utf-8")
    source = "robot:practice?seed=3&runs=2&speed_up=12"
    assert sidelong("session", source, "--course", "course.toml", "--rest", "2", "--no-ask") == EXIT_OK
    said = capsys.readouterr().out
    assert "2 runs kept" in said
    assert said.count("begins at the note 'gate lifted', which never came") == 1
    assert "before leg" in said


def test_a_session_cuts_runs_and_keeps_them(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    source = "robot:practice?seed=1&runs=2&speed_up=12"
    assert sidelong("session", source, "--course", "course.toml", "--rest", "2", "--no-ask") == EXIT_OK
    assert "2 runs kept in runs" in capsys.readouterr().out
    first, second = sorted(Path("runs").glob("*.h5"))
    for path in (first, second):
        run = load(path)
        assert run.course is not None
        assert run.meta.simulated
        assert run.table.columns["dist"].max() > 30
    assert not list(Path("runs").glob("*.journal"))


def test_a_capture_shows_and_logs_its_readings(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = ["capture", "robot:practice?seed=1&speed_up=20", "-o", "r", "--course", "course.toml", "--log", "log.jsonl"]
    assert sidelong(*words) == EXIT_OK
    out = capsys.readouterr().out
    assert "crate 1: leaf (read)" in out
    assert re.search(r"^windows: \d of \d slots read", out, re.MULTILINE)
    log = [json.loads(text) for text in Path("log.jsonl").read_text(encoding="utf-8").splitlines()]
    assert [entry["slot"] for entry in log][:3] == ["tag 1", "tag 2", "tag 3"]
    assert load("r.h5").meta.simulated


def test_a_folder_with_a_left_behind_journal_says_so_in_one_line(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    from telemetry.recording.journal.records import JournalWriter
    from telemetry.recording.meta import Meta

    Path("runs").mkdir()
    journal = JournalWriter(Path("runs/lost.h5.journal"), Meta().begun(), made_ns=1)
    journal.received(3_000, HEADER + line(1))
    journal.close()
    assert sidelong("runs") == EXIT_OK
    said = capsys.readouterr()
    assert "sidelong: lost.h5 was recovered from a capture that was broken off: 1 sample.\n" in said.err
    assert "lost.h5" in said.out


def test_a_text_without_samples_makes_no_file(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """So that the corrected command finds the name free; and what was wrong is said in numbers."""
    (here / "plain.txt").write_text("".join(f"{5000 + 12 * k} 175 185 176 4\n" for k in range(30)))
    assert sidelong("ingest", "plain.txt", "-o", "a.h5") == EXIT_INPUT
    assert "(30 rejected: before the first header)" in capsys.readouterr().err
    assert sidelong("ingest", "plain.txt", "-o", "a.h5", "--columns", "t/ms,red,green") == EXIT_INPUT
    assert "5 values, 3 names" in capsys.readouterr().err
    assert not list(here.glob("a.h5*"))
    assert sidelong("ingest", "plain.txt", "-o", "a.h5", "--columns", "t/ms,red,green,blue,refl/%") == EXIT_OK
    assert "a.h5: 30 samples in 0.3 s" in capsys.readouterr().out


def test_a_run_that_was_handed_over_lasts_as_long_as_the_robot_says(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    t_us = load_of(here, "run.txt")
    seconds = f"{(t_us[-1] - t_us[0]) / 1e6:.1f}"
    assert float(seconds) > 1
    assert sidelong("capture", "run.txt", "-o", "runs/b.h5") == EXIT_OK
    assert f"200 samples in {seconds} s" in capsys.readouterr().out
    for name in ("a", "b"):
        assert sidelong("runs", "show", f"runs/{name}.h5") == EXIT_OK
        assert f"200 in {seconds} s" in capsys.readouterr().out
    assert sidelong("runs", "list", "runs", "--json") == EXIT_OK
    assert [f"{entry['seconds']:.1f}" for entry in json.loads(capsys.readouterr().out)] == [seconds, seconds]


def load_of(here: Path, text: str) -> list[int]:
    assert sidelong("ingest", text, "-o", str(here / "runs" / "a.h5")) == EXIT_OK
    return [int(one) for one in load(here / "runs" / "a.h5").table.columns["t_us"]]


def test_a_table_without_its_labels_says_what_is_lost(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    load_of(here, "run.txt")
    assert sidelong("export", "runs/a.h5", "-o", "a.csv") == EXIT_OK
    assert sidelong("export", "--back", "a.csv", "-o", "b.h5") == EXIT_OK
    assert "lost" not in capsys.readouterr().out
    (here / "a.csv.json").unlink()
    assert sidelong("export", "--back", "a.csv", "-o", "c.h5") == EXIT_OK
    assert "a.csv.json is not there" in capsys.readouterr().out


def test_the_emitter_makes_its_folder_and_a_near_option_is_named(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert sidelong("emitter", "-o", "em/emitter.py") == EXIT_OK
    assert (here / "em" / "emitter.py").stat().st_size
    assert sidelong("calibrate", "none=run.txt", "--outptu", "x.toml") == EXIT_USAGE
    assert "'--outptu' is not understood. Did you mean '--output'?" in capsys.readouterr().err
    assert sidelong("calibrate", "none=run.txt") == EXIT_USAGE
    assert "arguments are required: -o/--output" in capsys.readouterr().err


def test_a_capture_with_a_truth_ends_in_how_many_were_right(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    run = simulate("practice", 1)
    words = ["capture", "robot:practice?seed=1&speed_up=20", "-o", "r", "--course", "course.toml"]
    assert sidelong(*words, "--truth", ",".join(run.truth)) == EXIT_OK
    out = capsys.readouterr().out
    slots = len(run.truth)
    assert re.search(rf"^windows: \d of {slots} right", out, re.MULTILINE)
    wrong = ",".join("white" if one == "rust" else "rust" if one == "white" else one for one in run.truth)
    assert sidelong("capture", words[1], "-o", "s", *words[4:], "--truth", wrong) == EXIT_OK
    assert "(not " in capsys.readouterr().out
