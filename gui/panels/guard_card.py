"""What changed since the last kept result: readings agreed on, held against today's."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QListWidget

from gui.model.code_consent import CodeConsent
from gui.model.folder import RunFolder
from gui.model.jobs import Job, Jobs
from gui.model.messages import Messages
from gui.model.season import Season, SeasonKind, free_file
from gui.model.settings import UserSettings
from gui.panels.choice import ChoiceBox
from gui.panels.flow import FlowLayout
from gui.panels.message_bar import SIGNS
from gui.panels.parts import Card, Label, button
from gui.words import runs, tr
from telemetry.replay.baseline.check import RegressionCheck, check, present
from telemetry.replay.baseline.file import Agreed, read_agreed, write_agreed
from telemetry.replay.baseline.specs import specs_of
from telemetry.replay.compare import ComparisonRequest as Replay
from telemetry.text_in_place import write_text
from telemetry.wording import sentences


class GuardCard(Card):
    """Keeps what all strategies read on the runs shown, each time in a new file in the folder; names what differs later.

    ``answered`` comes with a sentence and its kind (good, warn, bad) when either is done.
    """

    answered = Signal(str, str)

    def __init__(
        self, folder: RunFolder, season: Season, settings: UserSettings, code: CodeConsent, messages: Messages
    ) -> None:
        super().__init__(tr("Baseline"))
        self.folder, self.season, self.settings, self.code, self.messages = folder, season, settings, code, messages
        self.paths: list[Path] = []
        self._answered = False
        """The words are an answer on these runs, and stay."""
        self._jobs = Jobs()
        self.words = Label("", "soft", wrap=True)
        self.which = ChoiceBox(tr("Which baseline"))
        self.which.activated.connect(lambda _index: self._choose())
        self.list = QListWidget()
        self.list.setWordWrap(True)
        self.list.setAccessibleName(tr("What differs"))
        self.list.setMinimumHeight(80)
        self.check_button = button(tr("Compare with baseline"), self.check, key="Ctrl+B")
        self.keep_button = button(tr("Save baseline"), self.keep, kind="quiet")
        self.add(self.which, self.words)
        self.add(self.list, stretch=1)
        self.add(FlowLayout(self.check_button, self.keep_button))
        self.show_runs([])

    @property
    def file(self) -> Path | None:
        """The baseline chosen, at first the newest; None where the folder has none."""
        chosen = self.which.currentData()
        return Path(chosen) if chosen and Path(chosen).parent == self.folder.path else None

    def _list_baselines(self, choose: Path | None = None) -> None:
        """Those in the folder, the newest first; the one chosen stays chosen."""
        wanted = str(choose or self.file or "")
        found = self.season.files(self.folder.path, SeasonKind.BASELINE)
        self.which.clear()
        for one in found:
            self.which.addItem(one.path.stem, str(one.path))
        self.which.setCurrentIndex(max(self.which.findData(wanted), 0 if found else -1))
        self.which.setVisible(len(found) > 0)

    def _choose(self) -> None:
        self._answered = False
        self.list.clear()
        self.show_runs(self.paths)

    def show_runs(self, paths: list[Path]) -> None:
        if paths != self.paths:
            self._answered = False
            self.list.clear()
        self.paths = paths
        self._list_baselines()
        there = self.file is not None
        self.check_button.setEnabled(there)
        self.keep_button.setEnabled(bool(paths))
        self.list.setVisible(self.list.count() > 0)
        if not there:
            self.words.say(tr("No baseline yet. Save one, and every later change is named slot by slot."))
        elif not self._answered:
            self.words.say(tr("Compare with it to see which readings have changed since."))

    @property
    def _palette(self) -> str:
        """The one that the matrix reads with, as a file; empty: each recording's own."""
        return self.settings.text("palette")

    def keep(self) -> None:
        """Today's readings become the agreed ones, in a file of their own: what was agreed before stays."""
        paths, folder, palette = list(self.paths), self.folder.path, self._palette
        file = free_file(folder, SeasonKind.BASELINE)

        def work(_job: Job) -> object:
            now, _, errors = present(paths, Replay(palette=palette), folder)
            if errors:
                raise next(iter(errors.values()))
            write_text(file, write_agreed(now))
            return file

        def kept(_file: object) -> None:
            self.list.clear()
            self._list_baselines(file)
            words = tr("Baseline saved: the readings of {runs} are in {file}.", runs=runs(len(paths)), file=file.name)
            self._answer(words, "good")

        self._run(work, kept)

    def check(self) -> None:
        """Replay the runs that were agreed on, and name what differs."""
        if self.file is None:
            self._answer(tr("No baseline yet: save one, and later changes are named."), "warn")
            return
        file = self.file
        read: list[Agreed] = []

        def hold() -> None:
            if read:
                self._hold_against(read[0])

        self._run(lambda _job: read_agreed(file), read.append, then=hold)

    def _hold_against(self, agreed: Agreed) -> None:
        """Replay what the file names. Code that it names runs only where its user says so, the path before the eyes."""
        folder, palette = self.folder.path, self._palette
        known, code = specs_of(agreed, folder)
        may_run = self.code.asks
        left_out = [path for path in code.values() if not self.messages.attempt(partial(may_run, path))]
        specs = tuple(spec for spec in (*known, *code.values()) if spec not in left_out)
        if not specs:
            self._answer(tr("Nothing was held against the baseline: all that it names is code that was left out."), "warn")
            return

        def work(_job: Job) -> object:
            names = dict.fromkeys(recording for _, recording in agreed.runs)
            there = [folder / name for name in names if (folder / name).exists()]
            today = Replay(specs, agreed.settings, palette=palette)
            return agreed.palette, left_out, check(agreed, there, today, folder)

        self._run(work, self._checked)

    def _checked(self, found: object) -> None:
        assert isinstance(found, tuple)
        palette, left_out, found = found
        assert isinstance(found, RegressionCheck)
        self.list.clear()
        for path in left_out:
            self.list.addItem(tr("! Not checked, because it is code that was left out: {path}", path=path))
        if palette != found.now.palette:
            own = tr("each recording's own")
            self.list.addItem(tr("! The palette was {was}, it is {now}.", was=palette or own, now=found.now.palette or own))
        for sentence in sentences(found.strategies):
            self.list.addItem(f"! {sentence}")
        for one in found.differences:
            slot = f"{one.slot}: " if one.slot else ""
            self.list.addItem(
                f"✗ {Path(one.recording).stem}, {one.strategy}: {slot}{one.was} → {one.now}. {one.why}".rstrip(". ")
            )
        if found.differences:
            self._answer(tr("{count} readings differ from the baseline.", count=len(found.differences)), "bad")
        else:
            words = tr(
                "Nothing has moved: all {readings} readings of {runs} are as in the baseline.",
                readings=found.readings,
                runs=runs(found.runs),
            )
            self._answer(words, "good")

    def _answer(self, words: str, kind: str) -> None:
        self._answered = True
        self.words.say(f"{SIGNS[kind]} {words}")
        self.answered.emit(words, kind)

    def _run(self, work, done, then=None) -> None:  # type: ignore[no-untyped-def]
        """Do ``work`` on a thread, ``done`` with its result, and ``then``, when the next may begin."""
        if self._jobs.busy:
            return
        self.words.say(tr("Replaying …"))
        folder = self.folder.path

        def here(does: Callable[[Any], None], found: Any) -> None:
            """What was asked of another folder's runs is no answer here."""
            if folder == self.folder.path:
                does(found)

        job = Job(work, self)
        job.finished.connect(lambda found: here(done, found))
        job.failed.connect(lambda words: here(lambda said: self._answer(said, "bad"), words))
        job.ended.connect(lambda: self.show_runs(self.paths))
        if then is not None:
            job.ended.connect(then)
        self._jobs.start(job)

    def stop(self) -> None:
        self._jobs.close()
