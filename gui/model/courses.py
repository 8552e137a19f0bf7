"""The courses that are known here: built in, in files, and those that recorded runs carry with them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from gui.model.season import SeasonKind, free_file
from gui.model.selection import Selection
from gui.model.shelf import Shelf
from gui.words import tr
from telemetry.errors import SidelongError
from telemetry.text_in_place import write_text


@dataclass(frozen=True, slots=True)
class KnownCourse:
    """``about``: where it comes from. ``use`` makes it the course in use; what goes wrong is told, or raised.

    ``in_use``: it is this very one, not merely one of the same name.
    """

    name: str
    about: str
    use: Callable[[], object]
    in_use: bool = False


def known_courses(selection: Selection, files: Sequence[Path], shelf: Shelf) -> list[KnownCourse]:
    """The built-in ones first, then the ``files`` in the folder, then those that only runs have."""
    from telemetry.course import load_course
    from telemetry.sources.synthetic.run import COURSES, built_in_course

    path_in_use, variant_in_use = selection.course_choice
    found = [
        KnownCourse(built_in_course(variant).name, tr("built in"), partial(selection.use_built_in_course, variant),
                    not path_in_use and variant == variant_in_use)
        for variant in COURSES
    ]  # fmt: skip
    for path in dict.fromkeys([*(path.resolve() for path in files), *selection.course_files]):
        try:
            name = load_course(path).name
        except (SidelongError, OSError):
            continue  # none to choose
        used = bool(path_in_use) and path == Path(path_in_use).resolve()
        found.append(KnownCourse(name, path.name, partial(selection.use_course, path), used))
    names = {one.name for one in found}
    for entry in shelf.entries:
        if entry.course and entry.course not in names:
            names.add(entry.course)
            about = tr("of the run {name}", name=entry.title)
            found.append(KnownCourse(entry.course, about, partial(_use_of_run, selection, shelf, Path(entry.path))))
    return found


def _use_of_run(selection: Selection, shelf: Shelf, run: Path) -> bool:
    """The course that a run was made with becomes a file beside it. Raises SidelongError."""
    recording = shelf.load(run)
    name = recording.course.name if recording.course is not None else ""
    path = free_file(run.parent, SeasonKind.COURSE, name)
    write_text(path, recording.meta.course)
    return selection.use_course(path)
