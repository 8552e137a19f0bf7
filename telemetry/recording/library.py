"""All recordings of a folder: listed, searched, and re-labelled in place.

Listing keeps an index beside them (``INDEX``), so that ten thousand recordings are listed at once the second time. It may be
deleted: it is only ever a copy of what the recordings say, and is made anew.
"""

from __future__ import annotations

import contextlib
import json
import os
from collections.abc import Callable, Iterable, Mapping
from dataclasses import asdict, dataclass, fields
from pathlib import Path
from typing import Any, Final, Literal

from telemetry.errors import CourseError, NotThereError, RecordingError, StorageError
from telemetry.recording.hdf5.reader import RecordingFile
from telemetry.recording.journal.reader import JournalReader
from telemetry.recording.journal.records import SUFFIX, recording_path
from telemetry.recording.load import labels
from telemetry.recording.meta import Meta
from telemetry.text_in_place import write_text

INDEX: Final = ".sidelong-index.json"
INDEX_VERSION: Final = 1
RECORDINGS: Final = frozenset({".h5", ".hdf5", ".nc"})
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


def entries(folder: Path, *, progress: Callable[[float], None] | None = None) -> list[Entry]:
    """Every recording in ``folder`` (not below it), oldest first. Raises StorageError where there is no such folder.

    A damaged one is listed with its problem; one that is being captured now is listed as such.
    """
    found = _files(folder)
    known = _read_index(folder / INDEX)
    out: list[Entry] = []
    kept: dict[str, Any] = {}
    changed = len(known) != sum(name in found and not name.endswith(SUFFIX) for name in known)
    for number, (name, stamp) in enumerate(found.items()):
        held = known.get(name)
        if held is not None and held[:2] == list(stamp):
            entry = _entry(folder, held[2])
        elif name.endswith(SUFFIX):
            if recording_path(Path(name)).name in found:
                continue
            out.append(_journal_entry(folder / name))
            continue
        else:
            entry, held, changed = look_at(folder / name), None, True
        kept[name] = held or [*stamp, _plain(entry)]
        out.append(entry)
        if progress is not None and number % 50 == 0:
            progress(number / len(found))
    if changed:
        _write_index(folder / INDEX, kept)
    return sorted(out, key=lambda entry: (entry.made, entry.path))


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
        file.columns()
        file.events()
        problem = "; ".join([*file.damage, *summary.damage])
        return Entry(
            str(path),
            "damaged" if file.damage else "whole",
            problem,
            name=meta.name,
            made=meta.made or _time_of(path),
            course=_course_name(meta.course),
            tags=meta.tags,
            truth=meta.truth,
            driven_by=meta.driven_by,
            remarks=meta.remarks,
            simulated=meta.simulated,
            rows=file.document["rows"],
            seconds=round((summary.last_us - summary.first_us) / 1e6, 1),
            gaps=len(summary.gaps),
            rejected=summary.rejected,
            lost=summary.lost,
        )
    except (RecordingError, LookupError, TypeError, ValueError) as error:
        return Entry(str(path), "damaged", f"its labels cannot be understood ({error})", made=_time_of(path))
    finally:
        file.close()


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
        name=meta.name,
        made=meta.made,
        course=_course_name(meta.course),
        tags=meta.tags,
        truth=meta.truth,
        driven_by=meta.driven_by,
        simulated=meta.simulated,
    )


def recordings_in(folder: Path) -> list[str]:
    """Names of all that may be a recording or a journal. Raises StorageError where there is no such folder."""
    return list(_files(folder))


def _files(folder: Path) -> dict[str, tuple[int, int]]:
    """Name -> (size, time of change in ns) of everything that may be a recording."""
    try:
        with os.scandir(folder) as listing:
            found = [(item.name, item.stat()) for item in listing if _may_be(item.name) and _is_file(item)]
    except OSError as error:
        what = (error.strerror or str(error)).lower()
        kind = NotThereError if isinstance(error, FileNotFoundError | NotADirectoryError) else StorageError
        raise kind(
            f"cannot be listed: {what}", where=str(folder), todo="Name the folder that holds recordings"
        ) from error
    # An empty journal is one that begins this moment, or nobody's.
    return {
        name: (info.st_size, info.st_mtime_ns)
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
    return not name.startswith(".") and (os.path.splitext(name)[1].lower() in RECORDINGS or name.endswith(SUFFIX))  # noqa: PTH122


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


def _plain(entry: Entry) -> dict[str, Any]:
    """What is not empty; the path is not kept, a folder may be moved."""
    return {
        key: value for key, value in asdict(entry).items() if key != "path" and value not in ("", 0, False, (), None)
    } | ({"path": Path(entry.path).name})


_KNOWN: Final = frozenset(item.name for item in fields(Entry))


def _entry(folder: Path, plain: Mapping[str, Any]) -> Entry:
    kept: dict[str, Any] = {key: tuple(value) if isinstance(value, list) else value for key, value in plain.items()}
    kept["path"] = os.path.join(folder, plain["path"])  # noqa: PTH118 - ten thousand of them
    return Entry(**kept)


def _read_index(path: Path) -> dict[str, Any]:
    """What the index knows; empty where there is none, or none that can be used."""
    try:
        plain = json.loads(path.read_bytes())
        known = plain["entries"] if plain["version"] == INDEX_VERSION else {}
        good = all(len(held) == 3 and held[2].keys() <= _KNOWN and held[2]["path"] == name for name, held in known.items())
    except (OSError, ValueError, LookupError, TypeError, AttributeError, RecursionError):
        return {}
    return known if good else {}


def _write_index(path: Path, kept: Mapping[str, Any]) -> None:
    """A folder that cannot be written has no index, that is all."""
    with contextlib.suppress(OSError):
        write_text(path, json.dumps({"version": INDEX_VERSION, "entries": kept}))
