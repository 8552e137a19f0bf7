"""Soaks run only when asked for: ``pytest -m soak``."""

from __future__ import annotations

import pytest


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    if "soak" in (config.getoption("-m") or ""):
        return
    for item in items:
        if item.get_closest_marker("soak"):
            item.add_marker(pytest.mark.skip(reason="takes minutes: pytest -m soak"))
