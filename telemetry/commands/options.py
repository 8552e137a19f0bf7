"""Options that several commands share, so that each has one name and one meaning everywhere."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from telemetry.beside import is_recording
from telemetry.errors import StorageError, UsageError
from telemetry.text_in_place import write_text

STANDARD_OUTPUT = "-"


class _Old(argparse.Action):
    """An option's former name: it works for one more release, with a word about the new one."""

    def __init__(self, *args: Any, new: str, **options: Any) -> None:
        super().__init__(*args, **options)
        self.new = new

    def __call__(
        self, parser: argparse.ArgumentParser, namespace: argparse.Namespace,  # noqa: ARG002 - argparse's signature
        values: str | Sequence[Any] | None, option_string: str | None = None,
    ) -> None:  # fmt: skip
        print(f"sidelong: {option_string} is now {self.new}; the old name goes with the next release.", file=sys.stderr)
        setattr(namespace, self.dest, values)


def old_name(parser: argparse.ArgumentParser, old: str, new: str, **options: Any) -> None:
    """Let ``old`` stand for the option ``new`` of the same parser. ``options``: its type and choices."""
    dest = next(action.dest for action in parser._actions if new in action.option_strings)
    hidden = argparse.SUPPRESS
    parser.add_argument(old, action=_Old, new=new, dest=dest, default=hidden, help=hidden, **options)


def must_end(path: Path, *endings: str) -> None:
    """Raises UsageError where the name of a file to write does not end as what is written into it does."""
    if path.suffix.lower() not in endings:
        can = " or ".join((", ".join(endings[:-1]), endings[-1])) if len(endings) > 1 else endings[0]
        raise UsageError(f"{path} does not end in {can}", todo="Only this can be written: other programs go by the ending.")


def json_option(parser: argparse.ArgumentParser, what: str) -> None:
    """``--json FILE``: what else a command prints, for scripts."""
    said = f"{what} as JSON; - prints it"
    parser.add_argument("--json", metavar="FILE", nargs="?", const=STANDARD_OUTPUT, type=no_recording, help=said)


def quiet_option(parser: argparse.ArgumentParser) -> None:
    """``-q``: for scripts that run on a terminal."""
    parser.add_argument("-q", "--quiet", action="store_true", help="do not show how far it is; results and errors only")


def no_recording(name: str) -> str:
    """A name to write to: a recording that stands behind an option by mistake is refused before the work begins."""
    if is_recording(Path(name)):
        raise argparse.ArgumentTypeError(f"{name} is a recording, and none is written over")
    return name


def write_output(path: Path, text: str) -> None:
    """What a command was asked to write. Raises StorageError where the place cannot be written to."""
    try:
        write_text(path, text)
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise StorageError(f"cannot be written: {reason}", where=str(path), todo="Choose another place.") from error


def write_json(document: str, target: str) -> None:
    """To the file that --json named, or to standard output."""
    if target == STANDARD_OUTPUT:
        sys.stdout.write(document)
    else:
        write_output(Path(target), document)
