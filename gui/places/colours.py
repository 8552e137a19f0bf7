"""Colours: teach the program what each colour looks like to this sensor, and check in a minute whether that still holds."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from PySide6.QtWidgets import QLineEdit, QProgressBar, QScrollArea, QVBoxLayout, QWidget

from gui.model.calibration import Calibration, step_words
from gui.model.channels import sensors_in
from gui.model.colour_judgement import judged_for, judged_so_far
from gui.model.season import SeasonKind, free_file
from gui.model.workspace import Workspace
from gui.panels.big_swatch import BigSwatch
from gui.panels.choice import ChoiceBox, Tick
from gui.panels.columns import Columns
from gui.panels.file_dialogs import ask_for_file
from gui.panels.flow import FlowLayout
from gui.panels.key_host import Key
from gui.panels.message_bar import SIGNS
from gui.panels.parts import Card, Label, button, column_of_cards, row, scrolled, set_kind, side_column
from gui.panels.risk_table import RiskTable
from gui.panels.steps_list import StepsList
from gui.places.place import Place
from gui.plots.plane import Plane
from gui.theme import GAP_PX, Theme
from gui.words import tr
from telemetry.calibrate.guided import spread_words
from telemetry.calibrate.outlook import alike
from telemetry.palette import Palette
from telemetry.palette_default import default_palette

LEFT_PX, PROGRESS_PX, LEAST_PICTURE_PX = 336, 8, 560
ELSEWHERE = "?"
NOW_EVERY = 4
MARKER_CM = 3.0


class ColoursPlace(Place):
    """Left: what to hold under the sensor. Right: the palette in the chromaticity plane, and the pairs at risk."""

    name = "colours"

    def __init__(self, workspace: Workspace, parent: QWidget | None = None) -> None:
        super().__init__(workspace, parent)
        self.calibration = Calibration(workspace.selection, workspace.follow, workspace.messages, self)
        self._count = 0
        self._in_picture: tuple[object, ...] = ()
        """What the picture of the palette was made from."""
        self.column.addWidget(scrolled(Columns(self._left(), self._right(), LEAST_PICTURE_PX, side_first=True)), 1)
        self.calibration.changed.connect(self._show)
        self.calibration.progressed.connect(lambda share: self.progress.setValue(round(share * 100)))
        workspace.follow.grew.connect(self._grew)
        workspace.follow.state_changed.connect(self._show_buttons)
        workspace.selection.palette_changed.connect(self._show)
        workspace.selection.palette_changed.connect(self._list_palettes)
        workspace.selection.course_changed.connect(self.begin_learning)
        self.set_keys(
            Key("Space", tr("capture the colour under the sensor"), self.take),
            Key("↑ ↓", tr("another colour, with the list in focus")),
        )
        self._show()

    # -- building -----------------------------------------------------------------------------------------------------

    def _left(self) -> QScrollArea:
        workspace = self.workspace
        inside = QWidget()
        column = column_of_cards(inside)
        task = Card()
        self.task_title = Label("", "large")
        self.task = Label("", wrap=True)
        self.swatch = BigSwatch(workspace.selection.book, workspace.theme)
        self.swatch.setMinimumHeight(72)
        self.swatch.setMaximumHeight(80)
        self.take_button = button(tr("Capture"), self.take, kind="chief", key="Space", hint=tr("Two seconds of samples"))
        self.progress = QProgressBar()
        self.progress.setTextVisible(False)
        self.progress.setFixedHeight(PROGRESS_PX)
        self.progress.setAccessibleName(tr("Capturing"))
        self.doubt = Label("", "small", wrap=True)
        task.add(self.task_title, self.task, self.swatch, self.take_button, self.progress, self.doubt)
        column.addWidget(task)
        self.answer = Card()
        self.answer_head = Label("", "large", wrap=True)
        self.answer_why = Label("", wrap=True)
        self.answer.add(self.answer_head, self.answer_why)
        column.addWidget(self.answer)
        list_card = Card(tr("To capture"))
        self.steps = StepsList(self.calibration, workspace.selection.book, workspace.theme)
        self.steps.chosen.connect(self.calibration.go_to)
        self.heights = QLineEdit()
        self.heights.setPlaceholderText(tr("heights in mm, such as 8, 12"))
        self.heights.setAccessibleName(tr("Heights in mm"))
        self.heights.returnPressed.connect(self.begin_learning)
        self.learn_button = button(tr("Start over"), self.begin_learning, hint=tr("All colours, at the heights given"))
        self.check_button = button(
            tr("Re-check"), self.begin_recheck, hint=tr("Three colours: does the palette in use still hold?")
        )
        list_card.add(self.steps, self.heights, row(self.learn_button, self.check_button, None))
        column.addWidget(list_card)
        column.addStretch(1)
        return side_column(inside, LEFT_PX)

    def _right(self) -> QWidget:
        workspace = self.workspace
        holder = QWidget()
        column = QVBoxLayout(holder)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(GAP_PX)
        self.judgement = Card()
        self.judged_words, self.judged_todo = Label("", "large", wrap=True), Label("", wrap=True)
        self.judgement.add(self.judged_words, self.judged_todo)
        column.addWidget(self.judgement)
        plane_card = Card(tr("How the sensor sees them"))
        self.palette_name = Label("", "chip")
        plane_card.head.addWidget(self.palette_name)
        self.plane = Plane(workspace.selection.book, workspace.theme)
        plane_card.add(self.plane, stretch=1)
        self.keep_button = button(tr("Save palette"), self.keep, kind="chief",
                                  hint=tr("Named by date and light, beside the runs; used from then on"))  # fmt: skip
        self.in_use = ChoiceBox(tr("Palette in use"))
        self.in_use.setSizeAdjustPolicy(ChoiceBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.in_use.setMinimumContentsLength(24)
        self.in_use.activated.connect(self._choose)
        plane_card.add(FlowLayout(self.keep_button, Label(tr("In use:"), "soft"), self.in_use))
        column.addWidget(plane_card, 3)
        risk = Card(tr("Pairs at risk"))
        self.risk = RiskTable()
        self.outlook = Label("", "soft", wrap=True)
        self.figures = Tick(tr("Show the figures"))
        self.figures.toggled.connect(self._show_figures)
        risk.head.addWidget(self.figures)
        risk.add(self.risk, stretch=1)
        risk.add(self.outlook)
        column.addWidget(risk, 2)
        self.plane.setMinimumHeight(190)
        self.risk.setMinimumHeight(96)
        return scrolled(holder)

    def homes(self) -> list[QWidget]:
        return [self.take_button, self.steps]

    # -- what the user does -------------------------------------------------------------------------------------------

    def take(self) -> None:
        """Capture two seconds of what is under the sensor."""
        if not self.calibration.taking:
            self.workspace.messages.attempt(self.calibration.take)

    def begin_learning(self) -> None:
        """All colours of the course and the empty field, at the heights typed."""
        try:
            heights = [float(word) for word in self.heights.text().replace(",", " ").split()]
        except ValueError:
            self.workspace.messages.tell(tr("Heights are numbers in mm, such as 8, 12."), "warn")
            return
        self.calibration.begin(self.workspace.selection.course.colours, heights)
        if self.isVisible():  # not where another page changes the course
            self.take_button.setFocus()

    def begin_recheck(self) -> None:
        if self.workspace.selection.palette is None:
            self.workspace.messages.tell(tr("No palette of your own is in use yet, so there is nothing to check."), "warn")
            return
        self.calibration.begin_recheck()
        self.take_button.setFocus()

    def keep(self) -> None:
        """Write the palette into the folder, under a name made of date and light, and use it."""
        labels = self.workspace.selection.labels()
        height = f"{labels.height_mm:g} mm" if labels.height_mm else ""
        self.keep_as(free_file(self.workspace.folder.path, SeasonKind.PALETTE, labels.light, height))

    def keep_as(self, path: Path) -> None:
        self.workspace.messages.attempt(lambda: self.calibration.keep(path))
        if self.workspace.settings.text("palette") == str(path):
            self.workspace.messages.tell(tr("{name} is saved; live view and replay use it from now on.", name=path.name))

    def _choose(self, index: int) -> None:
        """A palette of the folder, typical colours, or a file from elsewhere. It can be undone."""
        chosen = self.in_use.itemData(index)
        if chosen == ELSEWHERE:
            chosen = ask_for_file(self, tr("Load a palette"), self.workspace.folder.path, tr("Palettes") + " (*.toml)")
            if not chosen:
                self._list_palettes()
                return
        self.workspace.choices.palette(Path(chosen) if chosen else None)
        self._list_palettes()

    def _list_palettes(self) -> None:
        """Typical colours, the palettes in the folder with date, light and height, and the one in use from elsewhere."""
        workspace = self.workspace
        now = workspace.settings.text("palette")
        found = workspace.season.files(workspace.folder.path, SeasonKind.PALETTE)
        offered = [(tr("typical colours"), ""), *((one.title, str(one.path)) for one in found)]
        if now and now not in (path for _, path in offered):
            offered.append((Path(now).stem, now))
        offered.append((tr("Another file…"), ELSEWHERE))
        self.in_use.clear()
        for words, path in offered:
            self.in_use.addItem(words, path)
        self.in_use.setCurrentIndex(max(self.in_use.findData(now), 0))

    # -- showing ------------------------------------------------------------------------------------------------------

    def entered(self, what: object = None) -> None:
        del what
        self._list_palettes()
        self._show()

    def shown_palette(self) -> tuple[Palette, str]:
        """The palette in the picture, and what it is called: the new one, else the one in use, else typical colours."""
        if self.calibration.learning and not self.calibration.kept:
            made = self.workspace.messages.attempt(self.calibration.palette)
            if made is not None:
                return made, tr("being made")
        if self.workspace.selection.palette is not None:
            return self.workspace.selection.palette, self.workspace.selection.palette.name
        typical = default_palette()
        wanted = {"none", *self.workspace.selection.course.colours}

        return replace(typical, colours=tuple(colour for colour in typical.colours if colour.name in wanted)), tr("typical")

    def _show(self) -> None:
        calibration = self.calibration
        step = calibration.step
        self.task_title.say(tr("Learn the colours") if calibration.learning else tr("Re-check"))
        if step is not None:
            simulated = self.workspace.follow.simulated
            by_itself = " " + tr("The simulated robot is put over it when you capture.") if simulated else ""
            self.task.say(step_words(step) + by_itself)
        elif calibration.learning:
            kept = tr("The palette is saved and in use. Capture any colour again to change it.")
            self.task.say(kept if calibration.kept else tr("All captured. Save the palette, or capture any colour again."))
        else:
            self.task.say(tr("All captured. The answer is below."))
        shown = calibration.captures.get(step) if step is not None else None
        self.doubt.say("\n".join(f"! {doubt}" for doubt in shown.doubts) if shown is not None else self._last_spread())
        self.progress.setVisible(calibration.taking)
        self._show_buttons()
        self._show_answer()
        if self.isVisible() or not self.plane.palette_shown:
            self._show_today()
            captured = tuple(id(capture) for capture in calibration.captures.values()) if calibration.learning else ()
            key = (captured, calibration.kept, id(self.workspace.selection.palette), self.workspace.selection.course.colours)
            if key == self._in_picture:
                return  # to draw it again would take longer than to change the page may
            self._in_picture = key
            palette, name = self.shown_palette()
            self.palette_name.say(name)
            self.plane.show_palette(palette)
            self.risk.show_palette(palette)
            self.outlook.say(self._outlook(palette))
            self._show_judgement(palette)

    def _show_judgement(self, palette: Palette) -> None:
        calibration = self.calibration
        being_made = calibration.learning and not calibration.kept and len(calibration.captures) >= 2
        course = self.workspace.selection.course
        if being_made:
            said = judged_so_far(palette, calibration.captured, len(calibration.steps))
        else:
            said = judged_for(palette, course.colours)
        set_kind(self.judgement, said.kind)
        self.judged_words.say(f"{SIGNS[said.kind]} {said.words}")
        self.judged_todo.say(said.todo)
        self.judged_todo.setVisible(bool(said.todo))

    def _show_figures(self, on: bool) -> None:
        self.risk.show_figures(on)
        self._show()

    def _show_today(self) -> None:
        """At a re-check: where today's captures lie beside the palette's colours."""
        calibration = self.calibration
        today = [] if calibration.learning else list(calibration.captures.values())
        self.plane.show_today([(capture.colour, tuple(map(float, capture.mean[:3]))) for capture in today])

    def _last_spread(self) -> str:
        """That the last capture was still, and on demand its figures."""
        captures = list(self.calibration.captures.values())
        if not captures:
            return ""
        words = tr("✓ {colour} is captured; it was held still.", colour=captures[-1].colour)
        return f"{words}\n{spread_words(captures[-1])}" if self.figures.isChecked() else words

    @staticmethod
    def _outlook(palette: Palette) -> str:
        """Which colours are one to this sensor."""
        return ". ".join(alike(palette)) + "." if palette.measured and alike(palette) else ""

    def _show_answer(self) -> None:
        calibration = self.calibration
        answer = self.workspace.messages.attempt(calibration.checked)
        last = self.workspace.selection.last_recheck if calibration.learning and not calibration.captures else None
        self.answer.setVisible(not calibration.learning or last is not None)
        if last is not None:
            set_kind(self.answer, "good" if last.same else "bad")
            self.answer_head.say(("✓ " if last.same else "✗ ") + last.verdict)
            self.answer_why.say(last.words)
        elif answer is None:
            set_kind(self.answer, "card")
            self.answer_head.say(tr("{n} of {all} captured", n=calibration.captured, all=len(calibration.steps)))
            self.answer_why.say(tr("The answer follows when all of them are captured."))
        else:
            set_kind(self.answer, "good" if answer.same else "bad")
            self.answer_head.say(("✓ " if answer.same else "✗ ") + answer.verdict)
            self.answer_why.say(f"{answer.why[0].upper()}{answer.why[1:]}. {answer.todo}")

    def _show_buttons(self) -> None:
        calibration = self.calibration
        # Not disabled while it captures: it would lose the focus, and the next Space would be lost with it.
        self.take_button.setEnabled(calibration.step is not None and self.workspace.follow.connected)
        self.keep_button.setEnabled(calibration.learning and not calibration.kept and len(calibration.captures) >= 2)
        self.check_button.setEnabled(self.workspace.selection.palette is not None)
        if not self.workspace.follow.connected and calibration.step is not None:
            self.task.say(step_words(calibration.step) + " " + tr("Connect a robot under Start first."))

    def _grew(self, _new: int) -> None:
        run = self.workspace.follow.run
        if run is None or not self.isVisible():
            return
        sensor = self.calibration.sensor
        self.swatch.show_colour(run.seen.get(sensor), sensor, "")
        self._count += 1
        if self._count % NOW_EVERY:
            return
        suffix = f".{sensor}" if sensor and sensor in sensors_in(run.series.channels) else ""
        raw = [run.series.channel(f"{name}{suffix}") for name in ("red", "green", "blue")]
        if all(values is not None and len(values) for values in raw):
            red, green, blue = (float(values[-1]) for values in raw if values is not None)
            self.plane.show_now((red, green, blue))

    def closing(self) -> None:
        self.calibration.stop()

    def set_theme(self, theme: Theme) -> None:
        self.swatch.set_theme(theme)
        self.steps.set_theme(theme)
        self.plane.set_theme(theme)
