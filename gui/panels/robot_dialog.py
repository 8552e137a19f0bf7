"""Put on the robot: which strategy, in which language, for which columns; then the files, and whether both read alike."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtWidgets import QDialog, QGridLayout, QVBoxLayout, QWidget

from gui.model.jobs import Job, Jobs
from gui.model.selection import Selection
from gui.panels.choice import ChoiceBox
from gui.panels.file_dialogs import ask_for_folder, fit_to_screen
from gui.panels.parts import Card, Label, button, row, scrolled, set_kind
from gui.words import tr
from telemetry.commands.recipe import write_page
from telemetry.reading.load import load_strategy
from telemetry.robot.export import Export, export
from telemetry.robot.order import order_like
from telemetry.robot.recipe.sheet import Sheet, sheet
from telemetry.robot.self_check import self_check

RECIPE = "recipe"
LANGUAGES = (("micropython", "MicroPython"), ("c", "C or C++"), (RECIPE, "Blocks: a sheet of steps"))
WIDE_PX, HIGH_PX = 600, 470
MOST_RUNS = 60
"""On so many runs it is counted what another strategy costs."""


def next_step(language: str) -> str:
    """How what was written gets onto the robot."""
    if language == "c":
        return tr("Next: add reader.h and reader.c to your robot's program; reader.h shows how to call them. check.c stays "
                  "on the computer: it prints what the robot would read in a recorded stream.")  # fmt: skip
    return tr("Next: copy reader.py onto the robot, beside your program; its first lines show how to call it. check.py "
              "stays on the computer: it prints what the robot would read in a recorded stream.")  # fmt: skip


class RobotDialog(QDialog):
    """``like``: a run that was sent by this robot; the program is made for the same columns. ``near``: where to look for a
    folder first.
    """

    def __init__(self, specs: list[tuple[str, str]], chosen: str, like: list[Path], *, selection: Selection, near: Path,
                 parent: QWidget | None = None) -> None:  # fmt: skip
        super().__init__(parent)
        self.selection, self.near = selection, near
        self._jobs = Jobs()
        self.made: list[Path] = []
        self.runs = tuple(like)
        self.setWindowTitle(tr("Put on the robot"))
        self.strategy, self.language, self.like = (
            ChoiceBox(tr("Strategy")),
            ChoiceBox(tr("Language")),
            ChoiceBox(tr("Like this run")),
        )
        for name, spec in specs:
            self.strategy.addItem(name, spec)
        self.strategy.setCurrentIndex(max(self.strategy.findText(chosen), 0))
        for key, words in LANGUAGES:
            self.language.addItem(words, key)
        for path in like:
            self.like.addItem(path.stem, str(path))
        card = Card()
        grid = QGridLayout()
        for line, (words, choice) in enumerate(((tr("Strategy"), self.strategy), (tr("Robot's language"), self.language),
                                                (tr("Same columns as"), self.like))):  # fmt: skip
            grid.addWidget(Label(words), line, 0)
            grid.addWidget(choice, line, 1)
        grid.setColumnStretch(1, 1)
        card.add(grid)
        card.add(Label(tr("The very logic that was compared here is written out; nothing is to be copied by hand."), "soft",
                       wrap=True))  # fmt: skip
        self.answer = Card(kind="card")
        self.words = Label(tr("Choose a folder: the robot's program and a check are written there."), wrap=True)
        self.answer.add(self.words)
        self.write_button = button(tr("Write into a folder…"), self._ask, kind="chief")
        inside = QWidget()
        cards = QVBoxLayout(inside)
        cards.setContentsMargins(0, 0, 4, 0)
        cards.addWidget(card)
        cards.addWidget(self.answer)
        cards.addStretch(1)
        column = QVBoxLayout(self)
        column.addWidget(scrolled(inside), 1)
        fit_to_screen(self, WIDE_PX, HIGH_PX)
        column.addLayout(row(None, button(tr("Close"), self.close), self.write_button))

    def _ask(self) -> None:
        chosen = ask_for_folder(self, tr("A folder for the robot's program"), self.near, new=True)
        if chosen:
            self.write(Path(chosen))

    def write(self, folder: Path) -> None:
        """Make the files on a thread, hold them beside the computer's logic, and write them."""
        spec, language, like = self.strategy.currentData(), self.language.currentData(), Path(str(self.like.currentData()))
        runs = self.runs[:MOST_RUNS]
        course, palette = self.selection.course, self.selection.palette
        self.write_button.setEnabled(False)
        self._say(tr("Writing and checking …"), "card")

        def program(_job: Job) -> object:
            made = export(order_like(load_strategy(spec), course, like, palette), language)
            return made, self_check(made), made.save(folder)

        def steps(_job: Job) -> object:
            made = sheet(order_like(load_strategy(spec), course, like, palette), runs)
            folder.mkdir(parents=True, exist_ok=True)
            write_page(made.page, folder / "recipe.html", force=False)
            return made, folder / "recipe.html"

        job = Job(steps if language == RECIPE else program, self)
        job.finished.connect(self._done_sheet if language == RECIPE else self._done)
        job.failed.connect(lambda words: self._say(words, "bad"))
        job.ended.connect(lambda: self.write_button.setEnabled(True))
        self._jobs.start(job)

    def _done(self, found: object) -> None:
        assert isinstance(found, tuple)
        made, check, paths = found
        assert isinstance(made, Export)
        self.made = paths
        files = ", ".join(tr("{name} ({size:,} bytes)", name=path.name, size=made.sizes[path.name]) for path in paths)
        lines = [
            tr("{files} are in {folder}.", files=files, folder=paths[0].parent),
            check.said,
            *([f"{check.step[:1].upper()}{check.step[1:]}."] if check.step else []),
        ]
        lines.append(next_step(made.language))
        if made.order.simulated:
            lines.append(tr("The palette is simulated: capture your own sensor's colours before you trust it."))
        lines += [tr("Caution: {words}.", words=words) for words in check.cautions]
        self._say("\n".join(lines), "bad" if check.same is False else "good" if check.same else "warn")

    def _done_sheet(self, found: object) -> None:
        assert isinstance(found, tuple)
        made, path = found
        assert isinstance(made, Sheet)
        self.made = [path]
        lines = [tr("{name} is in {folder}: open it in a browser and print it.", name=path.name, folder=path.parent)]
        self._say("\n".join([*lines, *([made.remark] if made.remark else [])]), "warn" if made.remark else "good")

    def _say(self, words: str, kind: str) -> None:
        set_kind(self.answer, kind)
        self.words.say(words)

    def done(self, code: int) -> None:
        self._jobs.close()
        super().done(code)
