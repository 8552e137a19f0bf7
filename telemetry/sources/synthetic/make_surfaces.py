"""Write spectra.json: the measured spectra of the built-in robot's world. Run once, by a developer.

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
CENTRES = range(FIRST_NM, LAST_NM + 1, STEP_NM)
CAMERA = "Nikon 5100 (NPL)"
OWN_LAMP = "Phosphor LED YAG"
LIGHTS = ("Incandescent", "ID65", "FL3.2", "FL3.5", "FL3.8", "FL3.12", "FL3.15", "HP3", "HP5", "LED-BH1")
TAUGHT_CHART = "ISO 17321-1"
DRIVEN_CHART = "PMC"
DRIVEN = {
    "tan": 1, "sand": 3, "brown": 4, "salmon": 5, "carrot": 6, "orange": 7, "orange yellow": 8, "banana": 9,
    "yellow green": 10, "apple": 11, "grass": 12, "bluish green": 13, "pale blue": 14, "day sky": 15, "lavender": 16,
    "purple": 17, "cabbage": 18, "red": 19, "yellow": 20, "green": 21, "blue": 22, "magenta": 23, "cyan": 24, "white": 25,
    "grey 80": 26, "grey 70": 27, "grey 50": 28, "grey 35": 29, "black": 30,
}  # fmt: skip
"""Our name of a patch -> its number on the chart that is driven past."""
OF_CIE_224 = {"red 11": 11, "soot 74": 74, "blue 75": 75, "magenta 94": 94}
"""Surfaces beyond the chart, so that no two of our colour names are one patch: ours -> the sample's number."""
SOURCE = (
    "Surfaces: reflectances of the 30-patch chart of Luo 2024, doi:10.1002/col.22940; red 11, soot 74, blue 75 and "
    "magenta 94 are samples of CIE 224:2017. What the sensor was taught: the 24-patch chart after ISO 17321-1. Lights: "
    "relative spectral powers of CIE illuminants, CIE 015:2018 (ID65: indoor daylight; FL3: fluorescent; HP3 and HP5: "
    "metal halide; LED-BH1), and of the lamp 'Incandescent' and the LED 'Phosphor LED YAG' of Ohno and Davis 2008 (NIST "
    "CQS 7.4). Lights are divided by their mean over the range kept here. Sensor: a camera's red, green and blue as "
    "measured by NPL, Darrodi et al. 2015, doi:10.1364/JOSAA.32.000381, each divided by its sum. All as colour-science "
    "{version} carries them, averaged over bands of 10 nm from 400 to 700 nm."
)


def bands(nm: Any, values: Any) -> list[float]:
    """Mean of the published values within +-5 nm of each of CENTRES, interpolated linearly to 1 nm."""
    wanted = np.arange(FIRST_NM - STEP_NM // 2, LAST_NM + STEP_NM // 2 + 1)
    fine = np.interp(wanted, nm, values)
    return [round(float(fine[(wanted >= nm - 5) & (wanted <= nm + 5)].mean()), 4) for nm in CENTRES]


def main() -> None:
    """Write the file beside this script."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # it warns that it has no plotting library
        import colour
    charts = colour.SDS_COLOURCHECKERS
    patches = list(charts[DRIVEN_CHART].values())
    driven = {name: bands(patches[number - 1].wavelengths, patches[number - 1].values) for name, number in DRIVEN.items()}
    packed = Path(colour.quality.__file__).parent / "datasets" / "tcs_cfi2017_5_nm.csv.gz"
    table = np.array([[float(v) for v in line.split(",")] for line in gzip.decompress(packed.read_bytes()).decode().split()])
    driven |= {name: bands(table[:, 0], table[:, number]) for name, number in OF_CIE_224.items()}
    taught = {name.split(" (")[0]: bands(one.wavelengths, one.values) for name, one in charts[TAUGHT_CHART].items()}
    lights = {}
    for name in (OWN_LAMP, *LIGHTS):
        one = {**colour.SDS_LIGHT_SOURCES, **colour.SDS_ILLUMINANTS}[name]
        values = np.array(bands(one.wavelengths, one.values / np.mean(one.values)))
        lights[name] = [round(float(value), 4) for value in values / values.mean()]
    camera = colour.MSDS_CAMERA_SENSITIVITIES[CAMERA]
    sensor = {}
    for channel, values in zip(("red", "green", "blue"), camera.values.T, strict=True):
        kept = np.array(bands(camera.wavelengths, values))
        sensor[channel] = [round(float(value), 5) for value in kept / kept.sum()]
    content = {
        "source": SOURCE.format(version=colour.__version__), "nm": list(CENTRES), "surfaces": driven, "taught": taught,
        "lights": lights, "sensor": sensor,
    }  # fmt: skip
    rows = re.sub(r"\[[^\[\]]*\]", lambda found: re.sub(r"\s+", " ", found.group()), json.dumps(content, indent=1))
    Path(__file__).with_name("spectra.json").write_text(rows + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
