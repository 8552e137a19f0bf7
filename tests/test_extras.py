"""What to type to add an optional part, for each way in which the program may have been installed (PEP 610's examples)."""

import json

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
    assert extras.how_to_add("gui") == said
