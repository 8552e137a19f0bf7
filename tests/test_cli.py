"""The command line: finding commands, one sentence for every error, exit codes."""

import errno
import subprocess
import sys
import types
from pathlib import Path

import pytest
from replay.runs import GOOD, drive, record

from telemetry import cli, commands
from telemetry.commands import ALL_COMMANDS, OTHER_WORDS
from telemetry.errors import (
    EXIT_BUG,
    EXIT_INPUT,
    EXIT_INTERRUPTED,
    EXIT_LINK,
    EXIT_MISSING,
    EXIT_OK,
    EXIT_PIPE,
    EXIT_STORAGE,
    EXIT_USAGE,
    LinkError,
    StorageError,
)


@pytest.fixture
def fake(monkeypatch):
    """A command 'fake' whose run does what the test says."""

    def install(action):
        module = types.SimpleNamespace(
            arguments=lambda parser: parser.add_argument("--json", default=""), run=action
        )
        monkeypatch.setitem(commands.COMMANDS, "fake", "do something")
        monkeypatch.setitem(commands.ALL_COMMANDS, "fake", "do something")
        monkeypatch.setitem(sys.modules, "telemetry.commands.fake", module)

    return install


def test_help_names_every_command(capsys):
    assert cli.main(["--help"]) == EXIT_OK
    out = capsys.readouterr().out
    for name, what in (commands.COMMANDS | commands.WINDOW_COMMANDS).items():
        assert f"  {name} " in out
        assert what in out
    assert max(map(len, out.splitlines())) <= 100


def test_version(capsys):
    assert cli.main(["--version"]) == EXIT_OK
    assert capsys.readouterr().out.startswith("sidelong 0.")


def test_unknown_command_suggests_the_nearest(capsys):
    assert cli.main(["comprae"]) == EXIT_USAGE
    assert capsys.readouterr().err == "sidelong: there is no command 'comprae'. Did you mean 'compare'?\n"


@pytest.mark.parametrize(
    ("words", "meant"),
    [(["runs", "delete", "a.h5"], "remove"), (["runs", "ls"], "list"), (["Record"], "capture"), (["gui"], "window"),
     (["runs", "split", "a.h5"], "cut"), (["list"], "runs")],
)  # fmt: skip
def test_another_word_for_a_command_or_an_action_is_understood(capsys, words, meant):
    assert cli.main(words) == EXIT_USAGE
    assert capsys.readouterr().err.endswith(f"Did you mean '{meant}'?\n")


def test_the_other_words_are_no_names_themselves_and_each_means_one():
    actions = {"list", "verify", "show", "tag", "rename", "truth", "note", "cut", "remove", "restore"}
    assert not set(OTHER_WORDS) & set(ALL_COMMANDS)
    assert set(OTHER_WORDS.values()) <= actions | set(ALL_COMMANDS)


def test_unknown_option_suggests_the_nearest(fake, capsys):
    fake(lambda args: 0)
    assert cli.main(["fake", "--jsno", "x"]) == EXIT_USAGE
    assert "'--jsno' is not understood. Did you mean '--json'?" in capsys.readouterr().err


def test_a_misspelt_action_suggests_the_nearest(capsys):
    assert cli.main(["runs", "lsit"]) == EXIT_USAGE
    assert "Did you mean 'list'?" in capsys.readouterr().err


def test_a_word_too_many_names_the_command_once(capsys):
    assert cli.main(["ingest", "a.txt", "b.txt"]) == EXIT_USAGE
    assert capsys.readouterr().err.startswith("sidelong: ingest: 'b.txt' is not understood.")


def test_option_before_the_command(capsys):
    assert cli.main(["--json", "compare"]) == EXIT_USAGE
    assert "must come after a command" in capsys.readouterr().err


def test_missing_value_is_one_sentence(fake, capsys):
    fake(lambda args: 0)
    assert cli.main(["fake", "--json"]) == EXIT_USAGE
    err = capsys.readouterr().err
    assert err.count("\n") == 1
    assert "--json" in err


def test_help_of_a_command(fake, capsys):
    fake(lambda args: 0)
    assert cli.main(["fake", "--help"]) == EXIT_OK
    assert "Do something." in capsys.readouterr().out
    assert cli.main(["help", "fake"]) == EXIT_OK
    assert "Do something." in capsys.readouterr().out


def test_the_commands_exit_code_is_handed_on(fake):
    fake(lambda args: 1)
    assert cli.main(["fake"]) == 1


