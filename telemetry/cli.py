"""The command line: finds the command's module, imports only that, and turns every error into one sentence and an exit code.

A command is one module with ``arguments(parser)`` and ``run(args) -> int``, and one line in ``commands.COMMANDS``. Other
packages add commands through the entry-point group ``sidelong.commands``: so the window is found and not imported here.
"""

from __future__ import annotations

import argparse
import errno
import os
import re
import sys
from collections.abc import Sequence
from difflib import get_close_matches
from typing import Any, NoReturn, TextIO

from telemetry.commands import ALL_COMMANDS, HEADINGS, OTHER_WORDS, find, missing_part
from telemetry.errors import (
    EXIT_BUG,
    EXIT_INPUT,
    EXIT_INTERRUPTED,
    EXIT_OK,
    EXIT_PIPE,
    EXIT_STORAGE,
    SidelongError,
    UsageError,
    as_sentence,
)
from telemetry.own_program import MAKE_CODE, TRIAL, import_nothing_from_here, without_name
from telemetry.safe_text import guarded_output, printable


class Parser(argparse.ArgumentParser):
    """argparse, but what is wrong with the words becomes a UsageError, and a mistyped option is answered with its like."""

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.allow_abbrev = False
        self._words: list[str] = []

    def error(self, message: str) -> NoReturn:
        """Raise instead of printing the whole usage: one sentence helps more."""
        lacking = "the following arguments are required"
        if message.startswith(lacking):
            self._unknown([word for word in self._words if word.startswith("--")])
        todo = f"'{self.prog} --help' explains the options."
        number = re.fullmatch(r"argument (\S+)(?:/\S+)*: invalid (?:float|int) value: '(.*)'", message)
        if number:
            raise UsageError(f"{number[1].partition('/')[0]} takes a number, not '{number[2]}'", todo=todo)
        chosen = re.search(r"invalid choice: '(.+?)' \(choose from (.+)\)", message)
        near = _nearest(chosen[1], re.findall(r"[\w-]+", chosen[2])) if chosen else ""
        raise UsageError(message, todo=f"Did you mean '{near}'?" if near else todo)

    def parse_args(self, args: Any = None, namespace: Any = None) -> Any:
        """As argparse does, with a suggestion where an option is unknown."""
        self._words = [word.split("=")[0] for word in args or ()]
        for word in args or ():
            # The shell puts the names of a folder for a '*': one called '--strategy=theirs.py' would run their code.
            if word.startswith("--") and len(word) > 2 and os.path.lexists(word):
                todo = "Name the folder, or write './*' for the files in it; if the option is meant, go to another folder."
                raise UsageError(f"'{word}' is an option and also the name of a file here", where=self.prog, todo=todo)
        known, extra = self.parse_known_args(args, namespace)
        if extra:
            options = [option for action in self._actions for option in action.option_strings if option.startswith("--")]
            word = next((one for one in extra if one.startswith("-")), extra[0])
            close = get_close_matches(word.split("=")[0], options, n=1)
            before = list(args or ())[: list(args or ()).index(word)][-1:] if word in (args or ()) else []
            if before and before[0].endswith(",") and not word.startswith("-"):
                todo = "Put no blank after a comma, or the whole list in quotation marks."
                where = self.prog.removeprefix("sidelong ")
                raise UsageError(f"'{before[0]} {word}' is not one word", where=where, todo=todo)
            hint = f"Did you mean '{close[0]}'?" if close else f"'{self.prog} --help' lists what it takes."
            raise UsageError(f"'{word}' is not understood", where=self.prog.removeprefix("sidelong "), todo=hint)
        return known

    def _unknown(self, words: Sequence[str]) -> None:
        """Raise for an option that is nearly one: it is why that one is lacking."""
        options = [option for action in self._actions for option in action.option_strings if option.startswith("--")]
        for word in words:
            close = get_close_matches(word, options, n=1)
            if word not in options and close:
                where = self.prog.removeprefix("sidelong ")
                raise UsageError(f"'{word}' is not understood", where=where, todo=f"Did you mean '{close[0]}'?")


