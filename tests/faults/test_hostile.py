"""A folder of files made to do harm goes through: nothing hangs, nothing is written elsewhere, every good run is read."""

from __future__ import annotations

import json
import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from faults import hostile
from telemetry.cli import main
from telemetry.errors import RecordingError
from telemetry.recording.hdf5 import expendable
from telemetry.recording.hdf5.expendable import TrialReader
from telemetry.recording.library import entries
from telemetry.recording.load import load

POSIX = pytest.mark.skipif(sys.platform == "win32", reason="limits and signals of POSIX")


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, set[str]]:
    place = tmp_path_factory.mktemp("hostile") / "runs"
    return place, hostile.make(place)


@POSIX
def test_a_hostile_folder_is_listed_and_every_good_run_is_in_it(folder: tuple[Path, set[str]]) -> None:
    place, good = folder
    began = time.monotonic()
    for _ in range(2):
        found = {Path(entry.path).name: entry for entry in entries(place)}
        assert {name for name, entry in found.items() if entry.state == "whole"} == good
        assert all(entry.problem for name, entry in found.items() if name not in good and entry.state == "damaged")
    assert time.monotonic() - began < 120, "each of them may take seconds, none for ever"
    assert not (place.parent / "written through a link").exists()


@POSIX
def test_none_of_them_is_opened_either(folder: tuple[Path, set[str]]) -> None:
    place, good = folder
    rows = load(hostile.GOOD).table.rows
    for path in sorted(place.glob("*.h5")):
        if path.name in good:
            assert load(path).table.rows == rows
        elif path.name not in {"nowhere.h5", "loop.h5"}:
            with pytest.raises(RecordingError):
                load(path)


