"""All recordings of a folder: listed, searched, and re-labelled in place.

Listing keeps an index beside them (``INDEX``), so that ten thousand recordings are listed at once the second time. It may be
deleted: it is only ever a copy of what the recordings say, and is made anew.
"""

from __future__ import annotations

import contextlib
import json
import os
from bisect import bisect_left
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, fields
from itertools import accumulate
from pathlib import Path
from typing import Any, Final, Literal

from telemetry.beside import read_plain
from telemetry.block_column import LONG_ROWS
from telemetry.errors import CourseError, NotThereError, RecordingError, StorageError
from telemetry.recording.assemble import StreamSummary
from telemetry.recording.disk.stamp import Stamp, stamp_of
from telemetry.recording.duration import arrived_s, duration_s
from telemetry.recording.hdf5.expendable import DEADLY, each_by_several, known_of, remember
from telemetry.recording.hdf5.reader import RecordingFile
from telemetry.recording.journal.reader import JournalReader
from telemetry.recording.journal.records import SUFFIX, recording_path
from telemetry.recording.load import labels
from telemetry.recording.meta import Meta
from telemetry.recording.names import is_journal, is_recording
from telemetry.schema import checked
from telemetry.text_in_place import write_text

INDEX: Final = ".sidelong-index.json"
INDEX_VERSION: Final = 3
AT_ONCE_S: Final = 1.0
"""What arrived in less may have come all at once; only then are the robot's own times read for a list."""
MOST_INDEX_BYTES: Final = 1 << 26
MOST_SHOWN: Final = 4000
"""Characters of a label in a list: of one that has as many there may be more in the recording."""
MOST_OF_A_TRUTH: Final = 40_000
WORTH_LISTING: Final = 50
"""From so many recordings of one folder on, listing it is faster than trying each when it is opened."""
State = Literal["whole", "damaged", "capturing", "broken off"]


@dataclass(frozen=True, slots=True)
class Entry:
    """One recording in a list. ``problem``: what is wrong with a damaged one. ``made`` is ISO 8601."""

    path: str
    state: State = "whole"
    problem: str = ""
    name: str = ""
    made: str = ""
    course: str = ""
    tags: tuple[str, ...] = ()
    truth: tuple[str, ...] | None = None
    driven_by: str = ""
    remarks: str = ""
    simulated: bool = False
    rows: int = 0
    seconds: float = 0.0
    gaps: int = 0
    rejected: int = 0
    lost: int = 0

    @property
    def title(self) -> str:
        """What to call it: the name given, else the file's."""
        return self.name or Path(self.path).stem


_KEYS: Final = tuple(one.name for one in fields(Entry) if one.name != "path")


def entries(folder: Path, *, progress: Callable[[float], None] | None = None) -> list[Entry]:
    """Every recording in ``folder`` (not below it), oldest first. Raises StorageError where there is no such folder.

    A damaged one is listed with its problem; one that is being captured now is listed as such.
    """
    found = _files(folder)
    known = _read_index(folder)
    out: list[Entry] = []
    kept: dict[str, Any] = {}
    new: list[str] = []
    for name, stamp in found.items():
        held = known.get(name)
        if name.endswith(SUFFIX):
            if recording_path(Path(name)).name not in found:
                out.append(_journal_entry(folder / name))
        elif held is not None and held[0][0] == list(stamp):
            kept[name], entry = held
            out.append(entry)
        else:
            new.append(name)
    remember(found[name] for name in kept)
    for path, said in _looked_at([folder / name for name in new]):
        out.append(said or Entry(str(path), "damaged", DEADLY, made=_time_of(path)))
        if said is not None:
            kept[path.name] = [found[path.name], plain_entry(said)]
        if progress is not None:
            progress((len(kept)) / len(found))
    remember(found[name] for name in new if name in kept)
    if new or len(known) != len(kept):
        _write_index(folder / INDEX, kept)
    return sorted(out, key=lambda entry: (entry.made, entry.path))


def make_known(paths: Iterable[Path], *, progress: Callable[[float], None] | None = None) -> None:
    """Spare many recordings being tried one by one: what the index of their folder knows of is known.

    Where it does not know most of them the folder is listed first, as for ``entries``.
    """
    folders: dict[Path, list[Path]] = {}
    for path in paths:
        folders.setdefault(path.parent, []).append(path)
    for folder, inside in folders.items():
        if len(inside) < WORTH_LISTING:
            continue
        with contextlib.suppress(StorageError):
            remember(_stamps_in(folder / INDEX))
            if len(known_of(inside)) < len(inside) // 2:
                entries(folder, progress=progress)


