"""``sidelong robot`` says which colours it has no surface for, and takes no misspelt one."""

from __future__ import annotations

from pathlib import Path

import pytest

from telemetry.cli import main
from telemetry.errors import EXIT_OK, EXIT_USAGE

COURSE = """[course]
name = "x"
[[group]]
name = "g"
distinct = ["red", "ochre"]
[[slot]]
name = "a"
group = "g"
at_cm = 20
"""
STDOUT = ("--link", "stdout", "--speed-up", "0")


@pytest.mark.parametrize(
    ("words", "says"),
    [(["--still", "oragne"], "Did you mean 'orange'?"), (["--still", "field"], "no surface called 'field'"),
     (["--still", "redd", "--course", "mine.toml"], "Did you mean 'red'?")],
)  # fmt: skip
def test_a_misspelt_colour_is_not_swallowed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], words: list[str], says: str
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("mine.toml").write_text(COURSE)
    assert main(["robot", *words, *STDOUT]) == EXIT_USAGE
    assert says in capsys.readouterr().err


def test_a_colour_without_a_surface_is_drawn_as_another_and_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("mine.toml").write_text(COURSE)
    for words in (["--truth", "ochre"], ["--still", "ochre"]):
        assert main(["robot", "--course", "mine.toml", *words, *STDOUT]) == EXIT_OK
        said = capfd.readouterr()
        assert "'ochre' is not a colour that the built-in robot knows: it takes the surface 'tan'" in said.err
        assert "'red'" not in said.err
