"""Decide: every run with every strategy in one matrix, settings tried out by hand, and what changed since the last time."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtWidgets import QProgressBar, QWidget

from gui.model.matrix import VARIANT, Matrix
from gui.model.matrix_words import summary_words
from gui.model.recommendation import recommend
from gui.model.season import SeasonKind, free_file
from gui.model.workspace import Workspace
from gui.panels.cell_card import CellCard
from gui.panels.choice import ChoiceBox
from gui.panels.flow import FlowLayout
from gui.panels.guard_card import GuardCard
from gui.panels.key_host import Key
from gui.panels.margins_and_report import MarginsAndReport
from gui.panels.matrix_view import MatrixView
from gui.panels.parts import Card, Label, button, column_of_cards
from gui.panels.recommendation_card import RecommendationCard
from gui.panels.settings_panel import SettingsPanel
from gui.panels.side_by_side import SideBySide
from gui.panels.verdict_table import cause_words, outcome_words
from gui.places.place import Place
from gui.theme import Theme
from gui.words import runs, tr
from telemetry.errors import SidelongError
from telemetry.reading.load import load_strategy, write_toml
from telemetry.replay.scoring.results import ROBOT, StrategySummary, ranked
from telemetry.replay.scoring.score import Outcome
from telemetry.text_in_place import write_text

if TYPE_CHECKING:
    from gui.panels.margins_dialog import MarginsDialog

RIGHT_PX, LEAST_MATRIX_PX = 340, 230
NARROW_PX = 900
"""Narrower, the cards stand below the matrix: all of its columns are seen."""


class DecidePlace(Place):
    """``entered`` with a list of paths compares on these; else on all runs of the folder whose truth is known."""

    name = "decide"

    def __init__(self, workspace: Workspace, parent: QWidget | None = None) -> None:
        super().__init__(workspace, parent)
        self.matrix = Matrix(workspace.selection, workspace.standings, workspace.messages, workspace.evaluator, self)
        self.view = MatrixView(self.matrix, workspace.theme)
        self.chosen_only: list[Path] = []
        self.cards = SideBySide(self._left(), self._right(), RIGHT_PX, NARROW_PX)
        self.column.addWidget(self.cards, 1)
        self.matrix.progressed.connect(self._progress)
        self.matrix.ended.connect(self._ended)
        self.matrix.cause_found.connect(self._cause_found)
        self.matrix.filled.connect(lambda _path: self._show_summary())
        self.view.cell_chosen.connect(self._show_cell)
        self.view.cell_opened.connect(self._open)
        workspace.shelf.changed.connect(self._shelf_changed)
        workspace.shelf.relabelled.connect(self._relabelled)
        workspace.selection.palette_changed.connect(self.compare_anew)
        workspace.selection.own_strategies_changed.connect(self.compare_anew)
        workspace.selection.strategy_changed.connect(self._other_strategy)
        self.set_keys(
            Key("← → ↑ ↓", tr("from cell to cell")),
            Key("Return", tr("open the run where it went wrong")),
            Key("Ctrl+B", tr("compare with the baseline"), self.guard.check),
            Key("Escape", tr("cancel"), self.matrix.cancel),
        )

    # -- building -----------------------------------------------------------------------------------------------------

    def _left(self) -> QWidget:
        card = Card()
        self.which = ChoiceBox(tr("Which runs"))
        self.which.activated.connect(lambda _index: self._choose_runs())
        self.progress = QProgressBar()
        self.progress.setAccessibleName(tr("Replaying"))
        self.cancel_button = button(tr("Cancel"), self.matrix.cancel, key="Esc")
        self.again_button = button(tr("Recalculate"), self.compare_anew, kind="quiet")
        self.fold_button = button("", self._fold, kind="quiet")
        self.progress.setMinimumWidth(120)
        self.which.setSizeAdjustPolicy(ChoiceBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.which.setMinimumContentsLength(17)
        self.which.setToolTip(tr("Runs whose actual colours are entered can be judged"))
        self.more = MarginsAndReport(
            self.workspace.folder, self.workspace.messages, self.matrix, self.view, self._margins_dialog
        )
        self.more.progressed.connect(self._progress)
        bar = FlowLayout(
            self.which, self.more.margins_button, self.more.report_button,
            self.again_button, self.fold_button, self.progress, self.cancel_button,
        )  # fmt: skip  # what comes and goes stands last: no button moves under the pointer
        self.headline = RecommendationCard()
        self.headline.use_wanted.connect(self._use)
        self.headline.robot_wanted.connect(self.put_on_robot)
        card.add(self.headline)
        card.add(bar)
        self.view.setMinimumHeight(LEAST_MATRIX_PX)
        card.add(self.view, stretch=1)
        self.summary = Label("", wrap=True)
        card.add(self.summary)
        for one in (self.progress, self.cancel_button, self.fold_button):
            one.hide()
        return card

    def _right(self) -> QWidget:
        inside = QWidget()
        column = column_of_cards(inside)
        self.cell = CellCard(self._open_chosen)
        self.cell_words, self.cell_why, self.open_button = self.cell.words, self.cell.why, self.cell.open_button
        self.settings = SettingsPanel(self.workspace.selection.strategy, self.workspace.theme)
        self.settings.tried.connect(self.matrix.try_out)
        self.settings.kept.connect(self._keep_strategy)
        mine = self.workspace
        self.guard = GuardCard(mine.folder, mine.season, mine.settings, mine.code, mine.messages)
        self.guard.answered.connect(self._answered)
        column.addWidget(self.cell)
        column.addWidget(self.settings)
        column.addWidget(self.guard)
        column.addStretch(1)
        return inside

    def homes(self) -> list[QWidget]:
        return [self.view, self.headline.robot_button, self.headline.use_button]

    # -- runs ---------------------------------------------------------------------------------------------------------

    def entered(self, what: object = None) -> None:
        if isinstance(what, list) and what:
            self.chosen_only = what
        self._list_choices()
        if what and self.chosen_only:
            self.which.setCurrentIndex(0)
        if not self.workspace.shelf.listed:
            self.workspace.shelf.refresh()
        else:
            self._choose_runs()
        self.view.setFocus()

    def _list_choices(self) -> None:
        shelf = self.workspace.shelf
        entries = [entry for entry in shelf.entries if entry.truth]
        self.chosen_only = [path for path in self.chosen_only if not shelf.listed or shelf.entry(path) is not None]
        courses = sorted({entry.course for entry in entries if entry.course})
        tags = sorted({tag for entry in entries for tag in entry.tags})
        chosen = self.which.currentData()
        self.which.clear()
        if self.chosen_only:
            self.which.addItem(tr("the chosen ones ({runs})", runs=runs(len(self.chosen_only))), "chosen")
        self.which.addItem(tr("all judged ({runs})", runs=runs(len(entries))), "all")
        for course in courses:
            self.which.addItem(tr("on {course}", course=course), f"course:{course}")
        for tag in tags:
            self.which.addItem(tr("tagged {tag}", tag=tag), f"tag:{tag}")
        at = self.which.findData(chosen)
        self.which.setCurrentIndex(max(at, 0))

    def _choose_runs(self) -> None:
        which = str(self.which.currentData() or "all")
        kind, _, word = which.partition(":")
        entries = [entry for entry in self.workspace.shelf.entries if entry.truth and entry.state in ("whole", "damaged")]
        if kind == "chosen":
            paths = list(self.chosen_only)
        elif kind == "course":
            paths = [Path(entry.path) for entry in entries if entry.course == word]
        elif kind == "tag":
            paths = [Path(entry.path) for entry in entries if word in entry.tags]
        else:
            paths = [Path(entry.path) for entry in entries]
        missing = any((path, self.matrix.columns[-1]) not in self.matrix.results for path in paths)
        if paths != self.matrix.paths or (missing and not self.matrix.stopped):
            self.matrix.show_runs(paths)
        self.guard.show_runs(paths)
        if not paths:
            self._show_summary()
            self.summary.say(tr("No run whose colours are entered yet. Record one, and enter its colours."))

    def compare_anew(self) -> None:
        """Forget every result and work it out again."""
        self.matrix.forget_all()
        self.matrix.show_runs(self.matrix.paths)

    def _shelf_changed(self) -> None:
        if self.isVisible():
            self._list_choices()
            self._choose_runs()

    def _relabelled(self, path: object) -> None:
        assert isinstance(path, Path)
        self.matrix.forget(path)

    # -- the matrix ---------------------------------------------------------------------------------------------------

    def _progress(self, done: int, of: int) -> None:
        self.progress.setMaximum(of)
        self.progress.setValue(done)
        self.progress.setFormat(tr("{done} of {runs}", done=done, runs=runs(of)))
        self.progress.setVisible(done < of)
        self.cancel_button.setVisible(done < of)
        self.again_button.setVisible(done >= of)
        if done < of:
            self.fold_button.hide()
        else:
            self._show_folded()

    def _ended(self) -> None:
        self.progress.hide()
        self.cancel_button.hide()
        self.again_button.show()
        self.view.cells.rearrange()
        self._show_folded()
        self._show_summary()
        chosen = self.view.chosen()
        if chosen is not None:
            self._show_cell(*chosen)  # it was worked out anew
        elif (best := self._ranked()[0]).runs:
            self.view.choose(self._worth_a_look(best.strategy), best.strategy)

    def _worth_a_look(self, best: str) -> Path:
        """A run that the best strategy misreads; of none, the first run."""
        for path in self.matrix.paths:
            result = self.matrix.result(path, best)
            if result is not None and result.outcome is Outcome.WRONG:
                return path
        return self.matrix.paths[0]

    def _ranked(self) -> list[StrategySummary]:
        return ranked([self.matrix.summary(column) for column in self.matrix.columns if column != ROBOT])

    def _answered(self, words: str, kind: str) -> None:
        """What has changed is said where it is seen, and the list of it brought into view."""
        if self.matrix.variant_spec:
            words += " " + tr("The changed settings are only tried out, and not among these.")
        save = self.guard.file is not None or not self.guard.keep_button.isEnabled()
        self.workspace.messages.tell(words, kind, action="" if save else tr("Save baseline"), does=self.guard.keep)
        self.cards.show_in_view(self.guard)

    def _show_summary(self) -> None:
        summaries = self._ranked()
        if self.matrix.busy:
            self.headline.wait()
        else:
            self.headline.show_recommendation(recommend([one for one in summaries if one.strategy != VARIANT],
                                                        self.matrix.in_use))  # fmt: skip
            self.stay_in_sight()
        if not summaries or not summaries[0].runs:
            self.summary.say("")
            return
        palette = self.workspace.settings.text("palette") if self.workspace.selection.palette is not None else ""
        self.summary.say(summary_words(self.matrix, summaries, Path(palette).name))

    def _show_cell(self, path: object, column: str) -> None:
        assert isinstance(path, Path)
        problem = self.matrix.problems.get(path)
        result = self.workspace.messages.attempt(lambda: self.matrix.explained(path, column))
        self.open_button.setEnabled(result is not None)
        if problem or result is None:
            self.cell.say(problem or tr("Not worked out yet."), ())
            return
        name = {VARIANT: tr("{name} as changed", name=self.matrix.base), ROBOT: tr("the robot itself")}.get(column, column)
        cause = cause_words(self.matrix.causes.get(path)) if result.why else ""
        self.cell.say(
            tr("{run}, read with {strategy}: {outcome}", run=path.stem, strategy=name, outcome=outcome_words(result)),
            [*result.why, *([cause] if cause else [])],
        )

    def _cause_found(self, path: object) -> None:
        chosen = self.view.chosen()
        if chosen is not None and chosen[0] == path:
            self._show_cell(*chosen)

    def _use(self, strategy: str) -> None:
        """What is recommended is read with from now on, live and everywhere; can be undone."""
        self.workspace.choices.strategy(self.matrix.spec_of(strategy))

    def _other_strategy(self) -> None:
        self.view.cells.rearrange()
        self._show_summary()
        self.settings.follow(self.workspace.selection.strategy)

    def put_on_robot(self) -> None:
        """The program for the robot, of the strategy in use unless another is chosen."""
        from gui.panels.robot_dialog import RobotDialog

        if not self.matrix.paths:
            self.workspace.messages.tell(
                tr("Record a run first: the program is made for the columns that your robot sends."), "warn"
            )
            return
        selection, near = self.workspace.selection, self.workspace.folder.path
        RobotDialog(
            self._specs(), self.matrix.in_use, list(self.matrix.paths), selection=selection, near=near, parent=self
        ).exec()

    def _margins_dialog(self) -> MarginsDialog:
        """The margins of what is shown now."""
        from gui.panels.margins_dialog import MarginsDialog

        folder, palette, theme = self.workspace.folder.path, self.workspace.settings.text("palette"), self.workspace.theme
        return MarginsDialog(
            self._specs(), self.matrix.in_use, list(self.matrix.paths),
            folder=folder, palette=palette, theme=theme, parent=self.view,
        )  # fmt: skip

    def _specs(self) -> list[tuple[str, str]]:
        """Of the strategies shown: (name, what it is replayed as)."""
        columns = [column for column in self.view.cells.shown if column not in (ROBOT, VARIANT)]
        specs = [(column, self.matrix.spec_of(column)) for column in columns]
        if self.matrix.variant_spec:
            specs.append((tr("{name} as changed", name=self.matrix.base), self.matrix.variant_spec))
        return specs

    def _fold(self) -> None:
        self.view.cells.unfolded = not self.view.cells.unfolded
        self.view.cells.rearrange()
        self._show_folded()

    def _show_folded(self) -> None:
        """How many strategies judge none of these runs, and a way to see them all the same."""
        idle, cells = self.matrix.idle(), self.view.cells
        self.fold_button.setVisible(bool(idle))
        words = tr("1 does not apply") if len(idle) == 1 else tr("{n} do not apply", n=len(idle))
        self.fold_button.setText(f"{words}: {tr('hide') if cells.unfolded else tr('show')}")
        self.fold_button.setAccessibleName(self.fold_button.text())
        self.fold_button.setToolTip(", ".join(idle))

    def _open_chosen(self) -> None:
        chosen = self.view.chosen()
        if chosen is not None:
            self._open(*chosen)

    def _open(self, path: object, column: str) -> None:
        assert isinstance(path, Path)
        self.workspace.go("runs", (path, self.matrix.spec_of(column)))

    def _keep_strategy(self, spec: str) -> None:
        """Write the changed strategy to a file, which the command line and the robot's team can use."""
        target = free_file(self.workspace.folder.path, SeasonKind.STRATEGY, spec.partition(":")[0])
        try:
            write_text(target, write_toml(load_strategy(spec)))
        except (OSError, SidelongError) as error:
            self.workspace.messages.tell(str(error), "bad")
            return
        self.workspace.selection.keep_own_strategy(target)
        name = target.name
        words = tr("Saved as {name}: a column of its own from now on, on the command line --strategy {name}.", name=name)
        self.workspace.messages.tell(words)

    def closing(self) -> None:
        self.more.close()
        self.matrix.close()
        self.guard.stop()
        self.settings.stop()

    def set_theme(self, theme: Theme) -> None:
        self.view.set_theme(theme)
        self.settings.set_theme(theme)