def _looked_at(paths: list[Path]) -> Iterator[tuple[Path, Entry | None]]:
    """(path, entry) of each, in any order; None for one that the process which read it did not survive."""
    for path, said in each_by_several("look", paths):
        yield path, None if said is None else _told(path, said)


def _told(path: Path, said: Any) -> Entry:
    try:
        return _entry(path.parent, said | {"path": path.name})
    except (TypeError, ValueError, LookupError, AttributeError):
        return Entry(str(path), "damaged", "its labels cannot be understood", made=_time_of(path))


def search(
    found: Iterable[Entry],
    *,
    course: str = "",
    tag: str = "",
    since: str = "",
    until: str = "",
    truth_known: bool | None = None,
    text: str = "",
) -> list[Entry]:
    """Those that fit all that is asked. ``since`` and ``until`` are the beginnings of ISO dates, both included."""

    def fits(entry: Entry) -> bool:
        return (
            (not course or course.casefold() in entry.course.casefold())
            and (not tag or tag in entry.tags)
            and (not since or entry.made[: len(since)] >= since)
            and (not until or entry.made[: len(until)] <= until)
            and (truth_known is None or (entry.truth is not None) == truth_known)
            and (not text or text.casefold() in f"{entry.title} {entry.remarks} {entry.driven_by}".casefold())
        )

    return [entry for entry in found if fits(entry)]


def look_at(path: Path) -> Entry:
    """One recording, with its samples read once, so that damage in them shows."""
    try:
        file = RecordingFile(path)
    except (RecordingError, StorageError) as error:
        return Entry(str(path), "damaged", error.what, made=_time_of(path))
    try:
        meta, summary = labels(file)
        file.try_all()
        problem = "; ".join([*file.damage, *summary.damage])
        return Entry(
            str(path),
            "damaged" if file.damage else "whole",
            problem[:MOST_SHOWN],
            **_labels_shown(meta, path),
            remarks=meta.remarks[:MOST_SHOWN],
            rows=file.document["rows"],
            seconds=round(_seconds(file, summary), 1),
            gaps=len(summary.gaps),
            rejected=summary.rejected,
            lost=summary.lost,
        )
    except (RecordingError, LookupError, TypeError, ValueError) as error:
        return Entry(str(path), "damaged", f"its labels cannot be understood ({error})", made=_time_of(path))
    finally:
        file.close()


_CLOCK: Final = frozenset({"t_us", "boot"})


def _seconds(file: RecordingFile, summary: StreamSummary) -> float:
    """By the robot's clock where the lines came at once; of a very long one too many samples would be read for that."""
    arrived = arrived_s(summary)
    columns = file.columns(only=_CLOCK) if arrived < AT_ONCE_S and file.document["rows"] < LONG_ROWS else None
    return duration_s(summary, columns or {})


def _journal_entry(path: Path) -> Entry:
    try:
        reader = JournalReader(path)
        try:
            state: State = "capturing" if reader.has_writer else "broken off"
            first = next(iter(reader.read(most=1 << 16)), None)
            meta = Meta.from_json(first.text) if first is not None else Meta()
        finally:
            reader.close()
    except (RecordingError, StorageError) as error:
        return Entry(str(path), "damaged", error.what, made=_time_of(path))
    return Entry(
        str(recording_path(path)),
        state,
        **_labels_shown(meta, path),
    )


def _labels_shown(meta: Meta, path: Path) -> dict[str, Any]:
    """Labels as a list has them: a list of thousands holds no more of each than somebody reads there."""
    return {
        "name": meta.name[:MOST_SHOWN],
        "made": meta.made[:MOST_SHOWN] or _time_of(path),
        "course": _course_name(meta.course)[:MOST_SHOWN],
        "tags": _first(meta.tags, MOST_SHOWN),
        "truth": None if meta.truth is None else _first(meta.truth, MOST_OF_A_TRUTH),
        "driven_by": meta.driven_by[:MOST_SHOWN],
        "simulated": meta.simulated,
    }


def _first(texts: tuple[str, ...], most: int) -> tuple[str, ...]:
    """As many of them as have so many characters in all, or of the first its beginning."""
    if sum(map(len, texts)) < most:
        return texts
    ends = list(accumulate(map(len, texts)))
    return texts[: bisect_left(ends, most)] or (texts[0][:most],)


