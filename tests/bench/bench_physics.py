"""How well evidence reads runs of other physics than it was made with, beside the best simple strategy.

    python tests/bench/bench_physics.py [--only spectral/gloss] [--stream raw,codes] [--palette here,none] [--runs 4]
                                        [--seeds 2000:2006] [--verdicts] [--every]

For each generator x level x stream x kind of palette: runs, evidence, the best simple strategy, runs said 99 % sure and
those wrong among them, and with ``--verdicts`` what misread runs were put down to. ``--seeds FIRST:STOP`` are set-ups
(robot, field, lamp, layout), ``--runs`` runs of each. ``--every``: all strategies by name. All runs are simulated, but for
the readings that 'spliced' is put together from. Answers are kept (SIDELONG_CACHE or the user's cache folder), by the text
of every file that they rest on. Set-ups below 1000 are for looking and fitting; those of a closing note must be fresh.
"""

from __future__ import annotations

import argparse
import hashlib
import os
import pickle
import sys
import time
from collections import defaultdict
from functools import cache
from pathlib import Path

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[1]))

from physics.cases import GENERATORS, PALETTES, STREAMS, cases, there
from physics.reading import Cell, read

ROOT = Path(__file__).resolve().parents[2]
RESTS_ON = (
    "telemetry/reading", "telemetry/calibrate", "telemetry/replay", "telemetry/sources/synthetic", "telemetry/palette*.py",
    "telemetry/sample.py", "telemetry/course", "tests/physics", "tests/evidence/*.py",
)  # fmt: skip


@cache
def _fingerprint() -> str:
    """Of every file that an answer rests on."""
    digest = hashlib.sha256()
    for place in RESTS_ON:
        for found in sorted(ROOT.glob(place)):
            for file in sorted(found.rglob("*")) if found.is_dir() else [found]:
                if file.is_file() and "__pycache__" not in file.parts:
                    digest.update(str(file.relative_to(ROOT)).encode() + file.read_bytes())
    return digest.hexdigest()


def cell_of(
    generator: str, level: str, stream: str, palette: str, *, setups: range, runs: int, verdicts: bool = False
) -> Cell:
    """One cell, from what is kept if nothing changed since."""
    base = Path(os.environ.get("SIDELONG_CACHE") or Path.home() / ".cache" / "sidelong") / "bench_physics"
    key = f"{_fingerprint()} {generator} {level} {stream} {palette} {setups} {runs} {verdicts}"
    file = base / f"{hashlib.sha256(key.encode()).hexdigest()[:32]}.pickle"
    if file.is_file():
        kept: Cell = pickle.loads(file.read_bytes())
        return kept
    made = read(cases(generator, level, setups=setups, runs=runs, stream=stream, palette=palette), verdicts=verdicts)
    base.mkdir(parents=True, exist_ok=True)
    part = file.with_suffix(f".{os.getpid()}")
    part.write_bytes(pickle.dumps(made))
    part.replace(file)
    return made


def line(name: str, cell: Cell, every: bool) -> list[str]:
    """One row of the table."""
    simple = cell.best_simple
    behind = "  <--" if simple and cell.right[simple] - cell.right["evidence"] > 0.01 * cell.runs else ""
    out = [
        f"{name:40}{cell.runs:5}{cell.right['evidence'] / cell.runs:8.3f}{cell.right[simple] / cell.runs:8.3f} {simple:14}"
        f"{cell.sure:6}{cell.sure_wrong:5}{behind}"
    ]
    if every:
        told = sorted(cell.judged, key=lambda one: -cell.right[one])
        out.append("    " + "  ".join(f"{one} {cell.right[one]}/{cell.judged[one]}" for one in told if cell.judged[one]))
    out += [f"    {count:4}  {kind} ({what})" for (kind, what), count in sorted(cell.verdicts.items())]
    return out


def main() -> None:
    """Print everything."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--only", default="", help="GENERATOR or GENERATOR/LEVEL, several with commas")
    parser.add_argument("--stream", default=",".join(STREAMS))
    parser.add_argument("--palette", default=",".join(PALETTES))
    parser.add_argument("--runs", type=int, default=4, help="runs of each set-up")
    parser.add_argument("--seeds", default="0:6", help="set-ups, FIRST:STOP")
    parser.add_argument("--verdicts", action="store_true")
    parser.add_argument("--every", action="store_true", help="every strategy by name")
    args = parser.parse_args()
    first, _, stop = args.seeds.partition(":")
    setups = range(int(first), int(stop or int(first) + 1))
    begun = time.monotonic()
    print(
        f"{'':40} runs  evid.  simple                 sure wrong   (simulated; set-ups {args.seeds}, {args.runs} runs each)"
    )
    for palette in args.palette.split(","):
        for stream in args.stream.split(","):
            pooled: dict[str, Cell] = defaultdict(Cell)
            for generator, made in GENERATORS.items():
                for level in made.levels:
                    wanted = [one.split("/") for one in args.only.split(",") if one]
                    if wanted and not any(one[0] == generator and one[1:] in ([], [level]) for one in wanted):
                        continue
                    if not there(generator):
                        continue
                    cell = cell_of(
                        generator, level, stream, palette, setups=setups, runs=args.runs, verdicts=args.verdicts
                    )  # fmt: skip
                    print("\n".join(line(f"{palette}, {stream}: {generator}/{level}", cell, args.every)), flush=True)
                    pooled[generator] += cell
            for generator, cell in pooled.items():
                print("\n".join(line(f"{palette}, {stream}: {generator} ALL", cell, args.every)))
    print(f"{time.monotonic() - begun:.0f} s")


if __name__ == "__main__":
    main()
