"""calibrate and recheck from the command line, on text streams as anyone may have saved them."""

from __future__ import annotations

from pathlib import Path

import pytest
from evidence.other_robot import NAMES, Bench, stream_text

from telemetry.cli import main
from telemetry.palette_file import read_palette

BENCH = Bench(4, "earth", "row")


@pytest.fixture
def stills(tmp_path: Path) -> Path:
    for name in ("none", *NAMES):
        (tmp_path / f"{name}.txt").write_text(stream_text(BENCH.still(name)), encoding="utf-8")
    return tmp_path


def test_calibrate_writes_a_palette_and_says_what_it_is_good_for(stills: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = stills / "palette.toml"
    words = [f"{name}={stills / name}.txt" for name in ("none", "rust", "sky")]
    assert main(["calibrate", *words, "-o", str(out)]) == 0
    said = capsys.readouterr().out
    assert read_palette(out).names == ("none", "rust", "sky")
    assert "Pairs most easily confused" in said
    assert "by codes" in said
    assert "up to" not in said
    assert main(["recheck", str(out), f"none={stills / 'none.txt'}", f"rust={stills / 'rust.txt'}"]) == 0
    assert "as before" in capsys.readouterr().out
    assert main(["recheck", str(out), f"none={stills / 'none.txt'}", f"rust={stills / 'sky.txt'}"]) == 1


def test_an_earlier_palette_of_that_name_is_kept(stills: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = stills / "palette.toml"
    texts = []
    for names in (("none", "rust"), ("none", "sky"), ("none", "leaf")):
        assert main(["calibrate", *(f"{name}={stills / name}.txt" for name in names), "-o", str(out)]) == 0
        texts.append(out.read_text(encoding="utf-8"))
    assert "kept as" in capsys.readouterr().out
    kept = [(stills / f"palette.before-{number}.toml").read_text(encoding="utf-8") for number in (1, 2)]
    assert [*kept, out.read_text(encoding="utf-8")] == texts


def test_one_surface_is_too_few_to_recheck_by_and_a_drive_is_said_to_be_one(
    stills: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = stills / "palette.toml"
    words = [f"{name}={stills / name}.txt" for name in ("none", "rust")]
    assert main(["calibrate", *words, "-o", str(out)]) == 0
    assert main(["recheck", str(out), words[0]]) == 2
    assert "one surface cannot tell another height from another light" in capsys.readouterr().err
    driven = "".join(f"{i * 10},{100 + i % 3},{90 + i % 3},{80 + i % 2},{i * 5}\n" for i in range(60))
    (stills / "driven.txt").write_text("#t/ms,red,green,blue,dist/mm\n" + driven, encoding="utf-8")
    for command in (["recheck", str(out)], ["calibrate", "-o", str(stills / "driven.toml")]):
        assert main([*command, f"none={stills / 'driven.txt'}", words[1]]) == 3
        assert "what was given for none is a drive of 30 cm, no capture of one surface" in capsys.readouterr().err
    assert not (stills / "driven.toml").exists()
    rolled = "".join(f"{i * 10},{100 + i % 3},{90 + i % 3},{80 + i % 2},{i}\n" for i in range(60))
    (stills / "rolled.txt").write_text("#t/ms,red,green,blue,dist/mm\n" + rolled, encoding="utf-8")
    assert main(["calibrate", f"none={stills / 'rolled.txt'}", words[1], "-o", str(out)]) == 1
    said = capsys.readouterr().out
    assert "Note: none: the distance changed by 5.9 cm: hold it still." in said
    assert "Before you use it, capture again: none" in said
    assert "Use it:" not in said
    main(["recheck", str(out), f"none={stills / 'rolled.txt'}", f"rust={stills / 'sky.txt'}"])
    assert "Take none again first, held still." in capsys.readouterr().out


def test_one_file_for_two_colours_is_refused_also_as_a_copy(stills: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (stills / "copy.txt").write_bytes((stills / "none.txt").read_bytes())
    for file in ("none.txt", "copy.txt"):
        words = [f"none={stills / 'none.txt'}", f"sky={stills / file}"]
        assert main(["calibrate", *words, "-o", str(stills / "p.toml")]) == 3
        assert "none and sky were given the same samples" in capsys.readouterr().err
    assert not (stills / "p.toml").exists()


def test_a_colour_given_twice_is_refused(stills: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = [f"rust={stills / 'rust.txt'}", f"rust={stills / 'sky.txt'}"]
    assert main(["calibrate", f"none={stills / 'none.txt'}", *words, "-o", str(stills / "p.toml")]) == 2
    assert "'rust' is given twice" in capsys.readouterr().err
    assert main(["calibrate", f"le#mon={stills / 'rust.txt'}", "-o", str(stills / "p.toml")]) == 2
    assert "a colour cannot be called 'le#mon'" in capsys.readouterr().err
    assert not (stills / "p.toml").exists()


def test_heights_go_with_the_colour(stills: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = stills / "palette.toml"
    words = [f"{name}@{mm}={stills / name}.txt" for name in ("none", "rust") for mm in (8, 12)]
    assert main(["calibrate", *words, "-o", str(out)]) == 0
    rust = read_palette(out).get("rust")
    assert rust is not None
    assert [mm for mm, _ in rust.by_height] == [8.0, 12.0]
    assert "falls with height" in capsys.readouterr().out


def test_codes_only_streams_make_a_palette_too(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for name in ("none", "rust"):
        lines = "".join(f"{i * 10},{name}\n" for i in range(60))
        (tmp_path / f"{name}.txt").write_text("#t/ms,colour\n" + lines, encoding="utf-8")
    out = tmp_path / "palette.toml"
    assert main(["calibrate", f"none={tmp_path / 'none.txt'}", f"rust={tmp_path / 'rust.txt'}", "-o", str(out)]) == 0
    assert "rust 100 %" in capsys.readouterr().out
    assert main(["recheck", str(out), f"rust={tmp_path / 'rust.txt'}"]) == 0
    assert main(["recheck", str(out), f"rust={tmp_path / 'none.txt'}"]) == 1


@pytest.mark.parametrize(
    ("words", "says", "code"),
    [
        (["rust"], "is not COLOUR=FILE", 2),
        (["rust@high=x.txt"], "not a height", 2),
        (["rust=nowhere.txt"], "no such file", 3),
        ([], "nothing to learn", 2),
        (["--from", "loop://"], "--colours", 2),
        (["--from", "robot:venue", "--colours", "none,rust"], "sidelong robot --still none --link stdout > none.txt", 2),
    ],
)
def test_slips_get_one_sentence(
    words: list[str], says: str, code: int, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["calibrate", *words, "-o", str(tmp_path / "p.toml")]) == code
    error = capsys.readouterr().err
    assert says in error
    assert "Traceback" not in error
    assert not (tmp_path / "p.toml").exists()


def test_a_text_without_samples_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "bad.txt").write_text("hello\nworld\n", encoding="utf-8")
    assert main(["calibrate", f"rust={tmp_path / 'bad.txt'}", "-o", str(tmp_path / "p.toml")]) == 3
    said = capsys.readouterr().err
    assert "no samples" in said
    assert "Numbers without a header line need --columns" in said


def test_a_capture_of_another_colour_is_told(stills: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    palette = tmp_path / "palette.toml"
    words = [f"{name}={stills / name}.txt" for name in ("none", "rust", "sky")]
    assert main(["calibrate", *words, "-o", str(palette)]) == 0
    capsys.readouterr()
    assert main(["recheck", str(palette), words[0], f"sky={stills / 'rust'}.txt"]) == 1
    said = " ".join(capsys.readouterr().out.split())
    assert "was the sensor over another colour?: over sky levels and code are those of rust" in said
    assert "Hold the sensor over the colour that it is said to be over" in said
    assert "light" not in said


def test_swapped_files_are_asked_about(stills: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "swapped.toml"
    none, rust = stills / "none.txt", stills / "rust.txt"
    assert main(["calibrate", f"none={rust}", f"rust={none}", "-o", str(out)]) == 1
    said = capsys.readouterr().out
    assert "are the two files swapped?" in said
    assert "Before you use it, capture again: none, rust (see the notes)." in said
    assert "Use it:" not in said
    right = tmp_path / "right.toml"
    assert main(["calibrate", f"none={none}", f"rust={rust}", "-o", str(right)]) == 0
    assert "files swapped" not in capsys.readouterr().out
    assert main(["recheck", str(right), f"none={rust}", f"rust={none}"]) == 1
    said = " ".join(capsys.readouterr().out.split())
    assert "are two captures exchanged?: none looks like rust, and rust like none." in said
    assert "Shade the sensor" not in said
    assert "over none the sensor's own code is another than it was" in said
