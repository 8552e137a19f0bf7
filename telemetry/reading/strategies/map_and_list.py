"""Distance and rules together."""

from telemetry.reading.strategy import Strategy, Use

STRATEGY = Strategy(
    "map-and-list", "Map and list",
    "Looks only where a slot is and no decoy, counts open colours there, takes the majority, fills in what follows.",
    (
        Use("auto"), Use("windows", {"margin_mm": 40}), Use("decoys"), Use("open"), Use("vote", {"least": 1}),
        Use("eliminate", {"early": 0}),
    ),
)
