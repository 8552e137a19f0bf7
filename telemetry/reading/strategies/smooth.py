"""For sensors that flicker."""

from telemetry.reading.strategy import Strategy, Use

STRATEGY = Strategy(
    "smooth", "Smooth",
    "Believes what most of the last seven samples showed, and crosses colours off the list.",
    (Use("auto"), Use("smooth", {"samples": 7}), Use("leg-by-leg"), Use("open"), Use("once", {"gap": 2}), Use("eliminate")),
)
