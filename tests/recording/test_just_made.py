"""What a recording that was just made says where it does not hold what it was meant to hold (simulated text)."""

from pathlib import Path

from telemetry.cli import main
from telemetry.recording.assemble import StreamSummary
from telemetry.report.just_made import JustMade
from telemetry.stream.garbage import WRONG_BAUD


def drive(start_ms: int) -> list[str]:
    """Two seconds of 30 cm/s, then a rest of four."""
    moving = [f"{start_ms + 20 * n},none,{6 * n}" for n in range(100)]
    return [*moving, *(f"{start_ms + 2000 + 20 * n},none,600" for n in range(200))]


def ingested(folder: Path, drives: int, capsys) -> str:
    text = folder / "drives.txt"
    lines = [line for number in range(drives) for line in drive(10_000 * number)]
    text.write_text("\n".join(["#t/ms,colour,dist/mm", *lines, ""]), encoding="utf-8")
    assert main(["ingest", str(text), "-o", str(folder / f"of{drives}.h5")]) == 0
    out = capsys.readouterr()
    return out.out + out.err


def test_several_drives_in_one_text_are_told(tmp_path, capsys):
    assert "this looks like 3 runs" in ingested(tmp_path, 3, capsys)


def test_one_drive_is_none_of_several(tmp_path, capsys):
    assert "this looks like" not in ingested(tmp_path, 1, capsys)


def test_a_folder_is_no_recording(tmp_path, capsys):
    (tmp_path / "runs").mkdir()
    text = tmp_path / "run.txt"
    text.write_text("\n".join(["#t/ms,colour,dist/mm", *drive(0), ""]), encoding="utf-8")
    assert main(["ingest", str(text), "-o", str(tmp_path / "runs")]) == 2
    assert "is a folder" in capsys.readouterr().err
    assert sorted(path.name for path in tmp_path.iterdir()) == ["run.txt", "runs"]


def test_what_may_be_wrong_with_a_capture_without_samples(tmp_path):
    """Numbers without names are lines rejected; what a wrong baud rate makes of them is no text at all."""
    for summary, says in (
        (StreamSummary(rejected=40), "need --columns"),
        (StreamSummary(rejected=40, remarks=[WRONG_BAUD]), "is --baud right?"),
        (StreamSummary(), "is --baud right?"),
    ):
        assert says in JustMade(tmp_path / "a.h5", summary).line()


def test_a_palette_is_no_baseline(tmp_path, capsys):
    palette = tmp_path / "palette.toml"
    palette.write_text('version = 1\nname = "hall"\n', encoding="utf-8")
    assert main(["guard", "--check", str(palette)]) == 3
    assert "is not a file of agreed readings" in capsys.readouterr().err
