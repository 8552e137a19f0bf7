"""How often runs were right by their least margin, for the tables of telemetry/reading/evidence/certainty.py.

    python tests/bench/fit_certainty.py [--seeds 10000:10025] [--runs 4] [--stream raw] [--palette "here,other light"]
                                        [--at 40] [--bins 3,8,17,24,32,40,60,90]

For each kind of physics: of runs with a least margin of ``--at`` or more, how many were misread, and which part of all
rightly read runs they are; then the share of right ones between each two of ``--bins``. Where 99 % may begin, the kind that
does worst decides. Margins are those that Doubt leaves. Simulated, but for the readings of 'spliced'. 25 set-ups and two
palettes take a minute.
"""

from __future__ import annotations

import argparse
import sys
from collections import defaultdict
from itertools import pairwise
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[1]))

from evidence.runs import Reader
from physics.cases import GENERATORS, cases, there

from telemetry.reading.portable.evidence.decide import Decide
from telemetry.reading.switch import WHEN_IT_PAYS

Counted = dict[str, NDArray[np.float64]]
"""Kind of physics -> (runs, 2): least margin, 1 where the run was read right."""


def counted(setups: range, runs: int, stream: str, palette: str) -> Counted:
    """Every level of every kind."""
    out: dict[str, list[tuple[int, bool]]] = defaultdict(list)
    for generator, made in GENERATORS.items():
        for level in made.levels if there(generator) else ():
            reader = Reader("evidence")
            for case in cases(generator, level, setups=setups, runs=runs, stream=stream, palette=palette):
                colours, _ = reader.read(case)  # type: ignore[arg-type]
                stages = [one for chain in reader.plan(case, fresh=False).chains for one in chain.stages]  # type: ignore[arg-type]
                decide = next(one for one in reversed(stages) if isinstance(one, Decide))
                least = min((m for m, k in zip(decide.margin, decide.final, strict=True) if k >= 0), default=0)
                out[generator].append((least, colours == case.truth))
    return {name: np.array(rows, dtype=float) for name, rows in out.items()}


def joined(parts: list[Counted]) -> Counted:
    """All of them, kind by kind."""
    return {name: np.vstack([part[name] for part in parts]) for name in parts[0]}


def main() -> None:
    """Print everything."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--seeds", default="10000:10025", help="set-ups, FIRST:STOP")
    parser.add_argument("--runs", type=int, default=4, help="runs of each set-up")
    parser.add_argument("--stream", default="raw", help="with commas")
    parser.add_argument("--palette", default="here,other light", help="with commas")
    parser.add_argument("--at", default="40", help="margins, with commas")
    parser.add_argument("--bins", default="3,8,17,24,32,40,60,90", help="margins, with commas")
    args = parser.parse_args()
    first, _, stop = args.seeds.partition(":")
    WHEN_IT_PAYS.expect(10**9)
    parts = [
        counted(range(int(first), int(stop)), args.runs, stream, palette)
        for stream in args.stream.split(",")
        for palette in args.palette.split(",")
    ]
    kinds = joined(parts)
    for at in map(float, args.at.split(",")):
        for name, rows in kinds.items():
            sure = rows[rows[:, 0] >= at]
            right, told = rows[:, 1].sum(), sure[:, 1].sum()
            misread = f"{len(sure) - told:4.0f} misread of {len(sure):5}"
            print(f"{at:5.0f} or more, {name:10}{misread}, {told / right:.2f} of all right ones")
    edges = [0.0, *map(float, args.bins.split(",")), np.inf]
    print(f"{'right, by margin':20}" + "".join(f"{name:>18}" for name in kinds))
    for low, high in pairwise(edges):
        found = [rows[(rows[:, 0] >= low) & (rows[:, 0] < high), 1] for rows in kinds.values()]
        shares = [f"{one.mean() if len(one) else np.nan:10.3f} of {len(one):4}" for one in found]
        print(f"{low:6.0f} to {high:6.0f}    " + "".join(shares))


if __name__ == "__main__":
    main()
