"""The named strategies, from naive to good. A new one: its file here, and one line below."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from telemetry.reading.strategies import checklist, evidence, first_come, hold, windows
from telemetry.reading.strategy import Strategy

STRATEGIES: Final[Mapping[str, Strategy]] = {
    module.STRATEGY.name: module.STRATEGY
    for module in (
        first_come,
        hold,
        checklist,
        windows,
        evidence,
    )
}
"""Name -> strategy; what ``compare`` runs where none is asked for."""