def _nearest(word: str, choices: Sequence[str]) -> str:
    """The choice that was meant: another word for it, nearly spelt so, or with more behind it, as c++ for c; else empty."""
    word = word.lower()
    if OTHER_WORDS.get(word) in choices:
        return OTHER_WORDS[word]
    near = [*get_close_matches(word, choices, n=1), *(one for one in choices if word.startswith(one))]
    return near[0] if near else ""


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; returns the exit code (see telemetry.errors)."""
    import_nothing_from_here()
    for stream in (sys.stdout, sys.stderr):
        _never_fail_to_encode(stream)
    with guarded_output():
        return _main(argv)


def _main(argv: Sequence[str] | None) -> int:
    try:
        code = _run(list(sys.argv[1:] if argv is None else argv))
        sys.stdout.flush()
    except SidelongError as error:
        return _say(str(error), error.exit_code)
    except KeyboardInterrupt:
        if sys.stderr.isatty():
            sys.stderr.write("\n")  # a line of progress may stand there
        return _say("stopped", EXIT_INTERRUPTED)
    except BrokenPipeError:
        _drop_stdout()
        return EXIT_PIPE
    except OSError as error:
        return _say(_os_sentence(error), _os_code(error))
    except Exception as error:
        return _bug(error)
    return code


def _run(words: list[str]) -> int:
    words = without_name(words) or ["window"]
    name, *rest = words
    if name == TRIAL:
        from telemetry.recording.trial import serve

        return serve()
    if name == MAKE_CODE:
        from telemetry.reading.made_apart import serve as make_code

        return make_code()
    if name == "help" and rest:
        name, rest = rest[0], ["--help"]
    if name in {"-h", "--help", "help"}:
        print(overview())
        return EXIT_OK
    if name in {"-V", "--version"}:
        from importlib.metadata import version

        print(f"sidelong {version('sidelong')}")
        return EXIT_OK
    if name.startswith("-"):
        raise UsageError(f"'{name}' must come after a command", todo="'sidelong --help' lists the commands.")
    module = find(name)
    what = ALL_COMMANDS.get(name, "")
    parser = Parser(
        prog=f"sidelong {name}", description=f"{what[:1].upper()}{what[1:]}." if what else None,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )  # fmt: skip
    try:
        module.arguments(parser)
        args = parser.parse_args(rest)
        args.command = name
        if "quiet" in args:
            from telemetry.report.progress import show_progress

            show_progress(not args.quiet)
        code: int = module.run(args)
    except SystemExit as stop:
        return stop.code if isinstance(stop.code, int) else EXIT_OK
    except ImportError as error:
        raise missing_part(name, error) from error
    return code


def overview() -> str:
    """What ``sidelong --help`` prints."""
    lines = [
        "usage: sidelong COMMAND [OPTIONS]      sidelong COMMAND --help explains one",
        "",
        "Capture what a small robot's colour sensor sees, replay it, and find the reading logic",
        "that reads every run right.",
    ]
    for name, what in ALL_COMMANDS.items():
        if name in HEADINGS:
            lines += ["", f"{HEADINGS[name]}:"]
        lines.append(f"  {name:<13}{what}")
    return "\n".join([*lines, "", "sidelong --version says which version this is. New here? Try: sidelong demo"])


def _never_fail_to_encode(stream: TextIO) -> None:
    """A console that cannot show a character shows a question mark; it must not end the command."""
    reconfigure = getattr(stream, "reconfigure", None)
    if reconfigure is not None:
        reconfigure(errors="replace")


def _drop_stdout() -> None:
    """Whoever read our output has gone: let the interpreter's last flush go nowhere."""
    try:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    except (OSError, ValueError):
        return


def _say(text: str, code: int) -> int:
    try:
        sys.stdout.flush()
    except OSError:
        _drop_stdout()
    # On one line: a name or a file's text with line ends in it would stand there as a sentence of ours.
    words = printable(" ".join(text.splitlines()))
    print(f"sidelong: {as_sentence(words)}", file=sys.stderr)
    return code


def _os_sentence(error: OSError) -> str:
    hints = {
        errno.ENOENT: "Check the path.",
        errno.EACCES: "Check the permissions, or choose another place.",
        errno.EROFS: "Choose a place that can be written to.",
        errno.ENOSPC: "Make room on the disk and try again.",
        errno.EISDIR: "Give a file, not a folder.",
        errno.EEXIST: "Choose another name.",
    }
    where = f"{error.filename}: " if error.filename else ""
    reason = (error.strerror or str(error) or type(error).__name__).lower()
    hint = hints.get(error.errno or 0)
    return f"{where}{reason}. {hint}" if hint else f"{where}{reason}"


def _os_code(error: OSError) -> int:
    return EXIT_INPUT if isinstance(error, FileNotFoundError | IsADirectoryError | NotADirectoryError) else EXIT_STORAGE


def _bug(error: Exception) -> int:
    """An error that nobody foresaw: one sentence with the place, the whole trace only where asked for."""
    if os.environ.get("SIDELONG_TRACE"):
        raise error
    trace = error.__traceback__
    while trace is not None and trace.tb_next is not None:
        trace = trace.tb_next
    place = f"{os.path.basename(trace.tb_frame.f_code.co_filename)}:{trace.tb_lineno}" if trace else "?"  # noqa: PTH119
    what = f"{type(error).__name__}: {error}".rstrip(": ")
    return _say(
        f"this is a fault in Sidelong itself ({what}, at {place}). Nothing recorded is lost. "
        f"Please report it{_logged(error)}; SIDELONG_TRACE=1 before the command shows the details", EXIT_BUG,
    )  # fmt: skip


def _logged(error: Exception) -> str:
    """Where the whole trace can be found, in words; empty where it could not be written."""
    import logging

    from telemetry.logbook import begin_log, log_path

    begin_log()
    logging.getLogger("telemetry").error("a fault", exc_info=error)
    return f", with the end of {log_path()}" if log_path().exists() else ""


if __name__ == "__main__":
    sys.exit(main())