@POSIX
def test_every_command_judges_the_good_runs_and_names_the_others(
    folder: tuple[Path, set[str]], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    place, good = folder
    entries(place)
    assert main(["compare", str(place), "--strategy", "hold", "--json", "-"]) == 3
    said = capsys.readouterr()
    judged = {Path(run["recording"]).name for run in json.loads(said.out)["runs"]}
    assert judged - {"words 0.h5"} == good, "a journal of which nothing is whole is a run without samples"
    assert said.err.count("not compared") >= 10
    assert main(["guard", str(place), "--keep", str(tmp_path / "agreed.txt"), "--strategy", "hold"]) == 3
    assert f"{len(good) + 1} runs" in capsys.readouterr().out
    assert main(["guard", "--check", str(tmp_path / "agreed.txt")]) == 0
    assert main(["runs", "verify", str(place)]) == 1
    assert f"{len(good)} whole" in capsys.readouterr().out
    files = sorted(path for path in place.glob("*.h5"))
    assert main(["export", *map(str, files)]) == 3
    assert {path.stem for path in place.glob("*.csv")} == {Path(name).stem for name in good}
    for path in [*place.glob("*.csv"), *place.glob("*.csv.json")]:
        path.unlink()


@pytest.mark.parametrize("how", ["external storage", "external link", "virtual", "soft link"])
def test_no_other_file_is_read(tmp_path: Path, how: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("telemetry.recording.hdf5.reader.assure", lambda path, **_: None)  # the reader refuses it by itself
    (tmp_path / "secret").write_bytes(bytes(64))
    hostile.reads_others(tmp_path / "x.h5", tmp_path / "secret", how)
    with pytest.raises(RecordingError, match="damaged"):
        load(tmp_path / "x.h5")


@POSIX
def test_a_reader_that_died_with_nothing_to_do_is_no_files_fault() -> None:
    reader = TrialReader()
    try:
        assert [said["state"] for _, said in reader.each("look", [hostile.GOOD])] == ["whole"]
        assert reader._process is not None
        reader._process.kill()
        reader._process.wait(10)
        assert [said["state"] for _, said in reader.each("look", [hostile.GOOD])] == ["whole"]
    finally:
        reader.close()


@POSIX
def test_a_file_that_kills_its_reader_is_named_and_the_rest_is_read(tmp_path: Path) -> None:
    reader = TrialReader()
    path = hostile.GOOD
    try:
        answers = reader.each("look", [path, path, path])
        assert next(answers)[1]["state"] == "whole"
        assert reader._process is not None
        reader._process.send_signal(signal.SIGSEGV)  # in the middle of the second or third, or before them
        reader._process.wait(10)
        assert [said is None or said["state"] == "whole" for _, said in answers] == [True, True]
        assert [said["state"] for _, said in reader.each("look", [path])] == ["whole"]
    finally:
        reader.close()


@POSIX
def test_a_file_that_holds_its_reader_for_ever_is_given_up(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    reader = TrialReader()
    try:
        list(reader.each("look", [hostile.GOOD]))
        assert reader._process is not None
        monkeypatch.setattr(expendable, "LIMIT_S", 0.3)
        reader._process.send_signal(signal.SIGSTOP)
        assert [said for _, said in reader.each("look", [hostile.GOOD])] == [None]
        monkeypatch.setattr(expendable, "LIMIT_S", 60.0)
        assert [said["state"] for _, said in reader.each("look", [hostile.GOOD])] == ["whole"]
    finally:
        reader.close()


@POSIX
def test_pipes_in_the_places_of_our_own_files_are_not_waited_for(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    shutil.copy(hostile.GOOD, tmp_path / "a.h5")
    for name in (".sidelong-index.json", "agreed.txt", "page.html", "a.csv", "out.json"):
        os.mkfifo(tmp_path / name)
    before = signal.signal(signal.SIGALRM, lambda *_: (_ for _ in ()).throw(TimeoutError("it waited")))
    signal.alarm(60)
    try:
        for words, code in (
            (["runs", "list", str(tmp_path)], 0), (["guard", str(tmp_path), "--keep", str(tmp_path / "agreed.txt")], 5),
            (["guard", "--check", str(tmp_path / "agreed.txt")], 3), (["export", str(tmp_path / "a.h5")], 5),
            (["report", str(tmp_path), "-o", str(tmp_path / "page.html"), "--force"], 5),
            (["runs", "list", str(tmp_path), "--json", str(tmp_path / "out.json")], 5),
        ):  # fmt: skip
            assert main(words) == code, (words, capsys.readouterr().err)
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, before)
    assert "not a plain file" in capsys.readouterr().err
    assert (tmp_path / "agreed.txt").is_fifo()


def test_nothing_is_imported_from_the_folder_that_is_listed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("json.py", "numpy.py", "telemetry.py", "h5py.py"):
        (tmp_path / name).write_text(f"open({str(tmp_path / 'ran')!r}, 'w').close()\n")
    monkeypatch.chdir(tmp_path)
    reader = TrialReader()
    try:
        assert [said["state"] for _, said in reader.each("look", [hostile.GOOD])] == ["whole"]
    finally:
        reader.close()
    assert not (tmp_path / "ran").exists()


@pytest.mark.parametrize("words", [["compare", "runs", "-j", "2"], ["doctor"]])
def test_no_worker_imports_what_lies_in_the_folder_stood_in(tmp_path: Path, words: list[str]) -> None:
    place = tmp_path / "theirs"
    (place / "runs").mkdir(parents=True)
    for number in range(13):
        shutil.copy(hostile.GOOD, place / "runs" / f"{number}.h5")
    for name in ("multiprocessing", "signal", "struct", "pickle", "json", "numpy", "telemetry", "PySide6"):
        (place / f"{name}.py").write_text(f"open({str(tmp_path / 'ran')!r}, 'w').close()\n")
    start = "import sys\nfrom telemetry.cli import main\nif __name__ == '__main__': sys.exit(main())\n"
    (tmp_path / "sidelong.py").write_text(start)
    bare = {name: value for name, value in os.environ.items() if not name.startswith("PYTHON")}
    command = [sys.executable, str(tmp_path / "sidelong.py"), *words]
    done = subprocess.run(command, cwd=place, env=bare, capture_output=True, text=True, check=False)
    assert not (tmp_path / "ran").exists(), done.stderr
    assert words == ["doctor"] or done.returncode == 0, done.stderr


@POSIX
def test_the_process_ends_with_whoever_started_it(tmp_path: Path) -> None:
    reader = TrialReader()
    list(reader.each("look", [hostile.GOOD]))
    process = reader._process
    assert process is not None
    assert process.stdin is not None
    process.stdin.close()  # as it is closed by the system when we are killed
    assert process.wait(20) == 0
    reader.close()
    assert os.name == "posix"
