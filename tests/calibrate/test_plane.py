"""Colours in the chromaticity plane: the spread drawn is that of the samples."""

from __future__ import annotations

import numpy as np

from telemetry.calibrate.build import build_palette
from telemetry.calibrate.capture import still_capture
from telemetry.calibrate.files import table_from_text
from telemetry.calibrate.plane import spots
from telemetry.palette_default import look
from telemetry.sources.synthetic.run import simulate_still


def test_middle_and_outline_are_those_of_the_samples() -> None:
    captures = [
        still_capture(colour, table_from_text(simulate_still(colour, "venue", 4, seconds=8.0).data, colour))
        for colour in ("none", "rust", "sky")
    ]
    palette = build_palette(captures)
    found = {spot.name: spot for spot in spots(palette)}
    for capture in captures:
        shares = look(capture.values[:, :3], palette.ranges)[:, :2]
        spot = found[capture.colour]
        np.testing.assert_allclose(spot.middle, shares.mean(axis=0), atol=0.01)
        np.testing.assert_allclose(np.sqrt(np.diag(spot.spread)), shares.std(axis=0), rtol=0.35, atol=0.002)
        away = shares - spot.middle
        distance = np.sqrt(np.einsum("ij,jk,ik->i", away, np.linalg.inv(spot.spread), away))
        assert 0.75 < float((distance < 2.0).mean()) <= 1.0, "two deviations in a plane hold 86 of 100"
        edge = spot.outline(2.0) - spot.middle
        reach = np.sqrt(np.einsum("ij,jk,ik->i", edge, np.linalg.inv(spot.spread), edge))
        np.testing.assert_allclose(reach, 2.0, rtol=1e-6)