def recordings_in(folder: Path) -> list[str]:
    """Names of all that may be a recording or a journal. Raises StorageError where there is no such folder."""
    return list(_files(folder))


def _files(folder: Path) -> dict[str, Stamp]:
    """Name -> stamp of everything that may be a recording."""
    try:
        with os.scandir(folder) as listing:
            # On Windows the listing itself does not say all of a stamp.
            stat = os.stat if os.name == "nt" else os.DirEntry.stat
            found = [(item.name, stat(item)) for item in listing if _may_be(item.name) and _is_file(item)]
    except OSError as error:
        what = (error.strerror or str(error)).lower()
        kind = NotThereError if isinstance(error, FileNotFoundError | NotADirectoryError) else StorageError
        raise kind(
            f"cannot be listed: {what}", where=str(folder), todo="Name the folder that holds recordings"
        ) from error
    # An empty journal is one that begins this moment, or nobody's.
    return {
        name: stamp_of(info)
        for name, info in sorted(found, key=lambda one: one[0])
        if info.st_size or not name.endswith(SUFFIX)
    }


def _is_file(item: os.DirEntry[str]) -> bool:
    """A link to nowhere is none; nor is a pipe, which would be waited for."""
    try:
        return item.is_file()
    except OSError:
        return False


def _may_be(name: str) -> bool:
    return is_recording(name) or is_journal(name)


def _course_name(text: str) -> str:
    if not text:
        return ""
    from telemetry.recording.load import parsed_course

    try:
        return parsed_course(text).name
    except CourseError:
        return "?"


def _time_of(path: Path) -> str:
    from datetime import datetime

    try:
        return datetime.fromtimestamp(path.stat().st_mtime).astimezone().isoformat(timespec="seconds")
    except OSError:
        return ""


def plain_entry(entry: Entry) -> dict[str, Any]:
    """What is not empty, for the index or another process; of the path the name only, for a folder may be moved."""
    return {
        key: value for key in _KEYS if (value := getattr(entry, key)) not in ("", 0, False, (), None)
    } | {"path": os.path.basename(entry.path)}  # noqa: PTH119 - ten thousand of them


def _entry(folder: Path | str, plain: Mapping[str, Any]) -> Entry:
    """From the index or another process, which may be anybody's. Raises MisfitError where a value is of another kind."""
    return checked({**plain, "path": os.path.join(folder, plain["path"])}, Entry)  # noqa: PTH118 - ten thousand of them


def _read_index(folder: Path) -> dict[str, tuple[Any, Entry]]:
    """What the index knows; empty where there is none, or none that can be used. An entry of odd kinds is left out alone.

    Of each as it stands there, a stamp and plain values, and as an entry.
    """
    where = os.fspath(folder)
    found = ((name, held, _fitting(where, name, held)) for name, held in _index_entries(folder / INDEX).items())
    return {name: (held, entry) for name, held, entry in found if entry is not None}


def _index_entries(path: Path) -> dict[str, Any]:
    """What stands in the index, unchecked but for its being a table of entries."""
    try:
        plain = json.loads(read_plain(path, MOST_INDEX_BYTES))
        known = plain["entries"] if plain["version"] == INDEX_VERSION else {}
        return known if isinstance(known, dict) else {}
    except (OSError, ValueError, LookupError, TypeError, AttributeError, RecursionError):
        return {}


def _stamps_in(path: Path) -> list[Stamp]:
    """The stamps in an index, which may be anybody's."""
    held = _index_entries(path).values()
    return [tuple(one[0]) for one in held if isinstance(one, list) and one and _is_stamp(one[0])]


def _is_stamp(value: Any) -> bool:
    return isinstance(value, list) and [type(one) for one in value] == [int] * 4


def _fitting(folder: str, name: str, held: Any) -> Entry | None:
    try:
        stamp, plain = held
        return _entry(folder, plain) if plain["path"] == name and _is_stamp(stamp) else None
    except (ValueError, LookupError, TypeError, AttributeError):
        return None


def _write_index(path: Path, kept: Mapping[str, Any]) -> None:
    """A folder that cannot be written has no index, that is all."""
    with contextlib.suppress(OSError):
        write_text(path, json.dumps({"version": INDEX_VERSION, "entries": kept}))
