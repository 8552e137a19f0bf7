"""Sidelong for scripts: what is named here stays; everything below may change from version to version.

>>> import telemetry
>>> run = telemetry.load("recordings/practice-01.h5")
>>> run.course.name, run.table.rows, run.meta.simulated
('Orchard Row', 770, True)
>>> comparison = telemetry.compare(["recordings/practice-01.h5"], strategies=["hold", "windows"])
>>> [(result.strategy, result.outcome.value) for result in comparison.results]
[('hold', 'right'), ('windows', 'right')]
>>> sorted(telemetry.strategies())[:3]
['always-answer', 'checklist', 'enough']
>>> try:
...     telemetry.load("no-such-run.h5")
... except telemetry.errors.SidelongError as error:
...     print(error.exit_code)
3

Nothing is imported before it is asked for. Errors are those of ``telemetry.errors``, one tree under ``SidelongError``; each
says what is wrong, where, and what to do.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from os import PathLike
from pathlib import Path
from typing import TYPE_CHECKING

from telemetry import errors

if TYPE_CHECKING:
    from concurrent.futures import Executor

    from telemetry.reading.strategy import Strategy
    from telemetry.recording.follow import Follower
    from telemetry.recording.load import Recording
    from telemetry.replay.compare import Comparison

__all__ = ["compare", "errors", "follow", "load", "strategies"]


def load(path: str | PathLike[str]) -> Recording:
    """Read a recording.

    Parameters
    ----------
    path : str or path-like
        A recording (``.h5``), or the journal of one that is still captured, which is read as far as it is.

    Returns
    -------
    Recording
        ``table.columns`` maps each channel to an array of shape (rows,), in the units of ``telemetry.sample.QUANTITIES``
        (``t_us`` in us, ``dist`` in cm, ``refl`` in %, raw channels as sent); NaN, or -1 in whole numbers, where a value was
        not sent. ``meta`` holds the labels, ``course`` and ``truth`` what stood on the field, None where not known.

    Raises
    ------
    RecordingError
        No recording, damaged beyond its raw bytes, or made by a newer version.
    StorageError
        It cannot be read from where it is.
    CourseError, TruthError
        Its labels do not fit.
    """
    from telemetry.recording.load import load as load_recording

    return load_recording(Path(path))


def follow(path: str | PathLike[str]) -> Follower:
    """Follow a run while it is captured, or read it when it is over: the same samples.

    Parameters
    ----------
    path : str or path-like
        The recording that a capture writes (it need not exist yet, its journal must).

    Returns
    -------
    Follower
        ``poll()`` takes in what is new and says whether there was anything; ``table`` is that of ``load``; ``state`` is
        ``growing``, ``ended`` or ``abandoned``. Any number of followers may watch one capture; none disturbs it.

    Raises
    ------
    RecordingError, StorageError
        By ``poll()``: there is neither a recording nor a journal, or it cannot be read.
    """
    from telemetry.recording.follow import Follower as RunFollower

    return RunFollower(Path(path))


def compare(
    recordings: Sequence[str | PathLike[str]],
    *,
    strategies: Sequence[str] = (),
    settings: Sequence[str] = (),
    course: str = "",
    palette: str = "",
    truth: str = "",
    why: bool = True,
    executor: Executor | None = None,
    progress: Callable[[int], None] | None = None,
) -> Comparison:
    """Replay recordings through strategies, score the readings against what stood there, and say why some are wrong.

    Parameters
    ----------
    recordings : sequence of str or path-like
        Files, folders (with all below them) and patterns such as ``runs/*.h5``.
    strategies : sequence of str
        Names, strategy files (``.toml``) or a team's own logic (``.py``); without any, all named ones.
    settings : sequence of str
        Such as ``hold.samples=2``; each goes to every strategy that has the stage.
    course, palette : str
        Files that stand in for the recordings' own.
    truth : str
        What really stood there, for all alike, such as ``rust,leaf,sky``.
    why : bool
        Whether misread runs are explained; False is several times faster.
    executor : concurrent.futures.Executor, optional
        Does the work. Without one it is done on all cores of this computer where that pays.
    progress : callable, optional
        Told how many recordings are done.

    Returns
    -------
    Comparison
        ``results`` holds one ``Result`` a run and strategy (``outcome``, ``taken``, ``score``, ``findings``, ``why``),
        ``summaries`` one ``StrategySummary`` a strategy, with the 95 % interval of its rate (Wilson 1927); ``problems`` the
        recordings that could not be compared, each with its error.

    Raises
    ------
    UsageError, StrategyError, CourseError, PaletteError, TruthError
        What is asked for is wrong in itself. A recording that fails is listed in ``problems`` instead.
    """
    from telemetry.replay.compare import ComparisonRequest
    from telemetry.replay.compare import compare as compare_recordings
    from telemetry.replay.sources import find_recordings

    paths = find_recordings([str(Path(one)) for one in recordings])
    job = ComparisonRequest(tuple(strategies), tuple(settings), course, truth, palette, reasons=why)
    return compare_recordings(paths, job, progress=progress, executor=executor)


def strategies() -> Mapping[str, Strategy]:
    """The named strategies.

    Returns
    -------
    Mapping
        Name -> ``Strategy``: its ``title``, ``what`` it does in one sentence, and ``uses``, its stages with their settings.
    """
    from telemetry.reading.strategies import STRATEGIES

    return STRATEGIES
