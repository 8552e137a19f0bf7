"""Write spectra.json: published reflectances and lights that the built-in robot drives past. Run once, by a developer.

    python -m telemetry.sources.synthetic.make_surfaces

Needs colour-science (a development tool only), which carries the published data sets.
"""

from __future__ import annotations

import gzip
import json
import re
import warnings
from pathlib import Path
from typing import Any

import numpy as np

FIRST_NM, LAST_NM, STEP_NM = 400, 700, 10
LIGHTS = ("A", "D65", "FL2", "FL7", "FL11", "LED-B1", "LED-B2", "LED-B3", "LED-B4", "LED-B5")
SURFACES = "ISO 17321-1"
OF_CIE_13 = {"strong green": "TCS11"}
OF_CIE_224 = {"red 11": 11, "cyan 57": 57, "magenta 94": 94}
"""Surfaces beyond the chart, so that no two of our colour names are one patch: ours -> the set's own name or number."""
SOURCE = (
    "Surfaces: reflectances of the 24-patch chart after ISO 17321-1; strong green is TCS11 of CIE 13.3-1995; "
    "red 11, cyan 57 and magenta 94 are samples of CIE 224:2017. Lights: relative spectral powers of CIE standard "
    "illuminants, CIE 015:2018, divided by their mean over the range kept here. All as colour-science {version} "
    "carries them, averaged over bands of 10 nm from 400 to 700 nm."
)


def _bands(distribution: Any, centres: list[int]) -> list[float]:
    return _means(distribution.wavelengths, distribution.values, centres)


def _means(nm: Any, values: Any, centres: list[int]) -> list[float]:
    """Mean of the published values within +-5 nm of each centre, interpolated linearly to 1 nm."""
    wanted = np.arange(FIRST_NM - STEP_NM // 2, LAST_NM + STEP_NM // 2 + 1)
    fine = np.interp(wanted, nm, values)
    return [float(fine[(wanted >= nm - 5) & (wanted <= nm + 5)].mean()) for nm in centres]


def main() -> None:
    """Write the file beside this script."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # it warns that it has no plotting library
        import colour
        from colour.quality.datasets import SDS_TCS
    centres = list(range(FIRST_NM, LAST_NM + 1, STEP_NM))
    surfaces = {
        name.split(" (")[0]: [round(value, 4) for value in _bands(distribution, centres)]
        for name, distribution in colour.SDS_COLOURCHECKERS[SURFACES].items()
    }
    for name, theirs in OF_CIE_13.items():
        surfaces[name] = [round(value, 4) for value in _bands(SDS_TCS["CIE 1995"][theirs], centres)]
    packed = Path(colour.quality.__file__).parent / "datasets" / "tcs_cfi2017_5_nm.csv.gz"
    table = np.array([[float(v) for v in line.split(",")] for line in gzip.decompress(packed.read_bytes()).decode().split()])
    for name, number in OF_CIE_224.items():
        surfaces[name] = [round(value, 4) for value in _means(table[:, 0], table[:, number], centres)]
    lights = {}
    for name in LIGHTS:
        values = np.array(_bands(colour.SDS_ILLUMINANTS[name], centres))
        lights[name] = [round(float(value), 4) for value in values / values.mean()]
    content = {"source": SOURCE.format(version=colour.__version__), "nm": centres, "surfaces": surfaces, "lights": lights}
    rows = re.sub(r"\[[^\[\]]*\]", lambda found: re.sub(r"\s+", " ", found.group()), json.dumps(content, indent=1))
    Path(__file__).with_name("spectra.json").write_text(rows + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
