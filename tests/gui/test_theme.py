"""Everything written in the window can be read: WCAG 2.2, success criterion 1.4.3, in both themes and on every swatch."""

from __future__ import annotations

import pytest
from PySide6.QtGui import QColor

from gui.swatches import SwatchBook, fill_of
from gui.theme import THEMES, Theme, contrast, ink_on, style_sheet
from telemetry.report.fills import FILLS, NONE_FILL

NORMAL_TEXT = 4.5
"""WCAG 2.2, 1.4.3: least contrast of text below 18 pt."""


def test_contrast_as_published() -> None:
    # WCAG 2.2, 1.4.3: black on white 21:1, #777777 on white 4.48:1.
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.005)


@pytest.mark.parametrize("theme", THEMES.values(), ids=THEMES)
def test_every_text_is_readable(theme: Theme) -> None:
    poor = {
        use: round(contrast(text, ground), 2)
        for use, text, ground in theme.text_pairs()
        if contrast(text, ground) < NORMAL_TEXT
    }
    assert not poor


@pytest.mark.parametrize("theme", THEMES.values(), ids=THEMES)
def test_the_style_uses_only_the_themes_own_colours(theme: Theme) -> None:
    """So that the pairs above are all there are."""
    import re

    own = {value for value in (getattr(theme, name) for name in theme.__dataclass_fields__) if isinstance(value, str)}
    assert set(re.findall(r"#[0-9a-f]{6}", style_sheet(theme))) <= own


@pytest.mark.parametrize("name", [*FILLS, "none", "a colour nobody knows", "another one"])
def test_letters_on_swatches_are_readable(name: str) -> None:
    fill = NONE_FILL if name == "none" else fill_of(name)
    assert contrast(ink_on(fill), fill) >= NORMAL_TEXT


def test_letters_and_patterns_tell_swatches_apart() -> None:
    names = ("rust", "red", "rose", "orange", "leaf", "lime", "sky", "white", "pink", "plum")
    swatches = SwatchBook(names).swatches
    assert len({swatch.letter for swatch in swatches}) == len(names)
    assert len({swatch.pattern for swatch in swatches}) == len(names)


def test_a_new_name_leaves_the_others_as_they_are() -> None:
    book = SwatchBook(("rust", "leaf"))
    before = book.of("rust"), book.of("leaf")
    assert book.of("red").letter not in {before[0].letter, before[1].letter}
    assert (book.of("rust"), book.of("leaf")) == before


def test_any_name_has_a_swatch() -> None:
    """Names come from files of others: half characters, nothing at all, markup."""
    odd = ("\ud800", "", "<b>", "\u202e", "x" * 5000)
    book = SwatchBook(odd)
    for name in odd:
        assert QColor(book.of(name).fill).isValid()
