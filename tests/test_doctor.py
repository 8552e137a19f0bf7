"""What 'sidelong doctor' says of this computer, and the completion for shells."""

import importlib.metadata
import importlib.util
import json
import os
import shutil
import subprocess
import sys
from types import SimpleNamespace

import pytest

from telemetry.cli import main
from telemetry.commands import ALL_COMMANDS, completion, doctor
from telemetry.errors import EXIT_MISSING, EXIT_OK, EXIT_USAGE, LinkError


def examined(capsys, *words):
    code = main(["doctor", "--no-ble", "--json", *words])
    return code, {check["part"]: check for check in json.loads(capsys.readouterr().out)}


def test_a_computer_with_everything_works(capsys, monkeypatch):
    monkeypatch.setenv("QT_QPA_PLATFORM", "offscreen")
    monkeypatch.setattr("telemetry.sources.ports.serial_ports", list)
    code, found = examined(capsys)
    assert code == EXIT_OK
    assert found["recordings"]["state"] == "works"
    assert found["window"]["state"] == "works", found["window"]
    assert "Bluetooth" not in found


def test_without_the_window_it_says_how_to_install_it(capsys, monkeypatch):
    known = importlib.util.find_spec
    monkeypatch.setattr(doctor.importlib.util, "find_spec", lambda name: None if name == "PySide6" else known(name))
    _, found = examined(capsys)
    assert (found["window"]["state"], found["window"]["what"]) == ("missing", "PySide6 is not installed")
    assert ".[gui]" in found["window"]["mend"]


def test_without_a_display_the_window_is_not_tried(capsys, monkeypatch):
    for name in ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setattr(doctor.platform, "system", lambda: "Linux")
    _, found = examined(capsys)
    assert found["window"]["state"] == "missing"
    assert "there is no display" in found["window"]["what"]


def test_a_window_that_ends_at_once_is_said_with_its_last_line(capsys, monkeypatch):
    monkeypatch.setenv("QT_QPA_PLATFORM", "no-such-platform")
    code, found = examined(capsys)
    assert code == EXIT_MISSING
    assert found["window"]["state"] == "fails"


@pytest.mark.skipif(not hasattr(os, "getuid"), reason="permissions of ports are POSIX")
def test_a_port_without_permission_is_said_with_the_remedy(capsys, monkeypatch, tmp_path):
    port = tmp_path / "port"
    port.touch()
    monkeypatch.setattr("telemetry.sources.ports.serial_ports", lambda: [SimpleNamespace(device=str(port))])
    allowed = os.access
    monkeypatch.setattr(doctor.os, "access", lambda path, mode: str(path) != str(port) and allowed(path, mode))
    code, found = examined(capsys)
    assert code == EXIT_MISSING
    assert "dialout" in found["serial"]["mend"]


def test_a_full_disk_is_said(capsys, monkeypatch):
    monkeypatch.setattr(doctor.shutil, "disk_usage", lambda path: SimpleNamespace(free=1_000))
    _, found = examined(capsys)
    assert found["this folder"]["state"] == "fails"


def test_bluetooth_says_the_links_own_sentence(capsys, monkeypatch):
    def no_radio(timeout_s):
        raise LinkError("there is no adapter", todo="Plug one in.")

    monkeypatch.setattr("telemetry.sources.ble.source.scan", no_radio)
    monkeypatch.setenv("QT_QPA_PLATFORM", "offscreen")
    main(["doctor"])
    assert "--  Bluetooth   there is no adapter\n                Plug one in.\n" in capsys.readouterr().out


@pytest.mark.skipif(shutil.which("bash") is None, reason="no bash here")
def test_the_completion_is_valid_and_knows_every_command(capsys):
    assert main(["completion", "bash"]) == EXIT_OK
    text = capsys.readouterr().out
    assert subprocess.run(["bash", "-n"], input=text, text=True, check=False).returncode == 0
    probe = text + '\nCOMP_WORDS=(sidelong co) COMP_CWORD=1\n_shtab_sidelong\nprintf "%s\\n" "${COMPREPLY[@]}"\n'
    offered = subprocess.run(["bash"], input=probe, text=True, capture_output=True, check=True).stdout.split()
    assert {"compare", "completion"} <= set(offered)
    assert set(completion.whole_parser()._actions[-1].choices) == set(ALL_COMMANDS)


def test_another_shell_is_a_usage_error(capsys):
    assert main(["completion", "fish"]) == EXIT_USAGE
    assert capsys.readouterr().err.count("\n") == 1


def test_the_help_starts_without_the_completion_library():
    code = "import sys; from telemetry.cli import main; main(['--help']); sys.exit('shtab' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, check=False).returncode == 0


def test_in_a_single_file_nothing_ends_for_want_of_a_version(capsys, monkeypatch):
    """Packed by PyInstaller, a package may be there without its metadata, and Python itself cannot be started."""
    known = importlib.metadata.version

    def version(name):
        if name in {"numba", "PySide6"}:
            raise importlib.metadata.PackageNotFoundError(name)
        return known(name)

    def never(*_, **__):
        raise AssertionError("the program would start itself for Python")

    monkeypatch.setattr(doctor.importlib.metadata, "version", version)
    monkeypatch.setattr(doctor.sys, "frozen", True, raising=False)
    monkeypatch.setattr(doctor.subprocess, "run", never)
    monkeypatch.setenv("QT_QPA_PLATFORM", "offscreen")
    code, found = examined(capsys)
    assert code == EXIT_OK
    assert (found["window"]["state"], found["sweeps"]["state"]) == ("works", "works")
    assert found["sweeps"]["what"] == "numba compiles the reading logic for large comparisons"
