"""A palette survives its file, and every spoilt file gets one clear sentence."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from telemetry.course.values import may_be_colour
from telemetry.errors import PaletteError
from telemetry.palette import Palette, PaletteColour
from telemetry.palette_default import default_palette, nearest
from telemetry.palette_file import palette_from, palette_text, read_palette, write_palette

names = st.text(st.characters(exclude_categories=("Cs", "Cc")), min_size=1, max_size=12).filter(lambda text: text.strip())
levels = st.floats(0.0, 65535.0)


@st.composite
def palettes(draw: st.DrawFn) -> Palette:
    channels = draw(st.sampled_from([[0, 1, 2, 3], [0, 1, 2], [3], []]))
    colours = []
    for name in draw(st.lists(names.filter(may_be_colour), min_size=1, max_size=4, unique=True)):
        mean, covariance = np.full(4, np.nan), np.full((4, 4), np.nan)
        if channels:
            mean[channels] = [draw(levels) for _ in channels]
            covariance[np.ix_(channels, channels)] = np.diag([draw(st.floats(0.1, 1e4)) for _ in channels])
        codes = draw(st.dictionaries(names, st.floats(0.0, 1.0), max_size=3))
        heights = ((8.0, mean), (12.0, mean * 0.5)) if channels and draw(st.booleans()) else ()
        colours.append(
            PaletteColour(name, mean, covariance, draw(st.integers(0, 9999)), codes, heights, draw(st.floats(0.0, 0.9)))
        )
    ranges = {"red": (4.0, 1023.0)} if draw(st.booleans()) else {}
    return Palette(
        draw(names), tuple(colours), draw(st.booleans()), ranges, draw(st.floats(0, 500)), draw(names), (draw(names),)
    )


@given(palettes())
def test_what_is_written_is_what_is_read(palette: Palette) -> None:
    again = palette_from(palette_text(palette), "x.toml")
    assert again.names == palette.names
    assert (again.name, again.measured, again.made, again.remarks) == (
        palette.name, palette.measured, palette.made, palette.remarks,
    )  # fmt: skip
    for one, two in zip(again.colours, palette.colours, strict=True):
        np.testing.assert_allclose(one.mean, two.mean, rtol=1e-5)
        np.testing.assert_allclose(one.covariance, two.covariance, rtol=1e-5)
        assert one.samples == two.samples
        assert dict(one.codes) == pytest.approx(dict(two.codes), rel=1e-5)
        assert [mm for mm, _ in one.by_height] == [mm for mm, _ in two.by_height]


@given(st.text(max_size=200))
def test_any_text_is_a_palette_or_one_sentence(text: str) -> None:
    said = "x.toml"
    try:
        palette_from(text, "x.toml")
    except PaletteError as error:
        said = str(error)
    assert said.startswith("x.toml")


GOOD = palette_text(default_palette())


@pytest.mark.parametrize(
    ("spoil", "says"),
    [
        (lambda text: text.replace("version = 1", "version = 2"), "newer"),
        (lambda text: text.replace("version = 1", ""), "version"),
        (lambda text: text.replace('"red", "green"', '"red", "purpel"', 1), "channels"),
        (lambda text: text.replace("samples = 0", "samples = true", 1), "samples"),
        (lambda text: text.replace("samples = 0", "sample = 0", 1), "sample"),
        (lambda text: text.replace('name = "black"', 'name = "white"'), "twice"),
        (lambda text: text.replace("mean = [132.99, ", "mean = [", 1), "mean"),
        (lambda text: text.replace("mean = [132.99", "mean = [nan", 1), "number"),
        (lambda text: text.replace("[1632.85, 0.0", "[1632.85, 99999.0", 1), "covariance"),
        (lambda text: text.replace("red = [0.0, 1023.0]", "red = [1023.0, 0.0]"), "full scale"),
        (lambda text: text.replace("codes = {none = 1.0}", "codes = {none = 1.5}"), "between 0 and 1"),
        (lambda text: "colour = []\nversion = 1", "colours"),
        (lambda text: text[: len(text) // 2], "TOML"),
    ],
)
def test_each_mistake_is_named(spoil: object, says: str) -> None:
    spoilt = spoil(GOOD)  # type: ignore[operator]
    assert spoilt != GOOD
    with pytest.raises(PaletteError, match=says):
        palette_from(spoilt, "x.toml")


def test_files_that_are_none(tmp_path: Path) -> None:
    with pytest.raises(PaletteError, match="no such file"):
        read_palette(tmp_path / "no.toml")
    (tmp_path / "bytes").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(PaletteError, match="not a text"):
        read_palette(tmp_path / "bytes")
    with pytest.raises(PaletteError):
        read_palette(tmp_path)


def test_writing_leaves_no_part_behind(tmp_path: Path) -> None:
    write_palette(default_palette(), tmp_path / "p.toml")
    assert read_palette(tmp_path / "p.toml").names == default_palette().names
    assert [path.name for path in tmp_path.iterdir()] == ["p.toml"]


def test_the_default_palette_tells_its_own_colours_apart_in_any_range() -> None:
    for top in (255.0, 1023.0, 65535.0):
        ranges = dict.fromkeys(("red", "green", "blue"), (0.0, top))
        palette = default_palette(ranges)
        found = nearest(palette, np.array([colour.mean for colour in palette.colours]), ranges)
        assert found.tolist() == list(range(len(palette.colours)))


def test_a_palette_edited_by_hand_holds_no_colour_that_lists_cannot_hold(tmp_path: Path) -> None:
    path = tmp_path / "p.toml"
    write_palette(default_palette({}), path)
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace('name = "white"', 'name = "whi#te"'), encoding="utf-8")
    with pytest.raises(PaletteError, match="a colour cannot be called 'whi#te'"):
        read_palette(path)
