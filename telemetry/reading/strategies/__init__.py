"""The named strategies, from naive to good. A new one: its file here, and one line below."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from telemetry.reading.strategies import (
    always_answer,
    checklist,
    enough,
    evidence,
    first_come,
    hold,
    map_and_list,
    run_on,
    smooth,
    stand_and_look,
    stop_at_colour,
    windows,
)
from telemetry.reading.strategy import Strategy

STRATEGIES: Final[Mapping[str, Strategy]] = {
    module.STRATEGY.name: module.STRATEGY
    for module in (
        first_come,
        hold,
        run_on,
        smooth,
        checklist,
        windows,
        map_and_list,
        always_answer,
        stand_and_look,
        stop_at_colour,
        enough,
        evidence,
    )
}
"""Name -> strategy; what ``compare`` runs where none is asked for."""
