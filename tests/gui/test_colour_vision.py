"""No meaning by colour alone, under simulated colour-vision deficiencies.

Simulation: Machado, Oliveira, Fernandes, 'A Physiologically-based Model for Simulation of Color Vision Deficiency', IEEE
Transactions on Visualization and Computer Graphics 15(6), 2009; its matrices as colour-science carries them.
"""

from __future__ import annotations

import warnings

import numpy as np
import pytest
from numpy.typing import NDArray

from gui.panels.verdict_table import SIGNS
from gui.swatches import SwatchBook
from gui.theme import THEMES, Theme, channels_of, contrast
from telemetry.sources.synthetic.run import built_in_course

colour = pytest.importorskip("colour")
KINDS = ("Protanomaly", "Deuteranomaly", "Tritanomaly")


def seen_by(kind: str, shade: str) -> str:
    """``shade`` as somebody wholly without one kind of cone sees it."""
    with warnings.catch_warnings():
        # It warns that the paper's tritanomaly is an approximation; it is the only published one here.
        warnings.simplefilter("ignore")
        matrix = colour.blindness.matrix_cvd_Machado2009(kind, 1.0)
    srgb = np.array(channels_of(shade)) / 255.0
    linear = np.where(srgb <= 0.04045, srgb / 12.92, ((srgb + 0.055) / 1.055) ** 2.4)
    changed: NDArray[np.float64] = np.clip(matrix @ linear, 0.0, 1.0)
    back = np.where(changed <= 0.0031308, changed * 12.92, 1.055 * changed ** (1 / 2.4) - 0.055)
    return "#" + "".join(f"{round(float(part) * 255):02x}" for part in back)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("theme", THEMES.values(), ids=THEMES)
def test_text_stays_readable(kind: str, theme: Theme) -> None:
    # 3:1 is WCAG's least for large text; nothing here may fall below it for anybody.
    poor = {use: round(contrast(seen_by(kind, text), seen_by(kind, ground)), 2) for use, text, ground in theme.text_pairs()
            if contrast(seen_by(kind, text), seen_by(kind, ground)) < 3.0}  # fmt: skip
    assert not poor


@pytest.mark.parametrize("kind", KINDS)
def test_letters_on_swatches_stay_readable(kind: str) -> None:
    for swatch in SwatchBook(built_in_course().colours).swatches:
        assert contrast(seen_by(kind, swatch.ink), seen_by(kind, swatch.fill)) >= 4.5, swatch.name


@pytest.mark.parametrize("kind", KINDS)
def test_swatches_that_look_alike_differ_in_letter_and_pattern(kind: str) -> None:
    swatches = SwatchBook(built_in_course().colours).swatches
    for number, one in enumerate(swatches):
        for other in swatches[number + 1 :]:
            assert (one.letter, one.pattern) != (other.letter, other.pattern)
            assert one.letter != other.letter
            assert one.pattern != other.pattern


def test_every_verdict_has_a_sign_of_its_own() -> None:
    assert len(set(SIGNS.values())) == len(SIGNS)
