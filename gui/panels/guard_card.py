"""What changed since the last kept result: readings agreed on, held against today's."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtWidgets import QListWidget, QWidget

from gui.jobs import Job, Jobs
from gui.panels.flow import Flow
from gui.panels.parts import Card, Label, button
from gui.words import runs, tr
from gui.workspace import Workspace
from telemetry.replay.agreed import read_agreed, write_agreed
from telemetry.replay.compare import Job as Replay
from telemetry.replay.guard import Check, check, present
from telemetry.text_in_place import write_text

AGREED = "agreed.toml"


class GuardCard(Card):
    """Keeps what all strategies read on the runs shown, in one text file in the folder; names what differs from it later."""

    def __init__(self, workspace: Workspace, parent: QWidget | None = None) -> None:
        super().__init__(tr("Since the last kept result"), parent=parent)
        self.workspace = workspace
        self.paths: list[Path] = []
        self._jobs = Jobs()
        self.words = Label("", "soft", wrap=True)
        self.list = QListWidget()
        self.list.setWordWrap(True)
        self.list.setAccessibleName(tr("What differs"))
        self.list.setMinimumHeight(80)
        self.check_button = button(tr("What has changed?"), self.check, key="G")
        self.keep_button = button(tr("Keep today's readings"), self.keep, kind="quiet")
        self.add(self.words)
        self.add(self.list, stretch=1)
        self.add(Flow(self.check_button, self.keep_button))
        self.show_runs([])

    @property
    def file(self) -> Path:
        return self.workspace.folder / AGREED

    def show_runs(self, paths: list[Path]) -> None:
        self.paths = paths
        there = self.file.exists()
        self.check_button.setEnabled(there and not self._jobs.busy)
        self.keep_button.setEnabled(bool(paths) and not self._jobs.busy)
        self.list.setVisible(self.list.count() > 0)
        if not there:
            self.words.say(tr("Nothing is kept yet. Keep today's readings, and every later change is named slot by slot."))
        elif not self.list.count():
            self.words.say(tr("Kept in {file}.", file=self.file.name))

    def keep(self) -> None:
        """Today's readings become the agreed ones."""
        paths, folder, file = list(self.paths), self.workspace.folder, self.file

        def work(_job: Job) -> object:
            now, _, errors = present(paths, Replay(), folder)
            if errors:
                raise next(iter(errors.values()))
            write_text(file, write_agreed(now))
            return len(paths)

        self._run(work, self._kept)

    def _kept(self, count: object) -> None:
        assert isinstance(count, int)
        self.list.clear()
        self.words.say(tr("✓ The readings of {runs} are kept in {file}.", runs=runs(count), file=self.file.name))

    def check(self) -> None:
        """Replay the runs that were agreed on, and name what differs."""
        folder, file = self.workspace.folder, self.file

        def work(_job: Job) -> object:
            agreed = read_agreed(file)
            names = dict.fromkeys(recording for _, recording in agreed.runs)
            there = [folder / name for name in names if (folder / name).exists()]
            specs = tuple(name for name in agreed.strategies if name not in agreed.files)
            return check(agreed, there, Replay(specs, agreed.settings), folder)

        self._run(work, self._checked)

    def _checked(self, found: object) -> None:
        assert isinstance(found, Check)
        self.list.clear()
        for sentence in found.strategies:
            self.list.addItem(f"! {sentence}")
        for one in found.differences:
            slot = f"{one.slot}: " if one.slot else ""
            self.list.addItem(
                f"✗ {Path(one.recording).stem}, {one.strategy}: {slot}{one.was} → {one.now}. {one.why}".rstrip(". ")
            )
        if found.differences:
            self.words.say(tr("✗ {count} readings differ from what was kept.", count=len(found.differences)))
        else:
            self.words.say(
                tr("✓ All {readings} readings of {runs} are as kept.", readings=found.readings, runs=runs(found.runs))
            )

    def _run(self, work, done) -> None:  # type: ignore[no-untyped-def]
        if self._jobs.busy:
            return
        self.words.say(tr("Replaying …"))
        job = Job(work, self)
        job.finished.connect(done)
        job.failed.connect(lambda words: self.words.say(f"✗ {words}"))
        job.ended.connect(lambda: self.show_runs(self.paths))
        self._jobs.start(job)
        self.check_button.setEnabled(False)
        self.keep_button.setEnabled(False)

    def stop(self) -> None:
        self._jobs.close()
