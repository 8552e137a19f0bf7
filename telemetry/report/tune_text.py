"""What tune found, as a coach reads it: what to set, how far it may be off, what it costs and gains, and the map."""

from __future__ import annotations

from telemetry.report.table import TableColumn, printable, table, wrap
from telemetry.report.tune_map import map_of
from telemetry.tuning.space import Point
from telemetry.tuning.tune import SettingProfile, Trial, Tuning

SHOWN_RUNS = 6
MAP_ACROSS = 18


def tune_lines(found: Tuning) -> list[str]:
    """The whole page."""
    runs, now = len(found.judged), found.now
    kind = "simulated runs" if found.simulated else "runs"
    how = "searched" if found.searched else "tried"
    head = f"{runs} {kind if runs != 1 else kind[:-1]}, strategy {found.strategy.name}: {found.tried:,} settings {how}."
    lines = [*wrap(printable(head)), "", *headline(found)]
    rows = [
        [word, settings_in_words(one.settings), f"{one.correct} of {runs}", _left(one.left_out, runs), *_rest(one)]
        for word, one in (("today", now), (other_word(found), found.best))
    ]
    columns = [
        TableColumn(""),
        TableColumn("settings"),
        TableColumn("right", right=True),
        TableColumn("left out", right=True),
    ]
    columns += [TableColumn("decided", right=True)] + (
        [TableColumn("altered", right=True)] if now.altered is not None else []
    )
    if not found.recommended.correct:
        return [*lines, *_apart(found)]  # where nothing is right, there is nothing to be near to
    lines += ["", *table(columns, rows)]
    lines += explained(found)
    lines += _gains(found)
    lines += ["", "How far each may be off, the others as recommended:"]
    span = [
        [name, str(found.recommended.settings[name]), f"{low} to {high}", room_words(found, name)]
        for name, (low, high) in found.works.items()
    ]
    heads = [
        TableColumn("setting"),
        TableColumn("value", right=True),
        TableColumn("works from to", right=True),
        TableColumn(""),
    ]
    lines += table(heads, span, "  ")
    lines += ["", "Runs right when one setting alone is moved from today's (value: runs):"]
    for line in found.lines:
        lines += _sensitivity(line)
    return [*lines, *_map(found), *_apart(found)]


def _apart(found: Tuning) -> list[str]:
    """Runs that were not judged, and why the first one was not."""
    if not found.apart:
        return []
    return ["", *wrap(printable(f"{len(found.apart)} not judged: {found.apart[0][0]}: {found.apart[0][1]}"))]


def other_word(found: Tuning) -> str:
    """What stands beside today's settings."""
    return "recommended" if found.gains.any or found.recommended == found.best else "best other"


def settings_in_words(place: Point) -> str:
    """'hold.samples=2 once.gap=1'."""
    return " ".join(f"{name}={value}" for name, value in place.items())


def headline(found: Tuning) -> list[str]:
    """What to set, and what it gains."""
    runs, now, then = len(found.judged), found.now, found.recommended
    if then.correct == 0:
        return wrap(
            "No setting reads a run right. It is not the settings: 'sidelong compare' says whether logic or sensor fails, "
            "and which other strategy reads them."
        )
    if dict(now.settings) == dict(then.settings):
        return wrap(f"Keep today's settings: {now.correct} of {runs} right, {_no_better(found)}.")
    change = {name: value for name, value in then.settings.items() if now.settings[name] != value}
    text = f"Set {settings_in_words(change)}: {then.correct} of {runs} right (today {now.correct})"
    won = [words for words, is_so in (
        ("more runs right", found.gains.runs), ("more altered copies right, so more margin", found.gains.margin),
        ("more room around each setting", found.gains.room), ("read earlier", found.gains.earlier),
    ) if is_so]  # fmt: skip
    return wrap(f"{text}. What is gained: {', '.join(won)}." if won else f"{text}.")


def _no_better(found: Tuning) -> str:
    """Why today's settings are kept."""
    now, best = found.now, found.best
    if dict(now.settings) == dict(best.settings):
        return "and none of those tried is better placed"
    runs = len(found.judged)
    copies = ""
    if best.altered is not None:
        copies = f", altered {100 * best.altered:.0f} % against {100 * (now.altered or 0.0):.0f} %"
    return (
        f"and no other gains more than chance. The best placed, {settings_in_words(best.settings)}: "
        f"{best.correct} of {runs} right{copies}"
    )


