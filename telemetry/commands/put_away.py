"""``sidelong runs cut``, ``remove`` and ``restore``: recordings taken out of a folder, each with a way back."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from telemetry.commands.capture import Progress, say
from telemetry.commands.one_by_one import one_by_one
from telemetry.errors import RecordingError
from telemetry.safe_text import as_typed

if TYPE_CHECKING:
    from telemetry.recording.load import Recording


def cut(args: argparse.Namespace) -> int:
    """Each drive of a recording becomes a run of its own; the recording goes where removed ones go."""
    from telemetry.recording.drives import cut_into_drives
    from telemetry.recording.load import load
    from telemetry.recording.removed import move, place_of_removed
    from telemetry.report.just_made import JustMade

    def one(path: Path) -> None:
        recording = _whole(path)
        progress = Progress("cutting")

        def goes_on(number: int, of: int) -> bool:
            if number == of == 1:
                raise RecordingError("the robot drives only once in it, so there is nothing to cut", where=str(path))
            progress((number - 1) / max(of, 1))
            return True

        made = cut_into_drives(recording, goes_on)
        if not made:
            raise RecordingError("the robot does not drive in it, so there is nothing to cut", where=str(path))
        for target in made:
            say(JustMade(target, load(target).summary).line(fetched=recording.meta.fetched))
        place = place_of_removed(path)
        move(path, place)
        say(_is_now(path, place))

    return one_by_one(args.files, one)


def remove(args: argparse.Namespace) -> int:
    """Out of its folder, a damaged one too; nothing is deleted."""
    from telemetry.recording.names import ENDINGS
    from telemetry.recording.removed import move, place_of_removed

    def one(path: Path) -> None:
        try:
            _whole(path)
        except RecordingError as error:
            if path.suffix not in ENDINGS or not path.is_file():
                raise
            say(f"{path} cannot be read ({error.what}), and is taken away all the same")
        place = place_of_removed(path)
        move(path, place)
        say(_is_now(path, place))

    return one_by_one(args.files, one)


def restore(args: argparse.Namespace) -> int:
    """What was removed last under this name, back to where it was."""
    from telemetry.recording.removed import last_removed, move

    def one(path: Path) -> None:
        move(last_removed(path), path)
        say(f"{path} is back")

    return one_by_one(args.files, one)


def _is_now(path: Path, place: Path) -> str:
    return f"{path} is now {place}. To bring it back: sidelong runs restore {as_typed(path)}"


def _whole(path: Path) -> Recording:
    """Only what is a recording is moved, and only when its capture is over. Raises RecordingError."""
    from telemetry.recording.load import load

    recording = load(path)
    if not path.is_file():
        raise RecordingError("it is still being captured", where=str(path), todo="Do this when the capture is over")
    return recording
