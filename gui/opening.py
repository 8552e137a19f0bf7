"""Files that the user chooses or drops on the window, and what becomes of each."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from PySide6.QtCore import QPoint, Qt, QTimer, QUrl
from PySide6.QtGui import QDesktopServices
from PySide6.QtWidgets import QMenu, QWidget

from gui.model.courses import known_courses
from gui.model.season import SeasonFile, SeasonKind
from gui.model.workspace import Workspace
from gui.panels.file_dialogs import ask_for_file, ask_for_folder
from gui.words import tr
from telemetry.errors import CourseError, RecordingError
from telemetry.reading.load import load_strategy
from telemetry.text_in_place import write_bytes

SAMPLES = Path(__file__).resolve().parents[1] / "recordings"
RECORDINGS = {".h5", ".hdf5", ".nc", ".journal"}
STREAMS = {".txt", ".log", ".csv", ".tsv", ".stream"}


def open_path(workspace: Workspace, path: Path) -> None:
    """A recording is opened, a folder, course or palette used from now on, a saved text stream becomes a recording first."""
    kind = path.suffix.lower()
    if path.is_dir():
        if workspace.use_folder(path):
            workspace.go("runs")
    elif kind in RECORDINGS:
        workspace.go("runs", str(path))
    elif kind == ".toml":
        _use_toml(workspace, path)
    elif kind == ".py":
        if workspace.code.asks(str(path)):
            load_strategy(str(path))  # what is wrong with it is said now
            workspace.selection.own_strategies_changed.emit()
            workspace.messages.tell(tr("{name} is compared under Decide until the window closes.", name=path.name))
            workspace.go("decide")
    elif kind in STREAMS:
        workspace.shelf.ingest(path, lambda made: workspace.go("runs", str(made)))
    else:
        raise RecordingError(
            "this is not a recording, text stream, course or palette",
            where=str(path),
            todo="Recordings end in .h5, saved streams in .txt, courses and palettes in .toml.",
        )


def _use_toml(workspace: Workspace, path: Path) -> None:
    from telemetry.file_kind import FileKind, file_kind

    kind = file_kind(path)
    if kind is FileKind.PALETTE:
        if workspace.selection.use_palette(path):
            workspace.messages.tell(tr("The palette {name} is used from now on.", name=path.name))
    elif kind is FileKind.STRATEGY:
        load_strategy(str(path))  # what is wrong with it is said now
        workspace.selection.keep_own_strategy(path)
        workspace.messages.tell(tr("The strategy {name} is compared under Decide from now on.", name=path.stem))
        workspace.go("decide")
    elif kind is FileKind.BASELINE:
        raise RecordingError(
            tr("this is a file of agreed readings"),
            where=str(path),
            todo=tr("Put it into the folder of the runs: it is chosen under Decide, Baseline."),
        )
    else:
        workspace.choices.course(lambda: workspace.selection.use_course(path))


def open_paths(workspace: Workspace, paths: Sequence[str]) -> None:
    """All of them, one after the other; what is wrong with one is told and the next is tried."""
    if paths:
        workspace.messages.attempt(lambda: open_path(workspace, Path(paths[0])))
    if len(paths) > 1:  # whoever drops a hundred still has a window
        QTimer.singleShot(0, lambda: open_paths(workspace, paths[1:]))


def drop_words(paths: Sequence[str]) -> str:
    """What a drop of these would do; empty where none of them is anything that can be opened."""
    files = [Path(path) for path in paths]
    if len(files) > 1:
        known = [one for one in files if one.is_dir() or one.suffix.lower() in {*RECORDINGS, *STREAMS, ".toml"}]
        return tr("Drop: open {n} files", n=len(known)) if known else ""
    name = files[0].name if files else ""
    kind = files[0].suffix.lower() if files else ""
    if files and files[0].is_dir():
        return tr("Drop: show the runs in {name}", name=name)
    if kind in RECORDINGS:
        return tr("Drop: open the run {name}", name=files[0].stem)
    if kind in STREAMS:
        return tr("Drop: make a recording of {name}", name=name)
    return tr("Drop: use {name}, a course, palette or strategy", name=name) if kind == ".toml" else ""


def ask_and_open(workspace: Workspace, parent: QWidget) -> None:
    words = tr("Runs, streams, courses, palettes")
    kinds = f"{words} (*.h5 *.hdf5 *.journal *.txt *.log *.csv *.tsv *.toml)"
    chosen = ask_for_file(parent, tr("Open a file"), workspace.folder.path, kinds)
    if chosen:
        open_paths(workspace, [chosen])


def ask_folder(workspace: Workspace, parent: QWidget) -> None:
    """Another folder of runs."""
    chosen = ask_for_folder(parent, tr("A folder of runs"), workspace.folder.path)
    if chosen:
        open_paths(workspace, [chosen])


def samples_here() -> list[Path]:
    """The sample runs that come with the project; none where only the program was installed."""
    return sorted(SAMPLES.glob("*.h5"))


def show_samples(workspace: Workspace) -> None:
    """A copy of the sample runs, beside the user's own, so that nothing done with them touches the project's."""
    folder = workspace.folder.path.parent / tr("Sidelong samples")

    def copy() -> bool:
        folder.mkdir(parents=True, exist_ok=True)
        for sample in samples_here():
            if not (folder / sample.name).exists():
                write_bytes(folder / sample.name, sample.read_bytes(), new=True)
        return True

    if workspace.messages.attempt(copy) and workspace.use_folder(folder):
        workspace.go("runs")


def course_menu(workspace: Workspace, parent: QWidget) -> QMenu:
    """All courses that are known, the one in use ticked, and the way to another file."""
    menu = QMenu(parent)
    menu.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
    files = [one.path for one in workspace.season.files(workspace.folder.path, SeasonKind.COURSE)]
    for one in known_courses(workspace.selection, files, workspace.shelf):
        action = menu.addAction(f"{one.name}   {one.about}".replace("&", "&&"))
        action.setCheckable(True)
        action.setChecked(one.in_use)
        action.triggered.connect(lambda _on=False, one=one: workspace.choices.course(one.use))
    menu.addSeparator()
    menu.addAction(tr("Another file…")).triggered.connect(lambda: ask_course_file(workspace, parent))
    return menu


def ask_course(workspace: Workspace, beside: QWidget) -> None:
    """Which course is used from now on: asked in a menu below ``beside``."""
    course_menu(workspace, beside).popup(beside.mapToGlobal(QPoint(0, beside.height())))


def ask_course_file(workspace: Workspace, parent: QWidget) -> None:
    chosen = ask_for_file(parent, tr("Choose a course"), workspace.folder.path, tr("Courses") + " (*.toml)")
    if chosen:
        workspace.choices.course(lambda: use_course_file(workspace, Path(chosen)))


def use_course_file(workspace: Workspace, path: Path) -> bool:
    """A course from now on. Raises SidelongError where the file is something else of ours, or cannot be read."""
    from telemetry.file_kind import FileKind, file_kind

    kind = file_kind(path)
    if kind in (FileKind.COURSE, None):
        return workspace.selection.use_course(path)
    raise CourseError(
        tr("this is a {kind}, not a course", kind=kind.value), where=str(path),
        todo=tr("Choose a course here. To use a file of another kind, drop it on the window."),
    )  # fmt: skip


def use_season_file(workspace: Workspace, one: SeasonFile) -> None:
    """A palette, strategy or course is used from now on, a baseline is under Decide, a report is opened."""
    if one.kind is SeasonKind.PALETTE:
        workspace.choices.palette(one.path)
    elif one.kind is SeasonKind.COURSE:
        workspace.choices.course(lambda: workspace.selection.use_course(one.path))
    elif one.kind is SeasonKind.STRATEGY:
        workspace.choices.strategy(str(one.path))
        workspace.go("decide")
    elif one.kind is SeasonKind.BASELINE:
        workspace.go("decide")
    else:
        QDesktopServices.openUrl(QUrl.fromLocalFile(str(one.path)))
