"""A place that cannot be written to is the same exit code and says so, whichever command was to write there."""

from __future__ import annotations

from pathlib import Path

import pytest

from telemetry.cli import main
from telemetry.errors import EXIT_STORAGE, EXIT_USAGE

RUN = str(Path(__file__).parents[1] / "recordings" / "practice-01.h5")


@pytest.mark.parametrize(
    "words",
    [
        ["compare", RUN, "--strategy", "hold", "--json", "nowhere/x.json"],
        ["compare", RUN, "--strategy", "hold", "--junit", "nowhere/x.xml"],
        ["report", RUN, "--strategy", "hold", "-o", "nowhere/x.html"],
        ["recipe", "checklist", "--like", RUN, "-o", "nowhere/x.html"],
        ["runs", "list", str(Path(RUN).parent), "--json", "nowhere/x.json"],
        ["guard", RUN, "--strategy", "hold", "--keep", "nowhere/x.txt"],
    ],
    ids=lambda words: f"{words[0]} {words[-2]}",
)
def test_a_folder_that_is_not_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], words: list[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(words) == EXIT_STORAGE
    assert "nowhere" in (said := capsys.readouterr().err)
    assert "Choose another place" in said
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("command", ["recipe", "card"])
def test_a_page_is_only_written_as_what_its_name_says(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], command: str
) -> None:
    assert main([command, "checklist", "--like", RUN, "-o", str(tmp_path / "x.docx")]) == EXIT_USAGE
    assert "does not end in .html or .pdf" in capsys.readouterr().err
    assert not list(tmp_path.iterdir())
