"""Strategies in words, and the line of progress."""

import subprocess
import sys
import threading

import pytest

from telemetry import cli
from telemetry.cli import main
from telemetry.reading.catalogue import STAGES
from telemetry.reading.load import load_strategy
from telemetry.reading.strategies import STRATEGIES
from telemetry.report import progress
from telemetry.report.table import WIDTH, width_of


def printed(capsys, *words):
    assert cli.main(["strategies", *words]) == 0
    out = capsys.readouterr().out
    assert max(width_of(line) for line in out.splitlines()) <= WIDTH
    return out


def test_all_are_listed(capsys):
    out = printed(capsys)
    for name in (*STRATEGIES, *STAGES):
        assert f"\n  {name} " in out


@pytest.mark.parametrize("name", list(STRATEGIES))
def test_each_strategy_with_its_stages_and_settings(capsys, name):
    out = printed(capsys, name)
    for use in STRATEGIES[name].uses:
        assert f". {use.stage}\n" in out
        for key, value in use.settings.items():
            assert f"{key} = {value}" in out


@pytest.mark.parametrize("name", list(STAGES))
def test_each_stage_with_its_ranges(capsys, name):
    out = printed(capsys, name)
    for setting in STAGES[name].settings:
        assert f"{setting.name} = " in out
        if not setting.is_text:
            assert f"{setting.low} to {setting.high})" in " ".join(out.split())


def test_a_strategy_as_a_file_to_change(capsys, tmp_path):
    text = printed_raw(capsys, "checklist", "--toml")
    (tmp_path / "ours.toml").write_text(text)
    ours = load_strategy(str(tmp_path / "ours.toml"))
    assert [use.stage for use in ours.uses] == [use.stage for use in STRATEGIES["checklist"].uses]


def printed_raw(capsys, *words):
    assert cli.main(["strategies", *words]) == 0
    return capsys.readouterr().out


def test_typos(capsys):
    assert cli.main(["strategies", "checklst"]) == 3
    assert "Did you mean 'checklist'?" in capsys.readouterr().err
    assert cli.main(["strategies", "--toml"]) == 2


class Terminal:
    def __init__(self, is_one):
        self.is_one = is_one
        self.text = ""

    def isatty(self):
        return self.is_one

    def write(self, text):
        self.text += text

    def flush(self):
        pass


@pytest.mark.parametrize("is_one", [True, False])
def test_progress_shows_on_a_terminal_what_takes_long(monkeypatch, is_one):
    screen = Terminal(is_one)
    monkeypatch.setattr(progress.sys, "stderr", screen)
    now = 0.0
    tell = progress.progress_line("replayed", 10, clock=lambda: now)
    tell(1)
    assert screen.text == ""
    now = 0.7
    tell(2)
    tell(3)  # too soon after the last
    now = 0.9
    tell(10)
    assert ("replayed 2 of 10" in screen.text) is is_one
    assert "3 of 10" not in screen.text
    assert screen.text.endswith("\r") or not is_one


def test_quiet_shows_no_progress_and_the_next_command_does_again(monkeypatch, capsys):
    screen = Terminal(True)
    monkeypatch.setattr(progress.sys, "stderr", screen)
    for quiet, shown in (("-q", False), ("", True)):
        assert main(["stress", "/nowhere", "--strategy", "windows", *filter(None, [quiet])]) == 3
        before = screen.text
        progress.progress_line("replayed", 10, clock=iter([0.0, 0.7]).__next__)(2)
        assert ("replayed 2 of 10" in screen.text[len(before):]) is shown
        with progress.signs_of_life("at work"):
            pass
        assert (screen.text != before) is shown


@pytest.mark.parametrize("is_one", [True, False])
def test_signs_of_life_where_nothing_else_is_told(monkeypatch, is_one):
    class Watched(Terminal):
        written = threading.Event()

        def write(self, text):
            super().write(text)
            if "at work: 61 s" in self.text:
                self.written.set()

    screen = Watched(is_one)
    monkeypatch.setattr(progress.sys, "stderr", screen)
    monkeypatch.setattr(progress, "QUIET_S", 0.02)
    now = 100.0
    with progress.signs_of_life("at work", clock=lambda: now):
        now = 161.0
        assert screen.written.wait(30)
    # A log gets a line of its own, a terminal one line that is taken away again.
    assert screen.text.endswith("\r" if is_one else "at work: 61 s\n")
    assert ("\r" in screen.text) is is_one


def test_the_compiler_puts_no_control_characters_onto_the_terminal():
    """numba colours its messages otherwise, through a library that writes at the program's end."""
    pytest.importorskip("numba")
    code = (
        "from telemetry.reading.compiled import function_of;"
        "function_of('@jit\\ndef run(a):\\n    return a + 1')(1); import numba.core.errors as e;"
        "print(type(e.termcolor()).__name__)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "NOPColorScheme"
