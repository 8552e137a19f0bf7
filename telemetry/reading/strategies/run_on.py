"""By driving on for a known distance."""

from telemetry.reading.strategy import Strategy, Use

STRATEGY = Strategy(
    "run-on", "Run on",
    "After a colour it drives on for two centimetres before it looks again, so that a flicker on one marker counts once.",
    (
        Use("auto"), Use("hold", {"samples": 2}), Use("leg-by-leg"), Use("run-on", {"colour_mm": 20}),
        Use("once", {"gap": 2}), Use("eliminate"),
    ),
)
