"""Every command by name, one module each. Nothing of a command is imported before it is asked for."""

from __future__ import annotations

import importlib
from difflib import get_close_matches
from types import ModuleType

from telemetry.errors import MissingPartError, UsageError

COMMANDS = {
    "demo": "capture the built-in robot at several difficulties and compare strategies on it",
    "ports": "list the serial ports and BLE devices a robot may be on",
    "robot": "let the built-in robot drive and serve its line stream",
    "capture": "record a run live and show the readings as they are made",
    "session": "record every run of a practice session by itself, cut by motion or notes",
    "ingest": "make a recording of a saved or fetched text stream",
    "runs": "list, search, cut, tag and remove recordings, and set what really stood there",
    "export": "write a recording as CSV or Parquet, or read such a file back",
    "compare": "replay recordings through strategies and say which reads them right, and why not",
    "report": "write one page: the answer, what failed and why, margins, what was recorded",
    "tune": "find the settings of a strategy that read every run right, with room around them",
    "stress": "say how much faster, higher or darker a run may be before a strategy fails",
    "next": "say which layout to set up next, so that the run tells most",
    "guard": "save today's readings as a baseline, and name everything that later differs",
    "strategies": "list the strategies and stages with their settings",
    "calibrate": "learn what each colour looks like to this sensor in this light",
    "recheck": "on the day: check in a minute whether anything has moved",
    "emitter": "write the file that lets a real robot print the line stream",
    "reader": "write the reading logic for the robot, and a check against the computer",
    "recipe": "write a strategy as a sheet of steps, for programs put together from blocks",
    "card": "write one page to print for the event: which logic drives, what was checked",
    "doctor": "say which parts work on this computer, and how to fix the rest",
    "completion": "write the text that lets a shell complete commands and options",
}
WINDOW_COMMANDS = {
    "window": "open the window (the same as no command at all)",
    "screenshots": "take pictures of every place of the window",
}
OTHER_WORDS = {
    "delete": "remove", "del": "remove", "rm": "remove", "ls": "list", "dir": "list", "info": "show", "split": "cut",
    "undo": "restore", "undelete": "restore", "check": "verify", "label": "truth", "move": "rename", "mv": "rename",
    "record": "capture", "import": "ingest", "load": "ingest", "replay": "compare", "evaluate": "compare", "list": "runs",
    "print": "report", "gui": "window", "live": "capture", "port": "ports", "optimize": "tune", "optimise": "tune",
    "simulate": "robot", "palette": "calibrate", "colours": "calibrate", "baseline": "guard", "course": "robot",
}  # fmt: skip
"""Words that one may try first, and what is meant by them here: actions of a command, and commands."""
HEADINGS = {
    "demo": "see it work",
    "ports": "record",
    "runs": "look after recordings",
    "compare": "find the reading logic",
    "calibrate": "know the colours",
    "emitter": "prepare the robot",
    "doctor": "look after the program",
    "window": "the window",
}
"""The heading that stands above a command in the help."""

ALL_COMMANDS = COMMANDS | WINDOW_COMMANDS
_WINDOW_PARTS = {"PySide6", "shiboken6", "pyqtgraph", "gui"}


def find(name: str) -> ModuleType:
    """The module of a command. Raises UsageError where there is none, MissingPartError where its part is not installed."""
    if name in COMMANDS:
        return importlib.import_module(f"telemetry.commands.{name}")
    from importlib.metadata import entry_points

    for entry in entry_points(group="sidelong.commands"):
        if entry.name == name:
            try:
                module: ModuleType = entry.load()
            except ImportError as error:
                raise missing_part(name, error) from error
            return module
    if name in WINDOW_COMMANDS:
        raise missing_part(name, ModuleNotFoundError("gui", name="gui"))
    other = OTHER_WORDS.get(name.lower())
    close = [other] if other in ALL_COMMANDS else get_close_matches(name, ALL_COMMANDS, n=1, cutoff=0.5)
    raise UsageError(
        f"there is no command '{name}'",
        todo=f"Did you mean '{close[0]}'?" if close else "'sidelong --help' lists the commands.",
    )


def missing_part(name: str, error: ImportError) -> Exception:
    """A part that is not installed, said so; an import that fails inside Sidelong stays what it is."""
    part = (error.name or "").split(".")[0]
    if part in _WINDOW_PARTS and (isinstance(error, ModuleNotFoundError) or name not in COMMANDS):
        if isinstance(error, ModuleNotFoundError):
            from telemetry.extras import how_to_add

            todo = f"{how_to_add('gui')}. All else works without it: sidelong --help"
            return MissingPartError("the window is not installed", todo=todo)
        return MissingPartError(
            f"the window cannot be loaded: {error}", todo="The README names the system packages that a window needs."
        )
    if isinstance(error, ModuleNotFoundError) and part not in {"telemetry", ""}:
        return MissingPartError(f"the package '{part}' is not installed", todo=f"Install it with: pip install {part}")
    return error
