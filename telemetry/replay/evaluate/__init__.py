"""Runs times strategies: every result is worked out once, in this process or by any executor.

    from telemetry.replay.evaluate import Ask, Evaluator, Given

    evaluator = Evaluator()
    for one in evaluator.each(paths, {"hold": load_strategy("hold")}, Given(palette=palette), ask=Ask(why=True)):
        print(one.path, one.problem or one.results)

A result is known by (recording stamp, strategy, palette, course, truth), so nothing has to be declared stale by hand: ask
again, and what has not changed is answered from memory. ``executor``: any ``concurrent.futures.Executor``. A cluster that
is already there serves as ``distributed.Client(...).get_executor()``; its workers must see the recordings under the same
paths. A run that fails is that run's ``problem``; the others go on.
"""

from telemetry.replay.case import EVERYTHING, READINGS_ONLY, Ask, Case, Given
from telemetry.replay.evaluate.evaluator import Evaluated, Evaluator
from telemetry.replay.evaluate.pool import one_a_core
from telemetry.replay.evaluate.work import loaded

__all__ = ["EVERYTHING", "READINGS_ONLY", "Ask", "Case", "Evaluated", "Evaluator", "Given", "loaded", "one_a_core"]
