"""Runs, the home of the window: the library; one run opened; two runs compared."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from PySide6.QtWidgets import QStackedWidget, QVBoxLayout, QWidget

from gui.model.beginning import Beginning, beginning_of
from gui.model.jobs import Job, Jobs
from gui.model.opened_run import OpenedRun
from gui.model.workspace import Workspace
from gui.panels.first_look import FirstLook
from gui.panels.flow import FlowLayout
from gui.panels.key_host import Key, KeyHost
from gui.panels.pair_view import PairView
from gui.panels.parts import button
from gui.panels.run_filter import RunFilter
from gui.panels.run_labels import RunLabels
from gui.panels.run_view import RunView
from gui.panels.runs_table import RunsTable
from gui.panels.side_by_side import SideBySide
from gui.places.place import Place
from gui.theme import GAP_PX, Theme
from gui.words import tr
from telemetry.block_column import LONG_ROWS
from telemetry.reading.strategies import STRATEGIES

RIGHT_PX, LEAST_TABLE_PX = 350, 180
NARROW_PX = 900
"""Narrower, what is known of the chosen run stands below the list."""


class RunsPlace(Place):
    """``entered`` with a path opens that run; with two, shows both; with (path, strategy) goes to what failed."""

    name = "runs"

    def __init__(self, workspace: Workspace, parent: QWidget | None = None) -> None:
        super().__init__(workspace, parent)
        self._jobs = Jobs()
        self._opening: Job | None = None
        self.pages = QStackedWidget()
        self.column.addWidget(self.pages, 1)
        self.table = RunsTable(workspace.selection.book, workspace.theme, workspace.standings)
        self.labels = RunLabels(
            selection=workspace.selection, shelf=workspace.shelf, follow=workspace.follow, messages=workspace.messages,
            theme=workspace.theme,
        )  # fmt: skip
        self.picker = self.labels.picker
        self.filter = RunFilter(workspace.standings, list(STRATEGIES), workspace.selection.strategy)
        self.search = self.filter.search
        self.list_page = self._list_page()
        self.pages.addWidget(self.list_page)
        self.view: RunView | PairView | FirstLook | None = None
        workspace.shelf.changed.connect(self._fill)
        workspace.standings.changed.connect(self._restand)
        workspace.selection.strategy_changed.connect(lambda: self.filter.show_strategy(workspace.selection.strategy))
        self.filter.changed.connect(self._fill)
        self.filter.strategy_chosen.connect(workspace.choices.strategy)
        self.table.selectionModel().selectionChanged.connect(lambda *_: self._show_chosen())
        self.table.verticalScrollBar().valueChanged.connect(lambda _value: self._want())
        self.table.activated.connect(lambda _index: self.open_chosen())
        self.table.typed.connect(self._type_on)
        self.search.returnPressed.connect(self.table.setFocus)
        self.list_page.set_keys(
            Key("Return", tr("open the chosen run")),
            Key("Ctrl+F", tr("search; typing in the list searches, too"), self._to_search),
            Key("Ctrl+E", tr("enter the actual colours of the chosen runs"), self._to_truth),
            Key("Escape", tr("end the search"), self._end_search),
            Key("Delete", tr("remove, can be undone"), self.remove_chosen),
        )
        self._fill()

    def _list_page(self) -> KeyHost:
        page = KeyHost()
        whole = QVBoxLayout(page)
        whole.setContentsMargins(0, 0, 0, 0)
        main = QWidget()
        left = QVBoxLayout(main)
        left.setContentsMargins(0, 0, 0, 0)
        left.setSpacing(GAP_PX)
        self.table.setMinimumHeight(LEAST_TABLE_PX)
        left.addWidget(self.filter)
        left.addWidget(self.table, 1)
        self.open_button = button(tr("Open"), self.open_chosen, kind="chief", hint=tr("The chosen run (Return)"))
        hint = tr("Choose two runs to see them side by side along the way driven")
        self.pair_button = button(tr("Compare runs"), self.open_pair, hint=hint)
        self.compare_button = button(tr("Compare strategies"), lambda: self.workspace.go("decide", self.table.chosen()))
        self.truth_button = button(tr("Enter colours"), self._to_truth, key="Ctrl+E")
        self.remove_button = button(tr("Remove"), self.remove_chosen, kind="quiet", key="Delete")
        left.addLayout(FlowLayout(self.open_button, self.truth_button, self.pair_button, self.compare_button,
                                  self.remove_button))  # fmt: skip
        self.cards = SideBySide(main, self.labels, RIGHT_PX, NARROW_PX)
        whole.addWidget(self.cards)
        return page

    def keys(self) -> list[Key]:
        """For the sheet of keys."""
        return self.list_page.keys() if self.view is None else self.view.keys()

    def homes(self) -> list[QWidget]:
        return [self.table] if self.view is None else self.view.homes()

    # -- the list -----------------------------------------------------------------------------------------------------

    @property
    def tags_field(self) -> QWidget:
        return self.labels.tags_field

    @property
    def remarks_field(self) -> QWidget:
        return self.labels.remarks_field

    def entered(self, what: object = None) -> None:
        self.workspace.shelf.refresh()
        if isinstance(what, str | Path):
            self.open(Path(what))
        elif isinstance(what, tuple):
            path, strategy = what
            self.open(Path(path), strategy)
        self._want()

    def left(self) -> None:
        self.labels.offer_unconfirmed()
        if isinstance(self.view, RunView) and self.view.player.playing:
            self.view.player.toggle()

    def _fill(self) -> None:
        found = self.workspace.shelf.entries
        self.filter.offer(found)
        shown = self.filter.fitting(found)
        self.table.show_entries(shown)
        self.filter.say_count(len(shown), len(found))
        if shown and not self.table.chosen():
            self.table.choose()
        self._show_chosen()
        self._want()

    def _restand(self) -> None:
        if self.filter.by_result:
            self._fill()

    def _want(self) -> None:
        """Have the results worked out that are seen; all of them where they decide what is seen."""
        if self.isVisible() and self.view is None:
            first = self.table.in_view()
            rest = self.workspace.shelf.entries if self.filter.by_result else []
            self.workspace.standings.want([*first, *rest])

    def _show_chosen(self) -> None:
        chosen = self.table.chosen()
        entries = [entry for path in chosen if (entry := self.workspace.shelf.entry(path)) is not None]
        self.labels.show_entries(entries)
        self.open_button.setEnabled(len(chosen) == 1)
        self.pair_button.setEnabled(len(chosen) == 2)
        for one in (self.compare_button, self.remove_button, self.truth_button):
            one.setEnabled(len(chosen) > 0)

    def remove_chosen(self) -> None:
        chosen = self.table.chosen()
        if chosen:
            self.workspace.shelf.remove(chosen)
            self.table.setFocus()

    def _type_on(self, text: str) -> None:
        """Letters typed in the list are searched for."""
        self.search.setFocus()
        self.search.setText(self.search.text() + text)

    def _end_search(self) -> None:
        self.search.clear()
        self.table.setFocus()

    def _to_search(self) -> None:
        self.search.setFocus()
        self.search.selectAll()

    def _to_truth(self) -> None:
        if self.picker.isEnabled():
            self.picker.map.setFocus()
            self.cards.show_in_view(self.picker.confirm_button)

    # -- opening ------------------------------------------------------------------------------------------------------

    def open_chosen(self) -> None:
        chosen = self.table.chosen()
        if len(chosen) == 2:
            self.open_pair()
        elif chosen:
            self.open(chosen[0])

    def open(self, path: Path, strategy: str = "") -> None:
        """Open one run; with ``strategy``, at the sample where that one failed."""
        if self._opening is not None:
            self._opening.cancel()
        if self._takes_time(path):
            self._open_on_thread(path, strategy)
            return
        opened = self._opened(path)
        if opened is not None:
            self._show_opened(opened, path, strategy)

    def _takes_time(self, path: Path) -> bool:
        entry = self.workspace.shelf.entry(path)
        return (entry is not None and entry.rows >= LONG_ROWS) or not self.workspace.shelf.loads_at_once(path)

    def _open_on_thread(self, path: Path, strategy: str) -> None:
        """A run of hours, or one that must first be tried apart; meanwhile the list stays, and another may be opened."""
        workspace = self.workspace

        def work(job: Job) -> OpenedRun:
            recording = workspace.shelf.load(path)
            if recording.table.rows >= LONG_ROWS:
                job.give(beginning_of(recording))
            opened = OpenedRun(recording, workspace.selection.palette)
            if opened.is_long and strategy:  # it is opened where that one failed; else the picture comes first
                opened.prepare(strategy)
            return opened

        self._begin_opening(path.stem, work, lambda opened: self._show_opened(opened, path, strategy))

    def _begin_opening(self, name: str, work: Callable[[Job], object], show: Callable[[Any], None]) -> None:
        self.workspace.messages.tell(tr("Opening {name} …", name=name))
        self._opening = job = Job(work, self)
        job.piece.connect(self._show_beginning)
        job.finished.connect(show)
        job.failed.connect(lambda words: self.workspace.messages.tell(words, "bad"))
        self._jobs.start(job)

    def _show_beginning(self, beginning: Beginning) -> None:
        self._show_view(FirstLook(beginning, self.workspace.selection, self.workspace.theme))

    def _show_opened(self, opened: OpenedRun, path: Path, strategy: str) -> None:
        workspace = self.workspace
        view = RunView(
            opened, selection=workspace.selection, messages=workspace.messages, evaluator=workspace.evaluator,
            theme=workspace.theme,
        )  # fmt: skip
        view.judged.connect(workspace.standings.note_all)
        view.judged.connect(lambda _verdict: self.stay_in_sight())  # the verdict takes room
        view.wanted.connect(workspace.go)
        view.next_wanted.connect(lambda: self.open_next(path))
        view.truth_wanted.connect(lambda: self.enter_truth(path))
        self._show_view(view)
        if strategy:
            view.look_at(strategy)
            view.show_failure()

    def open_next(self, path: Path) -> None:
        """The run below this one in the list, as it is filtered now."""
        paths = [Path(entry.path) for entry in self.table.runs.entries]
        at = paths.index(path) + 1 if path in paths else 0
        if at >= len(paths):
            self.workspace.messages.tell(tr("That was the last run of the list."))
            return
        self.table.choose(paths[at])
        self.open(paths[at])

    def enter_truth(self, path: Path) -> None:
        """Back to the list, where the colours of this run are entered."""
        self.show_list()
        self.table.choose(path)
        self._to_truth()

    def open_pair(self) -> None:
        chosen = self.table.chosen()
        if len(chosen) != 2:
            return
        if self._opening is not None:
            self._opening.cancel()
        if any(self._takes_time(path) for path in chosen):
            workspace = self.workspace

            def work(_job: Job) -> tuple[OpenedRun, ...]:
                return tuple(OpenedRun(workspace.shelf.load(path), workspace.selection.palette) for path in chosen)

            self._begin_opening(", ".join(path.stem for path in chosen), work, self._show_pair)
            return
        first, second = self._opened(chosen[0]), self._opened(chosen[1])
        if first is not None and second is not None:
            self._show_pair((first, second))

    def _show_pair(self, pair: tuple[OpenedRun, OpenedRun]) -> None:
        workspace = self.workspace
        self._show_view(PairView(pair, workspace.selection, workspace.messages, workspace.theme))

    def _opened(self, path: Path) -> OpenedRun | None:
        return self.workspace.messages.attempt(
            lambda: OpenedRun(self.workspace.shelf.load(path), self.workspace.selection.palette)
        )

    def _show_view(self, view: RunView | PairView | FirstLook) -> None:
        self._drop_view()
        self.view = view
        view.closed.connect(self.show_list)
        self.pages.addWidget(view)
        self.pages.setCurrentWidget(view)
        self.go_home()

    def show_list(self) -> None:
        """Back to the library, as it was left."""
        self.pages.setCurrentWidget(self.list_page)
        if isinstance(self.view, FirstLook) and self._opening is not None:
            self._opening.cancel()
        self._drop_view()
        self.table.setFocus()
        self._want()

    def _drop_view(self) -> None:
        if self.view is not None:
            self.view.stop()
            self.pages.removeWidget(self.view)
            self.view.deleteLater()
            self.view = None

    def closing(self) -> None:
        self._jobs.close()
        self._drop_view()

    def set_theme(self, theme: Theme) -> None:
        self.table.set_theme(theme)
        self.picker.set_theme(theme)
        if self.view is not None:
            self.view.set_theme(theme)
