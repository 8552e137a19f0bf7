"""What newcomers typed wrong, and what the command line answers: each answer names the slip and what to type instead."""

import shutil
from pathlib import Path

import pytest

from telemetry.cli import main


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A course, the text of one simulated run and its recording."""
    folder = tmp_path_factory.mktemp("slips")
    from telemetry.sources.synthetic.run import built_in_course, simulate

    (folder / "course.toml").write_text(built_in_course("row").text, encoding="utf-8")
    (folder / "run.txt").write_bytes(simulate("practice", 4).data)
    words = ["ingest", str(folder / "run.txt"), "--course", str(folder / "course.toml"), "-o", str(folder / "run.h5")]
    assert main(words) == 0
    return folder


def answer(words: list[str], code: int, capsys: pytest.CaptureFixture[str]) -> str:
    capsys.readouterr()
    assert main(words) == code
    return " ".join(capsys.readouterr().err.split())


def test_a_number_in_words_is_typed_in_digits(made: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    mine = tmp_path / "ours.toml"
    mine.write_text('[[stage]]\nstage = "hold"\nsamples = two\n', encoding="utf-8")
    said = answer(["compare", str(made / "run.h5"), "--strategy", str(mine)], 3, capsys)
    assert "line 3 has a number in words. Type it in digits: samples = 2" in said


def test_a_number_in_quotation_marks_with_a_comma(made: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    mine = tmp_path / "course.toml"
    text = (made / "course.toml").read_text(encoding="utf-8")
    assert "at_cm = 9.0" in text
    mine.write_text(text.replace("at_cm = 9.0", 'at_cm = "9,5"'), encoding="utf-8")
    said = answer(["compare", str(made / "run.h5"), "--course", str(mine)], 3, capsys)
    assert "Type it without quotation marks and with a point: 9.5" in said


def test_an_empty_file_is_no_lost_recording(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "empty.txt").touch()
    assert "the file is empty, so this is not a recording" in answer(["compare", str(tmp_path / "empty.txt")], 3, capsys)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["capture", "robot:venue", "--for", "abc"], "--for takes a number, not 'abc'"),
        (["capture", "robot:venue", "--truth", "rust,", "leaf"], "'rust, leaf' is not one word. Put no blank after a comma"),
        (["runs", "truth", "rust,", "leaf", "run.h5"], "'rust, leaf' is not one word. Put no blank after a comma"),
        (["capture", "robot:venue?sed=4"], "Did you mean 'seed'?"),
    ],
)
def test_words_are_answered_with_what_was_meant(words: list[str], said: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert said in answer(words, 2, capsys)


@pytest.mark.parametrize(("action", "word"), [("tag", "words"), ("rename", "name"), ("note", "text")])
def test_a_file_before_its_new_label(made: Path, action: str, word: str, capsys: pytest.CaptureFixture[str]) -> None:
    said = answer(["runs", action, str(made / "run.h5"), "wet"], 2, capsys)
    assert f"run.h5 is a file, and the {word} come" in said
    assert f"sidelong runs {action} {word.upper()} FILE" in said


def test_values_with_their_names_before_them(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = tmp_path / "named.txt"
    text.write_text("".join(f"t={20 * n} r=128 g=132\n" for n in range(60)), encoding="utf-8")
    for more in ([], ["--columns", "t/ms,red,green"]):
        said = answer(["ingest", str(text), *more, "-o", str(tmp_path / "a.h5")], 3, capsys)
        assert "Values are bare numbers with commas between, such as 10,128,132: let the robot leave out 't='." in said


def test_codes_that_nobody_explained(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = tmp_path / "codes.txt"
    text.write_text("".join(f"{20 * n},{n % 3}\n" for n in range(60)), encoding="utf-8")
    assert main(["ingest", str(text), "--columns", "t/ms,colour", "-o", str(tmp_path / "a.h5")]) == 0
    assert capsys.readouterr().out.count("a line such as #codes,0=none,5=rust at the top of the text") == 1


def test_a_palette_with_fewer_colours_than_before(made: Path, capsys: pytest.CaptureFixture[str]) -> None:
    stills = []
    for colour in ("none", "leaf", "rust"):
        assert main(["robot", "--level", "practice", "--still", colour, "--link", "stdout"]) == 0
        (made / f"{colour}.txt").write_text(capsys.readouterr().out, encoding="utf-8")
        stills.append(f"{colour}={made / f'{colour}.txt'}")
    for words in (stills, stills[:2]):
        assert main(["calibrate", *words, "-o", str(made / "all.toml")]) == 0
    assert "is kept as" in (said := " ".join(capsys.readouterr().out.split()))
    assert "It also knew rust, which the new one does not." in said


def test_a_course_given_as_a_palette(made: Path, capsys: pytest.CaptureFixture[str]) -> None:
    said = answer(["compare", str(made / "run.h5"), "--palette", str(made / "course.toml")], 3, capsys)
    assert "this is a course, not a palette" in said


def test_decimal_commas_in_a_stream_of_commas(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = tmp_path / "comma.txt"
    text.write_text("".join(f"{20 * n},{n % 90},5,{n},5\n" for n in range(60)), encoding="utf-8")
    said = answer(["ingest", str(text), "--columns", "t/ms,refl/%,dist/cm", "-o", str(tmp_path / "a.h5")], 3, capsys)
    assert "If 0,5 stands for half in it, type a point there, or semicolons between the values" in said


def test_columns_may_be_named_with_semicolons(tmp_path: Path) -> None:
    text = tmp_path / "semicolons.txt"
    text.write_text("".join(f"{20 * n};{n % 90},5;{n},5\n" for n in range(60)), encoding="utf-8")
    assert main(["ingest", str(text), "--columns", "t/ms;refl/%;dist/cm", "-o", str(tmp_path / "a.h5")]) == 0
    from telemetry.recording.load import load

    table = load(tmp_path / "a.h5").table
    assert (table.rows, float(table.columns["refl"][1]), float(table.columns["dist"][1])) == (60, 1.5, 1.5)


def test_what_to_do_about_columns_that_are_mistaken(made: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = (made / "run.txt").read_text(encoding="utf-8")
    assert "t/ms" in text
    (tmp_path / "s.txt").write_text(text.replace("t/ms", "t/s"), encoding="utf-8")
    target = tmp_path / "my runs" / "s.h5"
    assert main(["ingest", str(tmp_path / "s.txt"), "-o", str(target)]) == 0
    out = capsys.readouterr().out
    assert "is the unit of t right?" in out
    assert f'sidelong runs remove "{target}"' in out


def test_a_misspelt_colour_in_a_recheck(made: Path, capsys: pytest.CaptureFixture[str]) -> None:
    stills = []
    for colour in ("none", "leaf"):
        assert main(["robot", "--level", "practice", "--still", colour, "--link", "stdout"]) == 0
        (made / f"{colour}.txt").write_text(capsys.readouterr().out, encoding="utf-8")
        stills.append(f"{colour}={made / f'{colour}.txt'}")
    palette = str(made / "palette.toml")
    assert main(["calibrate", *stills, "-o", palette]) == 0
    said = answer(["recheck", palette, f"lead={made / 'leaf.txt'}"], 3, capsys)
    assert "no colour 'lead'. Did you mean 'leaf'?" in said


def test_a_stream_that_nothing_can_read_is_told_when_it_is_recorded(tmp_path: Path, capsys) -> None:
    for columns, told in (("refl/%", True), ("colour", False), ("red,green,blue", False)):
        text, target = tmp_path / "plain.txt", tmp_path / f"{columns[:3]}.h5"
        values = {"refl/%": "12.5", "colour": "rust", "red,green,blue": "100,90,80"}[columns]
        text.write_text("".join(f"{20 * n},{values},{n}\n" for n in range(60)), encoding="utf-8")
        assert main(["ingest", str(text), "--columns", f"t/ms,{columns},dist/cm", "-o", str(target)]) == 0
        assert ("no strategy can read this run" in capsys.readouterr().out) == told


def test_a_note_that_never_came_is_told_when_the_run_is_recorded(made: Path, tmp_path: Path, capsys) -> None:
    text = (made / "run.txt").read_text(encoding="utf-8")
    mute = tmp_path / "mute.txt"
    mute.write_text("\n".join(line for line in text.splitlines() if "gate open" not in line) + "\n", encoding="utf-8")
    capsys.readouterr()
    for source, told in ((mute, True), (made / "run.txt", False)):
        target = tmp_path / f"{source.stem}.h5"
        assert main(["ingest", str(source), "--course", str(made / "course.toml"), "-o", str(target)]) == 0
        assert ("begins at the note 'gate open', which never came" in capsys.readouterr().out) == told


def test_of_a_run_that_is_gone_all_readings_count(made: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    runs = tmp_path / "runs"
    runs.mkdir()
    for name in ("one.h5", "two.h5"):
        shutil.copy(made / "run.h5", runs / name)
    baseline = str(tmp_path / "baseline.toml")
    assert main(["guard", str(runs), "--strategy", "windows", "--keep", baseline]) == 0
    (runs / "two.h5").unlink()
    capsys.readouterr()
    assert main(["guard", "--check", baseline]) == 1
    out = capsys.readouterr().out
    assert "9 readings differ" in out
    assert "9 not read any more" in out
    assert "different" not in out


def test_a_capture_that_is_ended_early_says_what_was_read(made: Path, tmp_path: Path, capsys) -> None:
    """Cut off before the note at which the second leg begins."""
    text = (made / "run.txt").read_text(encoding="utf-8")
    (tmp_path / "short.txt").write_text(text[: text.index("gate open") - 20].rpartition("\n")[0] + "\n", encoding="utf-8")
    words = ["capture", str(tmp_path / "short.txt"), "--course", str(made / "course.toml"), "--strategy", "windows"]
    capsys.readouterr()
    assert main([*words, "-o", str(tmp_path / "short.h5")]) == 0
    out = capsys.readouterr().out
    assert "of 9 slots read" in out
    assert "does not apply here" not in out
