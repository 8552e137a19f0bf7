"""Which recordings a command means, and which strategies."""

from __future__ import annotations

import glob
from collections.abc import Iterable, Sequence
from pathlib import Path

from telemetry.errors import RecordingError, SettingError, StrategyError, UsageError
from telemetry.reading.load import load_strategy
from telemetry.reading.strategies import STRATEGIES
from telemetry.reading.strategy import Strategy
from telemetry.recording.journal.records import SUFFIX
from telemetry.recording.names import recordings_below


def find_recordings(words: Iterable[str]) -> list[Path]:
    """The recordings that files, folders (with all below them) and patterns such as ``runs/*.h5`` name, each once.

    In a folder also runs whose capture has not ended yet. Raises RecordingError where a word names nothing.
    """
    found: list[Path] = []
    for word in words:
        path = Path(word)
        if path.is_dir():
            inside = recordings_below(path)
            if not inside:
                raise RecordingError("there is no recording in this folder", where=word, todo="A recording ends in .h5.")
            found += inside
        elif path.exists() or path.with_name(path.name + SUFFIX).exists():
            found.append(path)
        elif glob.has_magic(word):
            matches = sorted(Path(one) for one in glob.glob(word, recursive=True))  # noqa: PTH207 (takes absolute patterns)
            if not matches:
                raise RecordingError("no file is called like this", where=word, todo="Check the pattern.")
            found += matches
        else:
            todo = "Check the name; 'sidelong runs list FOLDER' lists the recordings of a folder."
            raise RecordingError("there is no such file or folder", where=word, todo=todo)
    return list(dict.fromkeys(found))


def chosen_strategies(
    specs: Sequence[str], settings: Sequence[str], *, settings_in_names: bool = False
) -> dict[str, Strategy]:
    """The strategies asked for, by the name each goes by; without any, all named ones.

    ``settings`` (``hold.samples=2``) go to every strategy that has the stage. ``settings_in_names``: a strategy that they
    change goes by ``hold:hold.samples=2``, as if it had been asked for so. Raises StrategyError or UsageError.
    """
    chosen: dict[str, Strategy] = {}
    used = dict.fromkeys(settings, False)
    for spec in specs or STRATEGIES:
        strategy = load_strategy(spec)
        name = strategy.name if Path(spec).suffix in {".toml", ".py"} else spec
        if name != spec and (name in STRATEGIES or name in chosen):
            name = Path(spec).stem  # a file made from a named strategy still carries that one's name
        stages = {use.stage for use in strategy.uses}
        mine = [word for word in settings if word.partition("=")[0].strip().rpartition(".")[0] in stages]
        used |= dict.fromkeys(mine, True)
        if name in chosen:
            raise UsageError(f"strategy '{name}' is named twice", todo="Name it once, or give the second another setting.")
        changed = _changed(strategy, mine)
        if settings_in_names and changed.uses != strategy.uses:
            name = f"{name}{',' if name == spec and '=' in spec else ':'}{','.join(mine)}"
        chosen[name] = changed
    unused = [word for word, known in used.items() if not known]
    if unused:
        # Let the first strategy say what is wrong with it.
        _changed(next(iter(chosen.values())), unused)
    return chosen


def _changed(strategy: Strategy, settings: Sequence[str]) -> Strategy:
    """With the settings of the command line. Raises SettingError."""
    try:
        return strategy.override(*settings)
    except StrategyError as error:
        raise SettingError(error.what, where=f"--set {error.where}", todo=error.todo) from error
