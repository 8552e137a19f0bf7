"""Write spectra.json: published reflectances and lights that the built-in robot drives past. Run once, by a developer.

    python -m telemetry.sources.synthetic.make_surfaces

Needs colour-science (a development tool only), which carries the published data sets.
"""

from __future__ import annotations

import json
import re
import warnings
from pathlib import Path
from typing import Any

import numpy as np

FIRST_NM, LAST_NM, STEP_NM = 400, 700, 10
LIGHTS = ("A", "D65", "FL2", "FL7", "FL11", "LED-B1", "LED-B2", "LED-B3", "LED-B4", "LED-B5")
SURFACES = "ISO 17321-1"
SOURCE = (
    "Surfaces: reflectances of the 24-patch chart after ISO 17321-1. Lights: relative spectral powers of CIE standard "
    "illuminants, CIE 015:2018, divided by their mean over the range kept here. Both as colour-science {version} carries "
    "them, averaged over bands of 10 nm from 400 to 700 nm."
)


def _bands(distribution: Any, centres: list[int]) -> list[float]:
    """Mean of the published values within +-5 nm of each centre, interpolated linearly to 1 nm."""
    wanted = np.arange(FIRST_NM - STEP_NM // 2, LAST_NM + STEP_NM // 2 + 1)
    fine = np.interp(wanted, distribution.wavelengths, distribution.values)
    return [float(fine[(wanted >= nm - 5) & (wanted <= nm + 5)].mean()) for nm in centres]


def main() -> None:
    """Write the file beside this script."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # it warns that it has no plotting library
        import colour
    centres = list(range(FIRST_NM, LAST_NM + 1, STEP_NM))
    surfaces = {
        name.split(" (")[0]: [round(value, 4) for value in _bands(distribution, centres)]
        for name, distribution in colour.SDS_COLOURCHECKERS[SURFACES].items()
    }
    lights = {}
    for name in LIGHTS:
        values = np.array(_bands(colour.SDS_ILLUMINANTS[name], centres))
        lights[name] = [round(float(value), 4) for value in values / values.mean()]
    content = {"source": SOURCE.format(version=colour.__version__), "nm": centres, "surfaces": surfaces, "lights": lights}
    rows = re.sub(r"\[[^\[\]]*\]", lambda found: re.sub(r"\s+", " ", found.group()), json.dumps(content, indent=1))
    Path(__file__).with_name("spectra.json").write_text(rows + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
