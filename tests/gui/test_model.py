"""What the window shows (``gui/model``) stands without widgets: nothing there imports one, not even inside a function."""

from __future__ import annotations

import ast
from pathlib import Path

import gui.model

FORBIDDEN = ("PySide6.QtWidgets", "gui.places", "gui.panels", "gui.plots", "gui.window")


def imported(path: Path) -> list[str]:
    """Every module that a file imports, wherever in it."""
    found = []
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found += [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            found += [node.module or "", *(f"{node.module}.{alias.name}" for alias in node.names)]
    return found


def test_the_model_imports_no_widget() -> None:
    files = sorted(Path(gui.model.__file__).parent.glob("*.py"))
    assert len(files) > 15
    wrong = [f"{path.name}: {name}" for path in files for name in imported(path) if name.startswith(FORBIDDEN)]
    assert not wrong


def test_the_check_sees_an_import_inside_a_function(tmp_path: Path) -> None:
    path = tmp_path / "late.py"
    path.write_text("def show():\n    from PySide6.QtWidgets import QLabel\n    return QLabel\n", encoding="utf-8")
    assert "PySide6.QtWidgets.QLabel" in imported(path)
