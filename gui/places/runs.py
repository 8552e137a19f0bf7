"""Runs: the library; one run opened; two runs one above the other."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from PySide6.QtWidgets import QHBoxLayout, QLineEdit, QStackedWidget, QVBoxLayout, QWidget

from gui.model.opened_run import OpenedRun
from gui.model.workspace import Workspace
from gui.panels.choice import Choice, Tick
from gui.panels.flow import Flow
from gui.panels.key_host import Key, KeyHost
from gui.panels.pair_view import PairView
from gui.panels.parts import Card, Label, button, side_column
from gui.panels.run_view import RunView
from gui.panels.runs_table import RunsTable
from gui.panels.truth_picker import TruthPicker
from gui.places.place import Place
from gui.theme import GAP_PX, Theme
from gui.words import runs, tr
from telemetry.course import EMPTY, Truth
from telemetry.recording.library import Entry, search

RIGHT_PX = 350
SEARCH_PX = 290


class RunsPlace(Place):
    """``entered`` with a path opens that run; with two, shows both; with (path, strategy) goes to what failed."""

    name = "runs"

    def __init__(self, workspace: Workspace, parent: QWidget | None = None) -> None:
        super().__init__(workspace, parent)
        self._asked = ""
        """The run whose truth is in the picker."""
        self.pages = QStackedWidget()
        self.column.addWidget(self.pages, 1)
        self.table = RunsTable(workspace.book)
        self.list_page = self._list_page()
        self.pages.addWidget(self.list_page)
        self.view: RunView | PairView | None = None
        workspace.shelf.changed.connect(self._fill)
        workspace.course_changed.connect(self._course_changed)
        self.table.selectionModel().selectionChanged.connect(lambda *_: self._show_chosen())
        self.table.activated.connect(lambda _index: self.open_chosen())
        self.table.typed.connect(self._type_on)
        self.search.returnPressed.connect(self.table.setFocus)
        self.list_page.set_keys(
            Key("Return", tr("open the chosen run")),
            Key("Ctrl+F", tr("search; typing in the list searches, too"), self._to_search),
            Key("Escape", tr("end the search"), self._end_search),
            Key("Delete", tr("remove, can be undone"), self.remove_chosen),
        )
        self._fill()

    # -- building -----------------------------------------------------------------------------------------------------

    def _list_page(self) -> KeyHost:
        page = KeyHost()
        line = QHBoxLayout(page)
        line.setContentsMargins(0, 0, 0, 0)
        line.setSpacing(GAP_PX)
        left = QVBoxLayout()
        left.setSpacing(GAP_PX)
        self.search = QLineEdit()
        self.search.setPlaceholderText(tr("Search name, remarks, program  [Ctrl+F]"))
        self.search.setAccessibleName(tr("Search"))
        self.search.setClearButtonEnabled(True)
        self.course = Choice(tr("Course"))
        self.tag = Choice(tr("Tag"))
        self.untold = Tick(tr("truth not known"))
        self.search.textChanged.connect(lambda _text: self._fill())
        self.course.activated.connect(lambda _index: self._fill())
        self.tag.activated.connect(lambda _index: self._fill())
        self.untold.toggled.connect(lambda _on: self._fill())
        self.count = Label("", "soft")
        self.search.setMinimumWidth(SEARCH_PX)
        left.addLayout(Flow(self.search, self.course, self.tag, self.untold, self.count))
        left.addWidget(self.table, 1)
        self.open_button = button(tr("Open"), self.open_chosen, kind="chief", key="Return")
        self.pair_button = button(
            tr("One above the other"), self.open_pair, hint=tr("Choose two runs to compare them by distance")
        )
        self.compare_button = button(tr("Compare strategies"), lambda: self.workspace.go("decide", self.table.chosen()))
        self.remove_button = button(tr("Remove"), self.remove_chosen, kind="quiet", key="Delete")
        hint = tr("Show and keep runs elsewhere; a folder can be dropped on the window, too")
        self.folder_button = button(tr("Another folder"), self._other_folder, kind="quiet", hint=hint)
        buttons = (self.open_button, self.pair_button, self.compare_button, self.remove_button, self.folder_button)
        left.addLayout(Flow(*buttons))
        line.addLayout(left, 1)
        line.addWidget(self._about())
        return page

    def _about(self) -> QWidget:
        inside = QWidget()
        column = QVBoxLayout(inside)
        column.setContentsMargins(0, 0, 4, 0)
        column.setSpacing(GAP_PX)
        about = Card(tr("This run"))
        self.about_words = Label(tr("Choose a run from the list."), "soft", wrap=True)
        self.name_field = QLineEdit()
        self.tags_field = QLineEdit()
        self.remarks_field = QLineEdit()
        about.add(self.about_words)
        for field, words, does in ((self.name_field, tr("name"), self._rename), (self.tags_field, tr("tags"), self._retag),
                                   (self.remarks_field, tr("remarks"), self._remark)):  # fmt: skip
            field.setAccessibleName(words)
            field.editingFinished.connect(does)
            about.add(Label(words, "small"), field)
        column.addWidget(about)
        truth = Card(tr("What stood there"))
        self.picker = TruthPicker(self.workspace.course, self.workspace.book, self.workspace.theme, across=3, key="")
        self.picker.skip_button.hide()
        self.picker.map.setMinimumHeight(220)
        self.picker.confirmed.connect(self._set_truth)
        truth.add(self.picker, stretch=1)
        self.truth_card = truth
        column.addWidget(truth, 1)
        return side_column(inside, RIGHT_PX)

    def keys(self) -> list[Key]:
        """For the sheet of keys."""
        if self.view is not None:
            return self.view.keys()
        return self.list_page.keys()

    def homes(self) -> list[QWidget]:
        return [self.table] if self.view is None else self.view.homes()

    # -- the list -----------------------------------------------------------------------------------------------------

    def entered(self, what: object = None) -> None:
        self.workspace.shelf.refresh()
        if isinstance(what, str | Path):
            self.open(Path(what))
        elif isinstance(what, tuple):
            path, strategy = what
            self.open(Path(path), strategy)

    def left(self) -> None:
        self._offer_unconfirmed()
        if isinstance(self.view, RunView) and self.view.player.playing:
            self.view.player.toggle()

    def _course_changed(self) -> None:
        self._asked = ""
        self.picker.set_course(self.workspace.course, self.workspace.book)
        self._show_chosen()

    def _offer_unconfirmed(self) -> None:
        """What was filled in for a run and not confirmed is not forgotten without a word."""
        path, name = Path(self._asked), Path(self._asked).stem
        if not self._asked or not self.picker.edited or not path.exists():
            return
        problem, truth = self.picker.problem(), tuple(colour or EMPTY for colour in self.picker.colours)
        self._asked = ""
        if problem:
            words = tr("What was filled in for {name} was not kept: {problem}", name=name, problem=problem)
            self.workspace.tell(words, "warn")
            return
        words = tr("What was filled in for {name} was not confirmed.", name=name)
        self.workspace.tell(words, action=tr("Save them"), does=lambda: self.workspace.shelf.set_truth(path, truth))

    def _fill(self) -> None:
        found = self.workspace.shelf.entries
        for choice, first, words in (
            (self.course, tr("any course"), sorted({entry.course for entry in found if entry.course})),
            (self.tag, tr("any tag"), sorted({tag for entry in found for tag in entry.tags})),
        ):
            chosen = choice.currentData()
            choice.blockSignals(True)
            choice.clear()
            choice.addItem(first, "")
            for word in words:
                choice.addItem(word, word)
            choice.setCurrentIndex(max(choice.findData(chosen), 0))
            choice.blockSignals(False)
        shown = search(found, course=self.course.currentData() or "", tag=self.tag.currentData() or "",
                       truth_known=False if self.untold.isChecked() else None, text=self.search.text().strip())  # fmt: skip
        self.table.show_entries(shown)
        of = tr("{shown} of {all}", shown=len(shown), all=runs(len(found))) if len(shown) != len(found) else runs(len(found))
        self.count.say(tr("{runs} in {folder}", runs=of, folder=self.workspace.folder.name))
        if shown and not self.table.chosen():
            self.table.choose()
        self._show_chosen()

    @property
    def chosen_entry(self) -> Entry | None:
        """The run whose labels are shown: the only one chosen."""
        chosen = self.table.chosen()
        return self.workspace.shelf.entry(chosen[0]) if len(chosen) == 1 else None

    def _show_chosen(self) -> None:
        chosen = self.table.chosen()
        entry = self.chosen_entry
        whole = entry is not None and entry.state == "whole"
        for field, text in (
            (self.name_field, entry.name if entry else ""),
            (self.tags_field, ", ".join(entry.tags) if entry else ""),
            (self.remarks_field, entry.remarks if entry else ""),
        ):
            field.setEnabled(whole)
            if not field.hasFocus():
                field.setText(text)
                field.setCursorPosition(0)
        self.open_button.setEnabled(len(chosen) == 1)
        self.pair_button.setEnabled(len(chosen) == 2)
        self.compare_button.setEnabled(len(chosen) > 0)
        self.remove_button.setEnabled(len(chosen) > 0)
        if entry is None:
            self.about_words.say(
                tr("{runs} chosen.", runs=runs(len(chosen))) if chosen else tr("Choose a run from the list.")
            )
        else:
            self.about_words.say(self._about_text(entry))
        fits = whole and entry is not None and entry.course == self.workspace.course.name
        self.truth_card.setVisible(bool(fits))
        if entry is None or entry.path != self._asked:
            self._offer_unconfirmed()
        if not fits or entry is None:
            self._asked = ""
        elif entry.path != self._asked or not (self.picker.edited or self.picker.map.hasFocus()):
            self._asked = entry.path
            self.picker.start(entry.truth)

    @staticmethod
    def _about_text(entry: Entry) -> str:
        if entry.problem:
            return f"! {entry.problem}"
        words = [tr("{rows} samples", rows=entry.rows)]
        if entry.seconds:
            words = [tr("{rows} samples in {s:.1f} s", rows=entry.rows, s=entry.seconds)]
        if entry.simulated:
            words.append(tr("simulated"))
        if entry.lost:
            words.append(tr("{n} lines lost", n=entry.lost))
        if entry.rejected:
            words.append(tr("{n} lines rejected", n=entry.rejected))
        if entry.gaps:
            words.append(tr("{n} gaps", n=entry.gaps))
        if entry.driven_by:
            words.append(tr("driven by {program}", program=entry.driven_by))
        return ", ".join(words) + "."

    def _rename(self) -> None:
        text = self.name_field.text().strip()
        self._relabel(tr("rename"), lambda meta: replace(meta, name=text))

    def _retag(self) -> None:
        tags = tuple(dict.fromkeys(word.strip() for word in self.tags_field.text().split(",") if word.strip()))
        self._relabel(tr("tags"), lambda meta: replace(meta, tags=tags))

    def _remark(self) -> None:
        text = self.remarks_field.text().strip()
        self._relabel(tr("remarks"), lambda meta: replace(meta, remarks=text))

    def _relabel(self, text: str, change) -> None:  # type: ignore[no-untyped-def]
        entry = self.chosen_entry
        if entry is not None and entry.state == "whole":
            self.workspace.shelf.relabel(Path(entry.path), text, change)

    def _set_truth(self, truth: object) -> None:
        entry = self.chosen_entry
        if entry is not None and entry.path == self._asked and isinstance(truth, tuple):
            checked: Truth = truth
            if self.workspace.shelf.set_truth(Path(entry.path), checked):
                self._asked = ""  # done: what is kept is shown next
                self.workspace.tell(tr("What stood there is kept with {name}.", name=entry.title))

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

    # -- opening ------------------------------------------------------------------------------------------------------

    def _other_folder(self) -> None:
        from gui.opening import ask_folder

        ask_folder(self.workspace, self)

    def open_chosen(self) -> None:
        chosen = self.table.chosen()
        if len(chosen) == 2:
            self.open_pair()
        elif chosen:
            self.open(chosen[0])

    def open(self, path: Path, strategy: str = "") -> None:
        """Open one run; with ``strategy``, at the sample where that one failed."""
        opened = self._opened(path)
        if opened is None:
            return
        view = RunView(opened, self.workspace)
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
            self.workspace.tell(tr("That was the last run of the list."))
            return
        self.table.choose(paths[at])
        self.open(paths[at])

    def enter_truth(self, path: Path) -> None:
        """Back to the list, where the colours of this run are entered."""
        self.show_list()
        self.table.choose(path)
        self.picker.map.setFocus()

    def open_pair(self) -> None:
        chosen = self.table.chosen()
        if len(chosen) != 2:
            return
        first, second = self._opened(chosen[0]), self._opened(chosen[1])
        if first is not None and second is not None:
            self._show_view(PairView((first, second), self.workspace))

    def _opened(self, path: Path) -> OpenedRun | None:
        workspace = self.workspace
        return workspace.attempt(lambda: OpenedRun(workspace.shelf.load(path), workspace.palette))

    def _show_view(self, view: RunView | PairView) -> None:
        self._drop_view()
        self.view = view
        view.closed.connect(self.show_list)
        self.pages.addWidget(view)
        self.pages.setCurrentWidget(view)
        self.go_home()

    def show_list(self) -> None:
        """Back to the library."""
        self.pages.setCurrentWidget(self.list_page)
        self._drop_view()
        self.table.setFocus()

    def _drop_view(self) -> None:
        if self.view is not None:
            self.view.stop()
            self.pages.removeWidget(self.view)
            self.view.deleteLater()
            self.view = None

    def closing(self) -> None:
        self._drop_view()

    def set_theme(self, theme: Theme) -> None:
        self.picker.set_theme(theme)
        if self.view is not None:
            self.view.set_theme(theme)
