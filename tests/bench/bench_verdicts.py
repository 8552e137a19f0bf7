"""How often each kind of verdict is true, over all kinds of physics of the tests' own.

    python tests/bench/bench_verdicts.py [--seeds 2000:2006] [--runs 2] [--only spectral]

Every run is judged twice: with its truth, and with a truth mistyped on purpose (two slots changed about, or one colour
wrong). The shares printed are those of a world in which one truth in ten is mistyped. Simulated, but for the readings of
'spliced'.
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter, defaultdict
from pathlib import Path

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[1]))

from physics.cases import GENERATORS, PALETTES, STREAMS, cases, there
from physics.causes import verdicts

from telemetry.replay.header import PlanShelf
from telemetry.replay.verdict_kind import CauseKind

MISTYPED = 0.1


def main() -> None:
    """Print everything."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--seeds", default="0:6", help="set-ups, FIRST:STOP")
    parser.add_argument("--runs", type=int, default=2, help="runs of each set-up")
    parser.add_argument("--only", default="", help="generators, with commas")
    args = parser.parse_args()
    first, _, stop = args.seeds.partition(":")
    tally: dict[tuple[str, str, str, bool], Counter[tuple[CauseKind | None, bool]]] = defaultdict(Counter)
    for generator, made in GENERATORS.items():
        if not there(generator) or (args.only and generator not in args.only.split(",")):
            continue
        for level in made.levels:
            for palette in PALETTES:
                for stream in STREAMS:
                    setups, shelf = range(int(first), int(stop)), PlanShelf()
                    runs = list(cases(generator, level, setups=setups, runs=args.runs, stream=stream, palette=palette))
                    for swap in (False, True):
                        told = verdicts(runs, stream, palette, swap=swap, shelf=shelf)
                        tally[generator, palette, stream, swap] += told
        print(f"{generator} done", file=sys.stderr, flush=True)
    wanted = [((palette, stream), (palette, stream)) for palette in PALETTES for stream in STREAMS]
    for words, places in [*wanted, ("pooled", None)]:
        print(f"\n{words if isinstance(words, str) else ', '.join(words)}")
        chosen = {key: one for key, one in tally.items() if places is None or key[1:3] == places}
        by_swap = [sum((one for key, one in chosen.items() if key[3] is swap), Counter()) for swap in (False, True)]
        for kind in CauseKind:
            true, false = (
                (1 - MISTYPED) * by_swap[0][kind, right] + MISTYPED * by_swap[1][kind, right] for right in (True, False)
            )
            counts = [by_swap[swap][kind, True] + by_swap[swap][kind, False] for swap in (0, 1)]
            if true + false:
                share = true / (true + false)
                print(f"  {kind.value:44} {counts[0]:5} of right truths {counts[1]:5} of mistyped ones; true in {share:.3f}")
        mistyped, found = by_swap[1].total(), by_swap[1][CauseKind.TRUTH, True]
        print(f"  mistyped truths found: {found} of {mistyped} ({found / max(mistyped, 1):.3f})")


if __name__ == "__main__":
    main()
