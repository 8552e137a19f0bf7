"""A space of settings too large for a grid goes to Optuna's TPE sampler; what is found is judged like a grid's points."""

from __future__ import annotations

from collections.abc import Sequence

from telemetry.errors import MissingPartError
from telemetry.extras import how_to_add
from telemetry.tuning.space import Axis, Point, size
from telemetry.tuning.tries import Tries

BATCH = 50
KEPT = 200


def searched(tries: Tries, axes: Sequence[Axis], trials: int) -> list[Point]:
    """The best points found in ``trials`` tries (Optuna, TPE, fixed seed: the same again), today's settings among them.

    Each point's score is the runs read right by it and by its neighbours one value up and down, so that room counts.
    Raises MissingPartError without Optuna.
    """
    try:
        import optuna
    except ImportError as error:
        raise MissingPartError(
            f"a grid of {size(axes):,} settings is too large to try them all, and to search it needs Optuna, not installed",
            todo=f"{how_to_add('tune')}; or give fewer settings or values with --over.",
        ) from error
    optuna.logging.set_verbosity(optuna.logging.ERROR)
    sampler = optuna.samplers.TPESampler(seed=0)
    study = optuna.create_study(direction="maximize", sampler=sampler)
    names = {axis.name: axis for axis in axes}
    now = {axis.name: axis.values.index(axis.now) for axis in axes}
    study.enqueue_trial(now)
    scored: dict[tuple[tuple[str, int], ...], float] = {}
    done = 0
    while done < trials:
        asked = [study.ask() for _ in range(min(BATCH, trials - done))]
        last = {name: len(axis.values) - 1 for name, axis in names.items()}
        places = [{name: trial.suggest_int(name, 0, top) for name, top in last.items()} for trial in asked]
        around = [near for place in places for near in _around(place, names)]
        points = [{name: names[name].values[k] for name, k in place.items()} for place in around]
        right = tries.right(points)
        each = len(around) // len(places)
        for k, (trial, place) in enumerate(zip(asked, places, strict=True)):
            mine = right[k * each : (k + 1) * each]
            score = float(mine[0] + mine.mean())
            study.tell(trial, score)
            scored[tuple(place.items())] = score
        done += len(asked)
        tries.tell("searched", done, trials)
    best = sorted(scored, key=lambda place: -scored[place])[:KEPT]
    if tuple(now.items()) not in best:
        best.append(tuple(now.items()))
    return [{name: names[name].values[k] for name, k in place} for place in best]


def _around(place: dict[str, int], names: dict[str, Axis]) -> list[dict[str, int]]:
    """The place and its neighbours along each setting; at an end the place itself again."""
    out = [place]
    for name, axis in names.items():
        last = len(axis.values) - 1
        out += [{**place, name: min(last, max(0, place[name] + step))} for step in (-1, 1)]
    return out
