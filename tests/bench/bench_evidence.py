"""How well evidence reads the robots it was made with, whether its certainty is true there, and what a step costs.

``python tests/bench/bench_evidence.py [RUNS]`` prints strategy x level with intervals, the calibration of the confidence,
and the cost. All runs are simulated: by the built-in robot and by another one of the tests' own; ``bench_physics.py`` asks
the same of robots it was not made with. Seeds from 1,100,000 on are the fifth set: those before it (from 50,000, 300,000,
500,000 and 700,000 on) had been looked at before the strategy changed again. Move on when that happens, and say which set.
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from sklearn.metrics import brier_score_loss

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[1]))

from evidence.runs import Case, Reader, built_in_runs, other_runs
from reading.runtimes import COLUMNS, micropython, timed_on_micropython

from telemetry.reading.strategies import STRATEGIES
from telemetry.replay.scoring.statistics import wilson
from telemetry.sample import whole_columns

FIRST_SEED = 1_100_000
BY_EVIDENCE = ("evidence", "enough")
LEVELS = ("practice", "venue", "slipping", "extreme")


@dataclass
class Tally:
    """Runs right for each (reader, mode, level); and (said, right) of each run by evidence for each (mode, level)."""

    right: dict[tuple[str, str, str], list[bool]] = field(default_factory=dict)
    said: dict[tuple[str, str], list[tuple[float, bool]]] = field(default_factory=dict)

    def add(self, readers: dict[str, Reader], case: Case, mode: str) -> None:
        """One run through every strategy."""
        for name, reader in readers.items():
            if not reader.applies(case):
                continue
            colours, sure = reader.read(case)
            self.right.setdefault((name, mode, case.level), []).append(colours == case.truth)
            if name == "evidence":
                self.said.setdefault((mode, case.level), []).append((sure, colours == case.truth))

    def pooled(self, name: str, mode: str) -> tuple[int, int]:
        """(right, runs) over all levels."""
        runs = [value for (who, how, _), values in self.right.items() if (who, how) == (name, mode) for value in values]
        return sum(runs), len(runs)

    def best_simple(self, mode: str) -> str:
        """The simple strategy that reads most runs right."""
        names = {who for who, how, _ in self.right if how == mode} - set(BY_EVIDENCE)
        full = self.pooled("evidence", mode)[1]
        return max(sorted(names), key=lambda name: self.pooled(name, mode)[0] if self.pooled(name, mode)[1] == full else -1)

    def misread(self, name: str, mode: str) -> float:
        """Share of runs misread."""
        right, runs = self.pooled(name, mode)
        return 1.0 - right / runs

    def sure(self, mode: str, level: str | None = None) -> tuple[int, int, int]:
        """Of the runs of a level (None: all): (how many, said to be 99 % sure, wrong among those)."""
        runs = [one for (how, at), said in self.said.items() if how == mode and level in {None, at} for one in said]
        sure = [right for chance, right in runs if chance >= 0.99]
        return len(runs), len(sure), len(sure) - sum(sure)


def measured(runs: int, modes: tuple[str, ...] = ("both", "codes")) -> Tally:
    """``runs`` runs, half by each robot, at all four levels."""
    tally = Tally()
    readers = {name: Reader(name) for name in STRATEGIES if not any("stop" in use.stage for use in STRATEGIES[name].uses)}
    robots = runs // (2 * len(LEVELS))

    def cases() -> Iterator[Case]:
        yield from built_in_runs(FIRST_SEED, robots)
        yield from other_runs(FIRST_SEED, robots)

    for case in cases():
        for mode in modes:
            tally.add(readers, case.only(mode), mode)
    return tally


def table(tally: Tally, mode: str) -> list[str]:
    """Strategy x level, the best last."""
    names = sorted({who for who, how, _ in tally.right if how == mode}, key=lambda name: tally.pooled(name, mode)[0])
    lines = [f"{'':14}" + "".join(f"{level:>24}" for level in (*LEVELS, "all levels"))]
    for name in names:
        cells = []
        for level in (*LEVELS, None):
            runs = tally.right.get((name, mode, level), []) if level else None
            right, count = (sum(runs), len(runs)) if runs is not None else tally.pooled(name, mode)
            interval = wilson(right, count)
            cells.append("-" if interval is None else f"{right / count:.3f} ({interval[0]:.3f}-{interval[1]:.3f})")
        lines.append(f"{name:14}" + "".join(f"{cell:>24}" for cell in cells))
    return lines


def reliability(tally: Tally, mode: str) -> list[str]:
    """Said against true, in bins; and the Brier score."""
    runs = [one for (how, _), said in tally.said.items() if how == mode for one in said]
    said, true = np.array([one[0] for one in runs]), np.array([one[1] for one in runs], dtype=float)
    lines = [f"Brier score {brier_score_loss(true, said):.4f}"]
    for low, high in ((0.0, 0.6), (0.6, 0.8), (0.8, 0.9), (0.9, 0.97), (0.97, 0.99), (0.99, 1.01)):
        here = (said >= low) & (said < high)
        if here.any():
            bar = "#" * round(40 * float(true[here].mean()))
            lines.append(f"  said {said[here].mean():.3f}  true {true[here].mean():.3f}  {int(here.sum()):5} runs  {bar}")
    return lines


def cost() -> list[str]:
    """What a sample and the decision cost, in CPython and under MicroPython with its heap locked; one built-in run."""
    case = next(built_in_runs(FIRST_SEED, 1, ("venue",)))
    lines = []
    for name in BY_EVIDENCE:
        reader = Reader(name)
        reader.read(case)
        start = time.perf_counter()
        for _ in range(20):
            reader.read(case)
        each_ms = (time.perf_counter() - start) / 20 * 1e3
        words = f"{name}: {each_ms:.2f} ms a run of {case.table.rows} samples in CPython"
        if micropython():
            plan = reader.plan(case)
            whole = whole_columns(case.table.columns, case.table.rows, "", case.table.colours, plan.names)
            columns = np.stack([getattr(whole, column) for column in COLUMNS], axis=1).tolist()
            notes = plan.note_rows(case.table.notes)
            rows = [(*values, notes.get(row, 0)) for row, values in enumerate(columns)]
            with tempfile.TemporaryDirectory() as folder:
                all_us, _ = timed_on_micropython(plan.chains[0], rows, Path(folder))
            each_us = all_us / len(rows)
            words += f"; MicroPython on this PC: {each_us:.1f} us a sample, the decisions included, 0 bytes allocated"
        lines.append(words)
    return lines


def main() -> None:
    """Print everything."""
    tally = measured(int(sys.argv[1]) if len(sys.argv) > 1 else 520)
    for mode, what in (("both", "raw channels and codes"), ("codes", "codes alone")):
        simple = tally.best_simple(mode)
        print(f"\n{what}: runs wholly right (95 % Wilson intervals), simulated")
        print("\n".join(table(tally, mode)))
        shares = f"evidence {tally.misread('evidence', mode):.4f}, best simple ({simple}) {tally.misread(simple, mode):.4f}"
        print(f"misread: {shares}")
        print("\n".join(reliability(tally, mode)))
        many, sure, wrong = tally.sure(mode)
        practice = tally.sure(mode, "practice")
        print(
            f"said to be 99 % sure: {sure} of {many} runs, {wrong} of them wrong; practice: {practice[1]} of {practice[0]}"
        )
    print("\n" + "\n".join(cost()))


if __name__ == "__main__":
    main()