def explained(found: Tuning) -> list[str]:
    """What the figures mean, and what is to be expected of runs not seen yet."""
    lines = []
    if found.folds is None:
        lines += wrap("left out: one run alone cannot be left out and judged; record a second one.")
    else:
        word, count = found.folds
        lines += wrap(
            f"left out: of the runs judged by settings chosen without their {word} ({count} {word}s in turn), those right. "
            "It is what to expect of runs not seen yet."
        )
    if found.now.altered is not None:
        lines += wrap("altered: of altered copies (a little faster, higher, dimmer, noisier: not recorded), those right.")
    best = int(found.map.max()) if found.map is not None else found.recommended.correct
    if best > found.recommended.correct:
        lines += wrap(
            f"One spot of the map reads {best} right, but its neighbours do not: that is within chance of "
            f"{found.recommended.correct} and has no room, so it is not recommended."
        )
    return lines


def _gains(found: Tuning) -> list[str]:
    won = [name for name in found.recommended.right if name not in set(found.now.right)]
    lost = [name for name in found.now.right if name not in set(found.recommended.right)]
    lines = []
    for words, names in (("newly right", won), ("no longer right", lost)):
        if names:
            more = f" and {len(names) - SHOWN_RUNS} more" if len(names) > SHOWN_RUNS else ""
            lines += wrap(printable(f"{words}: {', '.join(names[:SHOWN_RUNS])}{more}"))
    first, then = found.now.decided_ms, found.recommended.decided_ms
    if first is not None and then is not None and abs(then - first) >= 10:
        lines += wrap(f"decided {abs(then - first)} ms {'later' if then > first else 'earlier'} in the median")
    return ["", *lines] if lines else []


def _rest(one: Trial) -> list[str]:
    decided = "-" if one.decided_ms is None else f"{one.decided_ms / 1000:.2f} s"
    return [decided] if one.altered is None else [decided, f"{100 * one.altered:.0f} %"]


def _left(left: int | None, runs: int) -> str:
    return "-" if left is None else f"{left} of {runs}"


def room_words(found: Tuning, name: str) -> str:
    """Whether a recommended setting has room; empty where it has some on both sides."""
    low, high = found.works[name]
    axis = next(axis for axis in found.axes if axis.name == name)
    if axis.is_switch:
        return ""
    if low == high:
        return "no room: one more or less reads fewer"
    ends = [word for word, end in (("below", axis.values[0] == low), ("above", axis.values[-1] == high)) if end]
    return f"not tried {' or '.join(ends)}" if ends else ""


def _sensitivity(line: SettingProfile) -> list[str]:
    if max(line.right) == min(line.right):
        return [f"  {line.axis.name}: no effect, {line.axis.values[0]} to {line.axis.values[-1]}"]
    pieces: list[str] = []
    start = 0
    for k in range(1, len(line.right) + 1):
        if k == len(line.right) or line.right[k] != line.right[start]:
            first, last = line.axis.values[start], line.axis.values[k - 1]
            pieces.append(f"{first}: {line.right[start]}" if first == last else f"{first} to {last}: {line.right[start]}")
            start = k
    return wrap(f"{line.axis.name} (today {line.axis.now}): {', '.join(pieces)}", "  ")


def _map(found: Tuning) -> list[str]:
    """Runs right over the two settings that tell most, the others as recommended."""
    shown = map_of(found, MAP_ACROSS)
    if shown is None:
        return []
    lines = ["", f"Runs right: {shown.down} downwards, {shown.across} to the right (* recommended, o today)"]
    width = max(4, *(len(str(value)) + 2 for value in shown.columns))
    lines.append(" " * 8 + "".join(f"{value:>{width}}" for value in shown.columns))
    for i, value in enumerate(shown.rows):
        cells = []
        for k in range(len(shown.columns)):
            marks = f"{'*' if (i, k) == shown.recommended else ''}{'o' if (i, k) == shown.today else ''}"
            cells.append(f"{marks}{shown.right[i][k]}".rjust(width))
        lines.append(f"{value:>8}" + "".join(cells))
    return lines