@pytest.mark.parametrize(
    ("error", "code", "text"),
    [
        (LinkError("cannot be opened", where="COM3", todo="Plug it in."), EXIT_LINK, "COM3: cannot be opened. Plug it in."),
        (StorageError("is full"), EXIT_STORAGE, "is full"),
        (KeyboardInterrupt(), EXIT_INTERRUPTED, "stopped"),
        (FileNotFoundError(errno.ENOENT, "No such file or directory", "a.h5"), EXIT_INPUT, "a.h5: no such file or dir"),
        (IsADirectoryError(errno.EISDIR, "Is a directory", "out"), EXIT_INPUT, "out: is a directory. Give a file"),
        (PermissionError(errno.EACCES, "Permission denied", "out"), EXIT_STORAGE, "out: permission denied. Check the perm"),
        (OSError(errno.ENOSPC, "No space left on device"), EXIT_STORAGE, "no space left on device. Make room"),
        (OSError(), EXIT_STORAGE, "oserror"),
        (BrokenPipeError(), EXIT_PIPE, ""),
        (ZeroDivisionError("division by zero"), EXIT_BUG, "a fault in Sidelong itself (ZeroDivisionError: division by zero"),
        (ModuleNotFoundError("no", name="PySide6"), EXIT_MISSING, "the window is not installed"),
        (ModuleNotFoundError("no", name="numba"), EXIT_MISSING, "the package 'numba' is not installed. Install it with"),
    ],
)
def test_every_error_is_one_sentence_and_a_code(fake, capfd, monkeypatch, error, code, text):
    monkeypatch.setattr(cli, "_drop_stdout", lambda: None)

    def fail(args):
        raise error

    fake(fail)
    assert cli.main(["fake"]) == code
    err = capfd.readouterr().err
    assert "Traceback" not in err
    assert err.count("\n") == (1 if text else 0)
    assert text in err


def test_a_fault_shows_its_trace_where_asked_for(fake, monkeypatch):
    def fail(args):
        raise ZeroDivisionError

    fake(fail)
    monkeypatch.setenv("SIDELONG_TRACE", "1")
    with pytest.raises(ZeroDivisionError):
        cli.main(["fake"])


def test_a_window_that_is_absent_is_said(monkeypatch, capsys):
    monkeypatch.setattr("importlib.metadata.entry_points", lambda group: [])
    assert cli.main([]) == EXIT_MISSING
    assert 'python -m pip install ".[gui]"' in capsys.readouterr().err


def test_a_window_whose_system_libraries_are_absent_is_said(monkeypatch, capsys):
    def load():
        raise ImportError("libEGL.so.1: cannot open shared object file", name="PySide6.QtGui")

    entry = types.SimpleNamespace(name="window", load=load)
    monkeypatch.setattr("importlib.metadata.entry_points", lambda group: [entry])
    assert cli.main(["window"]) == EXIT_MISSING
    assert "libEGL.so.1" in capsys.readouterr().err


def test_a_closed_pipe_ends_quietly():
    """What 'sidelong --help | head -1' does."""
    script = "import sys; from telemetry.cli import main; sys.exit(main(['--help']))"
    with subprocess.Popen([sys.executable, "-c", script], stdout=subprocess.PIPE, stderr=subprocess.PIPE) as process:
        process.stdout.close()
        err = process.stderr.read()
        assert process.wait(timeout=20) == EXIT_PIPE
    assert err == b""


def test_a_console_that_cannot_encode_does_not_end_the_command():
    script = (
        "import sys, types; from telemetry import cli;"
        "sys.modules['telemetry.commands.demo'] = types.SimpleNamespace("
        "arguments=lambda p: None, run=lambda a: print('Bl\\u00e4tter \\u2713') or 0);"
        "sys.exit(cli.main(['demo']))"
    )
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, timeout=20, check=False,
        env={"PYTHONIOENCODING": "ascii", "PYTHONPATH": ".", "PATH": ""},
    )  # fmt: skip
    assert (done.returncode, done.stdout.strip()) == (0, b"Bl?tter ?")


def test_help_imports_nothing_heavy():
    script = (
        "import sys; from telemetry.cli import main; main(['--help']);"
        "heavy = {'numpy', 'h5py', 'numba', 'serial', 'bleak', 'PySide6', 'asyncio'} & set(sys.modules);"
        "sys.exit(f'imported: {heavy}' if heavy else 0)"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, timeout=20, check=False)
    assert done.returncode == 0, done.stderr


