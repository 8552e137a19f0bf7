"""Several files, each by itself: what fails is one line at the end and the exit code; the rest stands."""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Callable, Iterable
from pathlib import Path

from telemetry.errors import EXIT_INPUT, EXIT_OK, SidelongError, UsageError, as_sentence


def one_by_one(paths: Iterable[Path], does: Callable[[Path], None]) -> int:
    """Do it to each. A single file's error is raised; of several those that failed are told, and the code is EXIT_INPUT.

    A UsageError is about the command's words and ends it.
    """
    from telemetry.report.progress import clear_progress, progress_line

    paths = list(paths)
    failed: list[SidelongError] = []
    tell = progress_line("read", len(paths))
    for number, path in enumerate(paths):
        clear_progress()  # what does well says so in its place
        try:
            does(path)
        except UsageError:
            raise
        except SidelongError as error:
            if len(paths) == 1:
                raise
            failed.append(error.alone())
            tell(number)
    clear_progress()
    return told(failed)


def told(failed: Iterable[SidelongError]) -> int:
    """Say each in one line; EXIT_INPUT where there are any."""
    code = EXIT_OK
    for error in failed:
        print(f"sidelong: {as_sentence(error)}", file=sys.stderr)
        code = EXIT_INPUT
    return code


def not_compared(problems: Iterable[SidelongError | None]) -> int:
    """Say why runs were not compared, a fault in a strategy of one's own, the same on every run, once; EXIT_INPUT."""
    for problem, runs in Counter(str(problem) for problem in problems).items():
        on = f" ({runs} runs)" if runs > 1 else ""
        print(f"sidelong: not compared{on}: {as_sentence(problem)}", file=sys.stderr)
    return EXIT_INPUT
