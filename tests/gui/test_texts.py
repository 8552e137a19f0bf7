"""Texts are ready for translation: whatever the user reads goes through ``tr``."""

from __future__ import annotations

import ast
from pathlib import Path

import gui

SHOWING = {"setText", "setToolTip", "setAccessibleName", "setAccessibleDescription", "setPlaceholderText", "setWindowTitle",
           "say", "tell", "addItem", "Label", "Card", "button", "setFormat"}  # fmt: skip
ALLOWED = {"Sidelong"}


def untranslated(path: Path) -> list[str]:
    found = []
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if not isinstance(node, ast.Call):
            continue
        name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
        first = node.args[0] if node.args else None
        if name in SHOWING and isinstance(first, ast.Constant) and isinstance(first.value, str):
            words = first.value
            if any(letter.isalpha() for letter in words) and words not in ALLOWED:
                found.append(f"{path.name}:{node.lineno} {words!r}")
    return found


def test_every_shown_text_can_be_translated() -> None:
    files = sorted(Path(gui.__file__).parent.rglob("*.py"))
    assert len(files) > 30
    assert not [problem for path in files for problem in untranslated(path)]


def test_the_check_finds_what_it_should(tmp_path: Path) -> None:
    wrong = tmp_path / "wrong.py"
    wrong.write_text("label.setText('Hello')\nlabel.setText(tr('Hello'))\nlabel.setText('12')\n", encoding="utf-8")
    assert [problem.partition(" ")[0] for problem in untranslated(wrong)] == ["wrong.py:1"]
