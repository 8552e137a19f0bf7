"""The recorded runs in the folder: listed on a thread, re-labelled and removed so that everything can be undone."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import fields, replace
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal
from PySide6.QtGui import QUndoCommand, QUndoStack

from gui.model.jobs import Job, Jobs
from gui.words import runs, tr
from telemetry.recording.removed import REMOVED, move, place_of_removed

if TYPE_CHECKING:
    from gui.model.folder import RunFolder
    from gui.model.messages import Messages
    from gui.model.selection import Selection
    from telemetry.recording.library import Entry
    from telemetry.recording.load import Recording
    from telemetry.recording.meta import Meta

AT_ONCE_BYTES = 1 << 19
"""A run of a few minutes: it is read and drawn in a few dozen ms."""


class _Relabel(QUndoCommand):
    """Other labels for one run; undone by giving those that were changed what they had."""

    def __init__(self, shelf: Shelf, path: Path, text: str, before: Meta, after: Meta) -> None:
        super().__init__(text)
        self._shelf, self._path, self._before, self._after = shelf, path, before, after
        self._first = True

    def redo(self) -> None:
        if self._first:
            self._first = False
            return
        self._turn(self._before, self._after, tr("Redone: {what}, {name}.", what=self.text(), name=self._path.stem))

    def undo(self) -> None:
        self._turn(self._after, self._before, tr("Undone: {what}, {name}.", what=self.text(), name=self._path.stem))

    def _turn(self, old: Meta, new: Meta, said: str) -> None:
        messages = self._shelf.messages

        def turn() -> str:
            self._shelf.turn_labels(self._path, old, new)
            return said

        if messages.attempt(turn):
            messages.tell(said)


class _Replace(QUndoCommand):
    """Runs out of the folder, others (made already) in their place; undone by moving them back."""

    def __init__(self, shelf: Shelf, text: str, away: list[Path], made: list[Path]) -> None:
        super().__init__(text)
        self._shelf, self._away, self._made = shelf, away, made
        self._first = True

    def redo(self) -> None:
        if not self._first:
            self._shelf.move(self._made, away=False)
        self._first = False
        self._shelf.move(self._away, away=True)

    def undo(self) -> None:
        if not (self._shelf.move(self._away, away=False) and self._shelf.move(self._made, away=True)):
            return  # told
        names = ", ".join(path.stem for path in self._away[:3])
        self._shelf.messages.tell(tr("Restored {name}.", name=names))


class Shelf(QObject):
    """``entries`` are the runs, the newest first; ``changed`` whenever they are others."""

    changed = Signal()
    relabelled = Signal(object)
    """One run's labels have changed: its path."""

    def __init__(
        self, folder: RunFolder, selection: Selection, messages: Messages, undo: QUndoStack, parent: QObject | None = None
    ) -> None:
        super().__init__(parent)
        self.messages = messages
        self._folder, self._selection, self._undo = folder, selection, undo
        self.entries: list[Entry] = []
        self._found_in: list[Entry] | None = None
        self._by_path: dict[str, Entry] = {}
        self.listed = False
        self._touched = False
        """Labels were changed since: not all of them are in an entry."""
        self._jobs, self._taken_in = Jobs(), Jobs()
        self._again = False
        self._recovered = False
        self._places: dict[Path, list[Path]] = {}
        """Where removed runs wait, of those of one name the last removed last."""

    # -- listing ------------------------------------------------------------------------------------------------------

    def refresh(self) -> None:
        """List the folder anew on a thread. What a capture left behind when it was broken off becomes a recording first."""
        if self._jobs.busy:
            self._again = True
            return
        folder, recover_first = self._folder.path, not self._recovered
        self._recovered = True

        def work(_job: Job) -> object:
            from telemetry.recording.library import entries
            from telemetry.recording.make import recover

            if not folder.exists():
                return folder, [], []
            recovered = [str(one) for one in recover(folder)] if recover_first else []
            return folder, entries(folder), recovered

        job = Job(work, self)
        job.finished.connect(self._listed)
        job.failed.connect(lambda words: self.messages.tell(words, "bad"))
        job.ended.connect(self._maybe_again)
        self._jobs.start(job)

    def move_in(self) -> None:
        """The folder is another one: nothing of the old one is shown any more."""
        self.entries, self.listed, self._recovered = [], False, False
        self.changed.emit()
        self.refresh()

    def _listed(self, found: object) -> None:
        assert isinstance(found, tuple)
        folder, entries, recovered = found
        if folder != self._folder.path:
            return
        for words in recovered:
            self.messages.tell(words, "warn")
        newest_first = list(reversed(entries))
        if self.listed and not self._touched and newest_first == self.entries:
            return  # a list that is filled again for nothing costs time, and its pictures flicker
        self.entries, self.listed, self._touched = newest_first, True, False
        self.changed.emit()

    def _maybe_again(self) -> None:
        if self._again:
            self._again = False
            self.refresh()

    def latest(self, count: int) -> list[Entry]:
        return self.entries[:count]

    def entry(self, path: Path) -> Entry | None:
        if self._found_in is not self.entries:
            self._found_in, self._by_path = self.entries, {entry.path: entry for entry in self.entries}
        return self._by_path.get(str(path))

    # -- one run ------------------------------------------------------------------------------------------------------

    def load(self, path: Path) -> Recording:
        """The run, whole. Raises SidelongError."""
        from telemetry.recording.load import load

        return load(path)

    def loads_at_once(self, path: Path) -> bool:
        """Whether ``load`` takes no longer than a blink. What is long, or must first be tried apart, is for a thread."""
        from telemetry.recording.hdf5.expendable import known_of

        try:
            return path.stat().st_size < AT_ONCE_BYTES and bool(known_of([path]))
        except OSError:
            return True  # that it is not there is soon said

    def ingest(self, text: Path, made: Callable[[Path], object]) -> None:
        """Make a recording of a saved or fetched text stream on a thread; ``made`` is told its path. Errors are told."""
        from gui.model.ingesting import ingest

        folder, labels = self._folder.path, self._selection.labels()

        def done(path: object) -> None:
            assert isinstance(path, Path)
            self.refresh()
            made(path)

        job = Job(lambda _job: ingest(text, folder, labels), self)
        job.finished.connect(done)
        job.failed.connect(lambda words: self.messages.tell(words, "bad"))
        self._taken_in.start(job)

    def relabel(self, path: Path, text: str, change: Callable[[Meta], Meta]) -> bool:
        """Change labels so that it can be undone; what is wrong with them is told. True: done."""
        from telemetry.recording.relabel import relabel

        before: list[Meta] = []

        def noted(meta: Meta) -> Meta:
            before.append(meta)
            return change(meta)

        after = self.messages.attempt(lambda: relabel(path, noted))
        if after is None:
            return False
        if after != before[0]:
            self._undo.push(_Relabel(self, path, text, before[0], after))
            self._relabelled(path)
        return True

    def set_course(self, paths: Sequence[Path], course: str) -> bool:
        """Another course, as TOML, for runs that were recorded with the wrong one; colours entered for that one are gone.

        Taken back in one step.
        """
        return self._each(paths, tr("course"), lambda meta: replace(meta, course=course, truth=None))

    def set_truths(self, paths: Sequence[Path], truth: tuple[str, ...]) -> bool:
        """The actual colours of one run or many, taken back in one step; whether all could be set."""
        return self._each(paths, tr("colours"), lambda meta: replace(meta, truth=truth))

    def _each(self, paths: Sequence[Path], what: str, change: Callable[[Meta], Meta]) -> bool:
        if len(paths) > 1:
            self._undo.beginMacro(tr("{what} of {runs}", what=what, runs=runs(len(paths))))
        done = [self.relabel(path, what, change) for path in paths]
        if len(paths) > 1:
            self._undo.endMacro()
        return all(done)

    def set_truth(self, path: Path, truth: tuple[str, ...] | None) -> bool:
        return self.relabel(path, tr("colours"), lambda meta: replace(meta, truth=truth))

    def turn_labels(self, path: Path, old: Meta, new: Meta) -> None:
        """For undo and redo: the labels that differ; what another program wrote into the others meanwhile stays.

        Raises SidelongError.
        """
        from telemetry.recording.relabel import relabel

        names = [one.name for one in fields(new)]
        differ = {name: getattr(new, name) for name in names if getattr(new, name) != getattr(old, name)}
        relabel(path, lambda meta: replace(meta, **differ))
        self._relabelled(path)

    def _relabelled(self, path: Path) -> None:
        self._touched = True
        self.relabelled.emit(path)
        self.refresh()

    # -- in and out -----------------------------------------------------------------------------------------------------

    def remove(self, paths: list[Path]) -> None:
        """Out of the folder; told with a button that brings them back."""
        one = len(paths) == 1
        said = tr("{name} was removed.", name=paths[0].stem) if one else tr("{n} runs were removed.", n=len(paths))
        self._replace(_Replace(self, tr("remove"), paths, []), said)

    def put_drives_for(self, path: Path, drives: list[Path]) -> None:
        """The drives that a run was cut into, in its place; told with a button that brings it back."""
        said = tr("{name} was cut into {n} runs.", name=path.stem, n=len(drives))
        self._replace(_Replace(self, tr("cut into runs"), [path], drives), said)

    def _replace(self, command: _Replace, said: str) -> None:
        undo = self._undo
        undo.push(command)
        count = undo.index()

        def take_back() -> None:
            """This command and no other: what was done after it is undone first, by hand."""
            if undo.index() == count:
                undo.undo()
            else:
                self.messages.tell(tr("Something was done after that: undo it first, with Ctrl+Z."), "warn")

        self.messages.tell(said, action=tr("Undo"), does=take_back, cause="undo")

    def move(self, paths: list[Path], *, away: bool) -> bool:
        """Between the folder and the place of the removed. False: something is where it was, which is told."""
        done = True
        for path in paths:
            usual = path.parent / REMOVED / path.name
            waiting = self._places.setdefault(path, [])
            place = place_of_removed(path) if away else waiting[-1] if waiting else usual
            source, target = (path, place) if away else (place, path)
            moved = self.messages.attempt(lambda source=source, target=target: _move(source, target))  # type: ignore[misc]
            if moved and away:
                waiting.append(place)
            elif moved and waiting:
                waiting.pop()
            done = done and moved is not None
        self.refresh()
        return done

    def close(self) -> None:
        self._taken_in.close()
        self._jobs.close()


def _move(source: Path, target: Path) -> bool:
    move(source, target)
    return True
