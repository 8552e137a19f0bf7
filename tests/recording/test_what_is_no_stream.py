"""A table from a spreadsheet, or columns named wrongly: the message says what to change, and changing it helps."""

from pathlib import Path

import pytest

from telemetry.cli import main
from telemetry.errors import EXIT_INPUT, EXIT_OK, EXIT_USAGE

LINES = [f"{1000 + 10 * i},none,{i % 7},5,6,{i / 10:g}" for i in range(50)]
HEADING = "t/ms,colour,red,green,blue,dist/cm"
TABLE = [HEADING, *LINES]


def text(lines: list[str], end: str = "\n") -> bytes:
    return "".join(line + end for line in lines).encode()


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (text(TABLE), "save it with commas between, and # before that line"),
        (b"\xef\xbb\xbf" + text(TABLE, "\r\n"), "save it with commas between, and # before that line"),
        (text([line.replace(",", ";") for line in TABLE]), "save it with commas between, and # before that line"),
        (text(['"' + line.replace(",", '","') + '"' for line in TABLE]), "with the quotation marks taken away, commas"),
        (text(['"' + line.replace(",", '","') + '"' for line in LINES]), "Its values stand in quotation marks"),
        (text(["t/us,arrival/us,colour", "1000,5,none"]), "sidelong export --back"),
        (text(LINES), 'name the columns in their order: --columns "'),
        (b"Dear coach,\nthe lamp was off.\n", "no line of it is a sample"),
    ],
)  # fmt: skip
def test_the_message_says_what_to_change(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], content: bytes, says: str
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("table.csv").write_bytes(content)
    assert main(["ingest", "table.csv", "-o", "a.h5"]) == EXIT_INPUT
    assert says in capsys.readouterr().err
    assert not Path("a.h5").exists()


def test_the_change_helps(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    Path("table.csv").write_bytes(b"#" + text(TABLE))
    assert main(["ingest", "table.csv", "-o", "a.h5"]) == EXIT_OK


@pytest.mark.parametrize(
    ("columns", "says"),
    [("n,t,colour", "t has no unit. Name each as quantity/unit. Units: us, ms, s."),
     ("t/ms,dist/inch", "unknown unit 'inch' of dist. Name each as quantity/unit. Units: cm, mm, m.")],
)  # fmt: skip
def test_columns_without_a_unit_are_refused_without_saying_what_would_be_taken(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], columns: str, says: str
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("plain.txt").write_bytes(text(LINES))
    assert main(["ingest", "plain.txt", "-o", "a.h5", "--columns", columns]) == EXIT_USAGE
    assert says in capsys.readouterr().err


def test_a_misspelt_colour_column_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("plain.txt").write_bytes(text(["#" + HEADING.replace("colour", "color"), *LINES]))
    assert main(["ingest", "plain.txt", "-o", "a.h5"]) == EXIT_OK
    assert "The column 'color' holds words" in (out := capsys.readouterr().out)
    assert "Did you mean 'colour'?" in out
