"""The command line: finds the command's module, imports only that, and turns every error into one sentence and an exit code.

A command is one module with ``arguments(parser)`` and ``run(args) -> int``, and one line in COMMANDS. Other packages add
commands through the entry-point group ``sidelong.commands``; so the window is found without being imported here.
"""

from __future__ import annotations

import argparse
import importlib
import sys
from importlib.metadata import entry_points, version
from types import ModuleType

from telemetry.errors import EXIT_INTERRUPTED, EXIT_STORAGE, MissingPartError, SidelongError

COMMANDS = {
    "demo": "capture the built-in robot at several difficulties and compare strategies on it",
    "ports": "list the serial ports and BLE devices a robot may be on",
    "robot": "let the built-in robot drive and serve its line stream",
    "capture": "record a run live and show the readings as they are made",
    "session": "arm once for an afternoon: runs are cut by motion or notes",
    "ingest": "make a recording of a saved or fetched text stream",
    "runs": "list, search, rename and tag recordings, and set what really stood there",
    "export": "write a recording as CSV or Parquet, or read such a file back",
    "compare": "replay recordings through strategies and say which reads them right, and why not",
    "guard": "keep today's readings as agreed, and name everything that later differs",
    "strategies": "list the strategies and stages with their settings",
    "calibrate": "learn what each colour looks like to this sensor in this light",
    "recheck": "on the day: check in a minute whether anything has moved",
    "emitter": "write the file that lets a real robot print the line stream",
}
WINDOW_COMMANDS = {
    "window": "open the window",
    "screenshots": "take pictures of every place of the window",
}


def _find(name: str) -> ModuleType:
    if name in COMMANDS:
        return importlib.import_module(f"telemetry.commands.{name}")
    for entry in entry_points(group="sidelong.commands"):
        if entry.name == name:
            try:
                module: ModuleType = entry.load()
            except ModuleNotFoundError as error:
                if error.name and error.name.split(".")[0] in {"PySide6", "pyqtgraph", "gui"}:
                    break
                raise
            return module
    raise MissingPartError(
        f"the command '{name}' needs the window, which is not installed ",
        todo="Install it with: pip install 'sidelong[gui]'",
    )


def _help() -> str:
    width = max(map(len, COMMANDS)) + 2
    lines = [f"  {name:<{width}}{what}" for name, what in (COMMANDS | WINDOW_COMMANDS).items()]
    return "\n".join(["commands (each explains itself with --help):", *lines])


def _parser(name: str | None) -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="sidelong",
        description="Capture what a small robot's colour sensor sees, replay it, and find the reading logic that reads it right.",
        epilog=_help(),
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--version", action="version", version=f"sidelong {version('sidelong')}")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", help=argparse.SUPPRESS)
    for known, what in (COMMANDS | WINDOW_COMMANDS).items():
        sub = commands.add_parser(known, description=what[0].upper() + what[1:] + ".")
        if known == name:
            _find(known).arguments(sub)
    return parser


def main(argv: list[str] | None = None) -> int:
    """Run one command; returns the exit code (see telemetry.errors)."""
    words = sys.argv[1:] if argv is None else argv
    name = next((word for word in words if not word.startswith("-")), None)
    try:
        if not words:
            words, name = ["window"], "window"
        args = _parser(name).parse_args(words)
        if args.command is None:
            _parser(None).print_help()
            return 0
        code: int = _find(args.command).run(args)
    except SidelongError as error:
        print(f"sidelong: {error}", file=sys.stderr)
        return error.exit_code
    except KeyboardInterrupt:
        print("sidelong: stopped", file=sys.stderr)
        return EXIT_INTERRUPTED
    except BrokenPipeError:
        return 0
    except OSError as error:
        where = f"{error.filename}: " if error.filename else ""
        print(f"sidelong: {where}{(error.strerror or str(error)).lower()}", file=sys.stderr)
        return EXIT_STORAGE
    return code
