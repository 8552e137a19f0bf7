"""The file of agreed readings: TOML with one line a reading, so that a change shows as a line in any diff."""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import msgspec

from telemetry.errors import RecordingError
from telemetry.given_file import given_text
from telemetry.reading.strategy import Strategy
from telemetry.replay.baseline.entry import AgreedReading, BaselineEntry
from telemetry.safe_text import for_toml
from telemetry.schema import MisfitError, checked
from telemetry.toml_text import TomlError, read_toml

VERSION = 1
MOST_BYTES = 64 << 20
"""Ten thousand runs read by ten strategies."""
BEYOND = "beyond the slots"
SAYS = "cannot be told"
_HEAD = """\
# Agreed readings: what each strategy reads on each of these runs. Written by 'sidelong guard --keep', held against the
# present by 'sidelong guard --check'. Paths start at this file's folder.
"""


@dataclass(frozen=True, slots=True)
class Agreed:
    """The whole file. ``strategies``: name -> its stages with their settings, in words; ``runs``: (strategy, recording).

    ``files``: name -> the file a strategy came from, where it is no named one. Paths are relative to the file's folder.
    """

    strategies: Mapping[str, tuple[str, ...]]
    settings: tuple[str, ...]
    course: str
    palette: str
    files: Mapping[str, str] = field(default_factory=dict)
    runs: Mapping[tuple[str, str], BaselineEntry] = field(default_factory=dict)


def stages_in_words(strategy: Strategy) -> tuple[str, ...]:
    """The stages of a strategy with the settings that differ from the defaults."""
    own = (f"own logic in {Path(strategy.own_file).name}",) if strategy.own is not None else ()
    return (*(use.label for use in strategy.uses), *own)


def relative(path: Path | str, folder: Path) -> str:
    """A path as the file writes it: from the file's folder, with forward slashes."""
    try:
        return Path(os.path.relpath(path, folder)).as_posix()
    except ValueError:
        # Another drive of a Windows computer: there is no way from here to there.
        return Path(path).resolve().as_posix()


def write_agreed(agreed: Agreed) -> str:
    """The text of the file."""
    lines = [_HEAD, f"version = {VERSION}"]
    lines += [f"settings = {_array(agreed.settings)}"] if agreed.settings else []
    lines += [f"course = {for_toml(agreed.course)}"] if agreed.course else []
    lines += [f"palette = {for_toml(agreed.palette)}"] if agreed.palette else []
    for name, stages in agreed.strategies.items():
        lines += ["", "[[strategy]]", f"name = {for_toml(name)}", f"stages = {_array(stages)}"]
        lines += [f"file = {for_toml(agreed.files[name])}"] if name in agreed.files else []
        for (strategy, recording), kept in sorted(agreed.runs.items()):
            if strategy == name:
                lines += ["", "[[strategy.run]]", f"recording = {for_toml(recording)}", *_readings(kept)]
    return "\n".join(lines) + "\n"


def _readings(kept: BaselineEntry) -> Iterable[str]:
    if kept.says:
        yield f"{for_toml(SAYS)} = {for_toml(kept.says)}"
        return
    for slot, reading in kept.slots.items():
        yield f"readings.{for_toml(slot)} = {for_toml(reading.words)}"
    if kept.beyond:
        yield f"{for_toml(BEYOND)} = {_array(kept.beyond)}"


def read_agreed(path: Path) -> Agreed:
    """The file ``path``. Raises RecordingError where it is not there or is not such a file."""
    where = str(path)
    make = "Make it with: sidelong guard RECORDINGS --keep FILE"
    text = given_text(path, RecordingError, todo="Make it again with --keep.", absent=make, most_bytes=MOST_BYTES)
    try:
        data = read_toml(text)
    except TomlError as error:
        what = f"is not a file of agreed readings: {error.what}"
        raise RecordingError(what, where=where, todo="Make it again with --keep.") from error
    version = data.get("version")
    if isinstance(version, int) and version > VERSION:
        raise RecordingError(f"was written by a newer version (format {version})", where=where, todo="Update Sidelong.")
    # A palette bears a version too; a baseline without a strategy is never written.
    if not isinstance(version, int) or isinstance(version, bool) or "strategy" not in data:
        raise RecordingError("is not a file of agreed readings", where=where, todo="Make one with --keep.")
    try:
        return _agreed(checked(data, BaselineDocument))
    except MisfitError as error:
        todo = "Take it from your backup, or make it again with --keep."
        raise RecordingError(f"is damaged: {error}", where=where, todo=todo) from error


class _RunTable(msgspec.Struct):
    """``[[strategy.run]]``"""

    recording: str
    readings: dict[str, str] = {}
    beyond: tuple[str, ...] = msgspec.field(default=(), name=BEYOND)
    says: str = msgspec.field(default="", name=SAYS)


class _Strategy(msgspec.Struct):
    """``[[strategy]]``"""

    name: str
    stages: tuple[str, ...]
    file: str = ""
    run: tuple[_RunTable, ...] = ()


class BaselineDocument(msgspec.Struct):
    """The whole file."""

    version: int
    settings: tuple[str, ...] = ()
    course: str = ""
    palette: str = ""
    strategy: tuple[_Strategy, ...] = ()


def _agreed(data: BaselineDocument) -> Agreed:
    return Agreed(
        {one.name: one.stages for one in data.strategy}, data.settings, data.course, data.palette,
        {one.name: one.file for one in data.strategy if one.file},
        {
            (one.name, run.recording): BaselineEntry(
                {slot: AgreedReading.parse(words) for slot, words in run.readings.items()}, run.beyond, run.says,
            )
            for one in data.strategy for run in one.run
        },
    )  # fmt: skip


def _array(words: Sequence[str]) -> str:
    return "[" + ", ".join(for_toml(word) for word in words) + "]"
