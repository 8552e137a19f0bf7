"""What to type to add an optional part, for each way in which the program may have been installed (PEP 610's examples)."""

import json
import os

import pytest

from telemetry import extras


class Installed:
    def __init__(self, written: str | None) -> None:
        self.written = written

    def read_text(self, _name: str) -> str | None:
        return self.written


@pytest.mark.parametrize(
    ("written", "said"),
    [
        (None, 'python -m pip install "sidelong[gui]"'),
        ({"url": "file:///home/coach/sidelong", "dir_info": {"editable": True}},
         'In Sidelong\'s folder: python -m pip install ".[gui]"'),
        ({"url": "file:///home/coach/my%20files/sidelong-0.1.0-py3-none-any.whl", "archive_info": {}},
         'Beside the file sidelong-0.1.0-py3-none-any.whl: python -m pip install "sidelong-0.1.0-py3-none-any.whl[gui]"'),
        ({"url": "https://example.org/sidelong-0.1.0.zip", "archive_info": {}}, 'python -m pip install "sidelong[gui]"'),
        ("{ no json", 'python -m pip install "sidelong[gui]"'),
        ([], 'python -m pip install "sidelong[gui]"'),
    ],
)  # fmt: skip
def test_the_command_fits_how_it_was_installed(written: object, said: str, monkeypatch: pytest.MonkeyPatch) -> None:
    text = written if isinstance(written, str | None) else json.dumps(written)
    monkeypatch.setattr(extras, "distributions", lambda name: [Installed(None), Installed(text)])
    monkeypatch.setattr(extras, "pip_here", lambda: "python -m pip")
    assert extras.how_to_add("gui") == said


@pytest.mark.parametrize(
    ("found", "said"),
    [("/home/coach/.venv/bin/python", "python -m pip"), ("/usr/bin/python", "/home/coach/.venv/bin/python3 -m pip"),
     (None, "/home/coach/.venv/bin/python3 -m pip")],
)  # fmt: skip
@pytest.mark.skipif(os.name != "posix", reason="paths of POSIX")
def test_the_python_is_the_one_that_runs_this(found: str | None, said: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """In an environment that was not activated, 'python' in a shell is the system's."""
    monkeypatch.setattr(extras, "which", lambda name: found)
    monkeypatch.setattr(extras.sys, "executable", "/home/coach/.venv/bin/python3")
    assert extras.pip_here() == said
