"""Beside the list: what is known of the chosen run, its labels, and the actual colours of one run or of many at once."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

from PySide6.QtWidgets import QLineEdit, QWidget

from gui.model.follow import Follow
from gui.model.messages import Messages
from gui.model.selection import Selection
from gui.model.shelf import Shelf
from gui.panels.parts import Card, Label, button, column_of_cards
from gui.panels.truth_picker import TruthPicker
from gui.plain_text import tip
from gui.theme import Theme
from gui.words import runs, tr
from telemetry.course import EMPTY, Truth
from telemetry.recording.library import MOST_SHOWN, Entry
from telemetry.recording.meta import Meta

LONGEST_ROUND_S = 120.0
"""No round of the simulated robot is as long: what is longer need not be read to know that it is none."""


class RunLabels(QWidget):
    """``show_entries`` with what is chosen. It never changes its height, so that nothing jumps under the pointer."""

    def __init__(
        self, *, selection: Selection, shelf: Shelf, follow: Follow, messages: Messages, theme: Theme
    ) -> None:
        super().__init__()
        self.selection, self.shelf, self.follow, self.messages = selection, shelf, follow, messages
        self.entries: list[Entry] = []
        self._asked: tuple[str, ...] = ()
        """The runs whose colours are in the picker."""
        column = column_of_cards(self)
        about = Card(tr("This run"))
        self.words = Label("", "soft", wrap=True)
        self.words.setMinimumHeight(2 * self.words.fontMetrics().lineSpacing() + 4)
        about.add(self.words)
        self.name_field, self.tags_field, self.remarks_field = QLineEdit(), QLineEdit(), QLineEdit()
        for field, words, does in ((self.name_field, tr("Name"), self._rename), (self.tags_field, tr("Tags"), self._retag),
                                   (self.remarks_field, tr("Remarks"), self._remark)):  # fmt: skip
            field.setAccessibleName(words)
            field.setPlaceholderText(words)
            field.setToolTip(words)
            field.editingFinished.connect(does)
            about.add(field)
        column.addWidget(about)
        self.card = Card(tr("Actual colours"))
        self.applies = Label("", "chip")
        self.card.head.addWidget(self.applies)
        self.course_button = button(tr("Correct course"), self._correct_course, kind="quiet")
        self.course_button.hide()
        self.card.head.addWidget(self.course_button)
        self.picker = TruthPicker(selection.course, selection.book, theme, key="")
        self.picker.skip_button.hide()
        self.picker.map.setMinimumHeight(150)
        self.picker.confirmed.connect(self._confirmed)
        self.card.add(self.picker, stretch=1)
        column.addWidget(self.card, 1)
        selection.course_changed.connect(self._course_changed)

    # -- showing ------------------------------------------------------------------------------------------------------

    def show_entries(self, entries: Sequence[Entry]) -> None:
        self.entries = list(entries)
        one = self.entries[0] if len(self.entries) == 1 else None
        whole = one is not None and one.state == "whole"
        tags = ", ".join(one.tags) if one else ""
        for field, text in ((self.name_field, one.name if one else ""), (self.tags_field, tags),
                            (self.remarks_field, one.remarks if one else "")):  # fmt: skip
            field.setEnabled(whole and len(text) < MOST_SHOWN)  # of a longer one a list holds the beginning only
            if not field.hasFocus():
                field.setText(text)
                field.setCursorPosition(0)
        if one is not None:
            self.words.say(about(one))
        else:
            count = len(self.entries)
            self.words.say(tr("{runs} chosen.", runs=runs(count)) if count else tr("Choose a run from the list."))
        self._show_truth()

    def _show_truth(self) -> None:
        course = self.selection.course.name
        mine = [entry for entry in self.entries if entry.state == "whole" and entry.course == course]
        paths = tuple(entry.path for entry in mine)
        if paths != self._asked:
            self.offer_unconfirmed()
        self.picker.setEnabled(bool(mine))
        others = self._on_other_courses()
        self.course_button.setVisible(bool(others) and not mine)
        self.course_button.setToolTip(tip(tr("The chosen runs were driven on {name}; can be undone", name=course)))
        self.applies.setVisible(len(mine) > 1)
        self.applies.say(tr("for {runs}", runs=runs(len(mine))))
        if not mine:
            self._asked = ()
            self.picker.start(None, self._why_none())
        elif paths != self._asked or not (self.picker.edited or self.picker.map.hasFocus()):
            self._asked = paths
            same = {entry.truth for entry in mine}
            truth = mine[0].truth if len(same) == 1 else None
            said = self._said_by_the_robot(mine[0]) if truth is None and len(mine) == 1 else None
            words = tr("Filled in by the simulated robot. Save them, or correct them first.") if said else ""
            self.picker.start(truth or said, words)

    def _said_by_the_robot(self, entry: Entry) -> Truth | None:
        """What the simulated robot that drives now says stood there, as under Record; None where that is not known."""
        if not (self.follow.simulated and entry.simulated) or entry.seconds > LONGEST_ROUND_S:
            return None
        from gui.model.filling_in import said_by_the_robot

        recording = self.messages.attempt(lambda: self.shelf.load(Path(entry.path)))
        return said_by_the_robot(self.follow, recording, self.selection.course)[0]

    def _on_other_courses(self) -> list[Entry]:
        mine = self.selection.course.name
        return [entry for entry in self.entries if entry.state == "whole" and entry.course != mine]

    def _correct_course(self) -> None:
        """The chosen runs were recorded while the wrong course was in use: they were driven on the one in use now."""
        paths, name = [Path(entry.path) for entry in self._on_other_courses()], self.selection.course.name
        if paths and self.shelf.set_course(paths, self.selection.labels().course):
            words = tr("{runs}: driven on {name}. Enter the actual colours.", runs=runs(len(paths)), name=name)
            self.messages.tell(words)

    def _why_none(self) -> str:
        """Why there is no run whose colours can be entered here."""
        other = next((entry.course for entry in self.entries if entry.state == "whole"), "")
        if other:
            return tr("Recorded on {name}: choose that under Start, or Correct course if it was {mine}.", name=other,
                      mine=self.selection.course.name)  # fmt: skip
        return tr("Choose a run to enter its colours.")

    def _course_changed(self) -> None:
        self._asked = ()
        self.picker.set_course(self.selection.course, self.selection.book)
        self._show_truth()

    # -- what the user fills in ---------------------------------------------------------------------------------------

    def offer_unconfirmed(self) -> None:
        """What was filled in and not saved is not forgotten without a word."""
        paths = [Path(path) for path in self._asked if Path(path).exists()]
        if not paths or not self.picker.edited:
            return
        name = paths[0].stem if len(paths) == 1 else runs(len(paths))
        problem, truth = self.picker.problem(), tuple(colour or EMPTY for colour in self.picker.colours)
        self._asked = ()
        if problem:
            words = tr("The colours entered for {name} were not saved: {problem}", name=name, problem=problem)
            self.messages.tell(words, "warn")
            return
        words = tr("The colours entered for {name} were not saved.", name=name)
        self.messages.tell(words, action=tr("Save them"), does=lambda: self.shelf.set_truths(paths, truth))

    def _confirmed(self, truth: object) -> None:
        assert isinstance(truth, tuple)
        paths = [Path(path) for path in self._asked]
        if paths and self.shelf.set_truths(paths, truth):
            self._asked = ()  # done: what is saved is shown next
            name = paths[0].stem if len(paths) == 1 else runs(len(paths))
            self.messages.tell(tr("The colours are saved with {name}.", name=name))

    def _rename(self) -> None:
        text = self.name_field.text().strip()
        self._relabel(tr("name"), lambda meta: replace(meta, name=text))

    def _retag(self) -> None:
        tags = tuple(dict.fromkeys(word.strip() for word in self.tags_field.text().split(",") if word.strip()))
        self._relabel(tr("tags"), lambda meta: replace(meta, tags=tags))

    def _remark(self) -> None:
        text = self.remarks_field.text().strip()
        self._relabel(tr("remarks"), lambda meta: replace(meta, remarks=text))

    def _relabel(self, text: str, change: Callable[[Meta], Meta]) -> None:
        if len(self.entries) == 1 and self.entries[0].state == "whole":
            self.shelf.relabel(Path(self.entries[0].path), text, change)


def about(entry: Entry) -> str:
    """What is known of a run, in one sentence."""
    if entry.problem:
        return f"! {entry.problem}"
    words = [tr("{rows} samples", rows=entry.rows)]
    if entry.seconds:
        words = [tr("{rows} samples in {s:.1f} s", rows=entry.rows, s=entry.seconds)]
    for count, said in ((entry.lost, tr("{n} lines lost", n=entry.lost)),
                        (entry.rejected, tr("{n} lines rejected", n=entry.rejected)),
                        (entry.gaps, tr("{n} gaps", n=entry.gaps))):  # fmt: skip
        if count:
            words.append(said)
    if entry.simulated:
        words.append(tr("simulated"))
    if entry.driven_by:
        words.append(tr("driven by {program}", program=entry.driven_by))
    return ", ".join(words) + "."