def test_an_old_spelling_works_with_a_word_about_the_new_one(capsys, monkeypatch):
    heard = []
    monkeypatch.setattr("telemetry.sources.ports.serial_ports", list)
    monkeypatch.setattr("telemetry.sources.ble.source.scan", lambda timeout_s: heard.append(timeout_s) or [])
    assert cli.main(["ports", "--timeout", "0.3"]) == EXIT_OK
    assert heard == [0.3]
    assert "--timeout is now --ble-timeout" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("words", "new", "works"),
    [
        (["runs", "list", "runs", "--course", "Row"], "--course is now --on", "good.h5"),
        (["runs", "list", "runs", "--truth", "known"], "--truth is now --entered", "good.h5"),
        (["runs", "list", "runs", "--on", "Row", "--entered", "yes"], "", "good.h5"),
        (["session", "nowhere:", "--still", "1", "--help"], "--still is now --rest", "usage: sidelong session"),
        (["report", "runs", "--strategy", "hold", "--out", "page.html"], "--out is now --output", "page.html: 1 run"),
        (["report", "runs", "--strategy", "hold", "-o", "page.html"], "", "page.html: 1 run"),
        (["runs", "list", "runs", "--json"], "", '"path"'),
    ],
    ids=lambda value: " ".join(value) if isinstance(value, list) else None,
)
def test_each_old_spelling_works_for_a_release(tmp_path, monkeypatch, capsys, words, new, works):
    (tmp_path / "runs").mkdir()
    record(tmp_path / "runs" / "good.h5", drive(*GOOD))
    monkeypatch.chdir(tmp_path)
    assert cli.main(words) == EXIT_OK
    told = capsys.readouterr()
    assert works in told.out
    assert (new in told.err) if new else ("is now" not in told.err)


def test_no_option_has_two_meanings():
    """One word, one kind of value, in whichever command it stands; a hidden old spelling aside."""
    import argparse

    from telemetry.commands.completion import whole_parser

    takes = {}

    def walk(parser):
        for action in parser._actions:
            if isinstance(action, argparse._SubParsersAction):
                for one in action.choices.values():
                    walk(one)
            elif action.help is not argparse.SUPPRESS:
                kind = "nothing" if action.nargs == 0 else str(action.metavar or action.choices or action.dest.upper())
                for word in action.option_strings:
                    takes.setdefault(word, {}).setdefault(kind, parser.prog)

    walk(whole_parser())
    twice = {word: kinds for word, kinds in takes.items() if len(kinds) > 1 and word not in SHARED}
    assert not twice


SHARED = {
    "-h", "--help",
    "-o", "--output",  # a file or a folder, whichever the command makes
}  # fmt: skip


def test_every_message_ends_like_a_sentence(fake, capsys):
    def fails(args):
        raise StorageError("the disk is full", where="runs")

    fake(fails)
    assert cli.main(["fake"]) == EXIT_STORAGE
    assert capsys.readouterr().err == "sidelong: runs: the disk is full.\n"


def test_it_starts_itself_again_by_a_name_that_means_nothing_to_it(monkeypatch, capsys):
    from telemetry.own_program import own_command

    command = own_command(["--version"], named="run-7.journal")
    assert any("telemetry.cli" in word and "run-7.journal" in word for word in command)
    assert subprocess.run(command, capture_output=True, text=True, check=True).stdout.startswith("sidelong 0.")
    monkeypatch.setattr(sys, "frozen", True, raising=False)
    assert own_command(["ports"], named="x")[0] == sys.executable
    assert cli.main(own_command(["--version"], named="x")[1:]) == EXIT_OK
    assert capsys.readouterr().out.startswith("sidelong 0.")


def test_a_file_that_is_called_like_an_option_is_no_option(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "run.h5").write_bytes((Path(__file__).parents[1] / "recordings" / "venue-01.h5").read_bytes())
    theirs = "open('ran', 'w').close()\nclass Theirs:\n    def step(self, label, m): return label\n"
    (tmp_path / "theirs.py").write_text(theirs)
    (tmp_path / "--strategy=theirs.py").touch()
    # What the shell makes of: sidelong compare *
    assert cli.main(["compare", "--strategy=theirs.py", "run.h5"]) == EXIT_USAGE
    assert "also the name of a file here" in capsys.readouterr().err
    assert not (tmp_path / "ran").exists()


def test_an_error_is_one_line_whatever_a_name_holds(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["compare", "a\nsidelong: all is well\nb\x1b[2J"]) != 0
    said = capsys.readouterr().err
    assert said.count("\n") == 1
    assert "\x1b" not in said


@pytest.mark.parametrize(
    ("word", "meant"), [("c++", "c"), ("cpp", "c"), ("C", "c"), ("Python", "micropython"), ("micropyhton", "micropython")]
)
@pytest.mark.parametrize("command", ["reader checklist --columns t/ms,colour -o out", "emitter"])
def test_a_language_that_is_none_names_those_that_are_and_the_nearest(capsys, command, word, meant):
    assert cli.main([*command.split(), "--language", word]) == 2
    said = capsys.readouterr().err
    assert "micropython" in said
    assert "'c'" in said or ", c" in said
    assert f"Did you mean '{meant}'?" in said


def test_a_language_like_none_of_them_gets_the_choices(capsys):
    assert cli.main(["emitter", "--language", "blocks"]) == 2
    said = capsys.readouterr().err
    assert "micropython" in said
    assert "Did you mean" not in said
