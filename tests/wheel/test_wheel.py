"""The wheel and the source distribution hold what a program needs that is installed from them, and nothing else."""

import configparser
import subprocess
import sys
import tarfile
import xml.etree.ElementTree as ET
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """Both distributions, built from a copy of what git tracks, so that nothing lying about gets in."""
    folder = tmp_path_factory.mktemp("made")
    source = folder / "source"
    tracked = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, check=True).stdout.split(b"\0")
    for name in filter(None, tracked):
        path = ROOT / name.decode()
        if path.is_file() and path.suffix not in {".png", ".h5"}:
            target = source / name.decode()
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_bytes(path.read_bytes())
    command = [sys.executable, "-m", "build", "--no-isolation", "--outdir", str(folder / "dist"), str(source)]
    done = subprocess.run(command, capture_output=True, text=True, timeout=110, check=False)
    assert done.returncode == 0, done.stdout[-2000:] + done.stderr[-2000:]
    return folder / "dist"


def names_in(dist, pattern):
    (path,) = dist.glob(pattern)
    if path.suffix == ".whl":
        with zipfile.ZipFile(path) as archive:
            return archive.namelist()
    with tarfile.open(path) as archive:
        return ["/".join(name.split("/")[1:]) for name in archive.getnames()]


def test_the_wheel_holds_every_module_and_data_file(made):
    names = set(names_in(made, "*.whl"))
    wanted = {".py", ".toml", ".json", ".csv", ".md", ".svg", ".desktop"}
    for package in ("telemetry", "gui"):
        for path in (ROOT / package).rglob("*"):
            if path.suffix in wanted and "__pycache__" not in path.parts:
                assert path.relative_to(ROOT).as_posix() in names, path
    assert any(name.endswith("licenses/LICENSE") for name in names)
    assert any(name.endswith("share/applications/sidelong.desktop") for name in names)
    assert {name.split("/")[0].split("-")[0] for name in names} == {"telemetry", "gui", "sidelong"}


def test_the_source_distribution_builds_and_tells(made):
    names = set(names_in(made, "*.tar.gz"))
    assert {"pyproject.toml", "README.md", "LICENSE", "telemetry/cli.py", "gui/desktop/sidelong.svg"} <= names


def test_the_desktop_entry_is_one():
    """The keys that the Desktop Entry Specification 1.5 requires, and main categories that it knows."""
    entry = configparser.ConfigParser(interpolation=None)
    entry.optionxform = str
    entry.read(ROOT / "gui" / "desktop" / "sidelong.desktop", encoding="utf-8")
    (section,) = entry.sections()
    values = entry[section]
    assert (section, values["Type"], values["Icon"]) == ("Desktop Entry", "Application", "sidelong")
    assert values["Exec"].split()[0] == "sidelong"
    assert {"Education", "Science"} <= set(values["Categories"].strip(";").split(";"))


def test_the_icon_is_a_picture_without_anything_foreign():
    text = (ROOT / "gui" / "desktop" / "sidelong.svg").read_text(encoding="utf-8")
    assert ET.fromstring(text).tag == "{http://www.w3.org/2000/svg}svg"
    assert "href" not in text
    assert "<script" not in text
