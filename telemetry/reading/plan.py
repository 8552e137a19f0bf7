"""From a strategy, a course and a palette to chains of stages ready to step."""

from __future__ import annotations

import copy
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from telemetry.course import NONE, Course, LegStart
from telemetry.errors import StrategyError
from telemetry.findings import Finding
from telemetry.palette import Palette
from telemetry.reading.catalogue import AUTO, STAGES
from telemetry.reading.chain import Chain
from telemetry.reading.channel import RAW, channel_taken, told_apart
from telemetry.reading.compiled import CompiledLoop, Traces
from telemetry.reading.flat import owners
from telemetry.reading.layout import Layout, SlotTables
from telemetry.reading.needs import NEEDS, Has, channels_of
from telemetry.reading.own import make_own
from telemetry.reading.portable.ledger import Ledger
from telemetry.reading.portable.stopping import StopAt
from telemetry.reading.portable.track import Track
from telemetry.reading.strategy import Strategy, Use, did_you_mean
from telemetry.reading.switch import WHEN_IT_PAYS, Switch
from telemetry.sample import MISSING, Note, QuantizedColumns

MOST_COLOURS = 29
MOST_REMEMBERED = 100
Recipe = list[tuple[str, Callable[..., Any], tuple[Any, ...]]]
"""For each stage of a chain: its name, what makes it, with which arguments."""


@dataclass
class Plan:
    """A strategy made ready for one course, palette and kind of run.

    ``names``: index -> colour, 0 is ``none``. ``notes``: the texts that matter -> their numbers. ``settings``: for each
    stage of a chain (as in ``chains[k].names``) its settings in whole numbers, empty for track and ledger.
    """

    strategy: Strategy
    course: Course
    names: tuple[str, ...]
    notes: Mapping[str, int]
    needs: frozenset[str]
    settings: tuple[Mapping[str, int], ...]
    steers: bool
    recipes: list[Recipe]
    layouts: tuple[Layout, ...]
    switch: Switch = WHEN_IT_PAYS
    """When samples go through the written-out loop; gives the same either way."""
    chose: Finding | None = None
    """Which channel the stage ``auto`` reads by; None where it had no choice."""
    chains: list[Chain] = field(init=False)
    _lacking: dict[frozenset[str], tuple[str, str]] = field(init=False, repr=False, compare=False, default_factory=dict)
    """What finished runs that have this were told to lack: most runs of a kind have the same."""

    def __post_init__(self) -> None:
        # Copied in one go: tables that stages share stay shared, and no two plans share any.
        tables: dict[int, Any] = {}
        recipes = [[_copied(args, tables) for _, _, args in recipe] for recipe in self.recipes]
        ledgers: list[Any] = []
        self.chains = []
        for sensor, (recipe, arguments) in enumerate(zip(self.recipes, recipes, strict=True)):
            stages = []
            for (_, make, _), args in zip(recipe, arguments, strict=True):
                if make is Ledger:
                    if not ledgers:
                        ledgers.append(make(*args))  # type: ignore[no-untyped-call]
                    stages.append(ledgers[0])
                else:
                    stages.append(make(*args))
            self.chains.append(Chain(sensor, stages, [name for name, _, _ in recipe]))
        self.reset()

    def fresh(self) -> Plan:
        """Another one like it, with nothing read yet and nothing shared."""
        return Plan(
            self.strategy, self.course, self.names, self.notes, self.needs, self.settings, self.steers,
            self.recipes, self.layouts, self.switch, self.chose,
        )

    def reset(self) -> None:
        """Back to before the first sample."""
        for chain in self.chains:
            chain.reset()

    def standing(self) -> list[tuple[Any, dict[str, Any]]]:
        """All state as it is now, for ``stand_as``."""
        return [
            (owner, {name: list(value) if isinstance(value, list) else value for name, value in vars(owner).items()})
            for owner in owners(self.chains)
        ]

    def stand_as(self, standing: list[tuple[Any, dict[str, Any]]]) -> None:
        """Back to a state that ``standing`` gave."""
        for owner, state in standing:
            for name, value in state.items():
                # Lists are shared between stages: their contents are put back, never another list.
                if isinstance(value, list):
                    getattr(owner, name)[:] = value
                else:
                    setattr(owner, name, value)

    def lacks(self, has: Iterable[str], *, going: bool = False) -> str:
        """One sentence on what this strategy needs and the run does not have; empty where nothing is lacking.

        ``has``: see needs.run_has. Of a run that is still ``going`` a note or a stop is not missed yet: it may still come.
        """
        return self.lacking(has, going=going)[1]

    def lacking(self, has: Iterable[str], *, going: bool = False) -> tuple[str, str]:
        """As ``lacks``, with the need before it (see needs.NEEDS), by which what to do about it is known."""
        have = frozenset(has)
        if going:
            return self._lacks(have, going=True)
        if have not in self._lacking:
            if len(self._lacking) >= MOST_REMEMBERED:
                self._lacking.clear()
            self._lacking[have] = self._lacks(have, going=False)
        return self._lacking[have]

    def _lacks(self, have: frozenset[str], *, going: bool) -> tuple[str, str]:
        title = self.strategy.name
        for layout in self.layouts:
            sensor = self.course.sensors[layout.sensor].name
            need, words = _lacks(layout, self.needs, have)
            if words:
                beside = f" on sensor {sensor}" if sensor and len(self.layouts) > 1 else ""
                return need, f"{title} needs {words}{beside}"
        if going:
            return "", ""
        markers = sum(len(layout.mine) for layout in self.layouts)
        if "stop" in self.needs and f"stop:{markers}" not in have:
            stops = sum(1 for word in have if word.startswith("stop:"))
            stood = f"stood still {stops} times" if stops > 1 else "stood still once" if stops else "never stood still"
            return "stop", f"{title} needs a stop at each of {markers} markers, and the robot {stood} on this run"
        if self.needs & {"note", "legs"}:
            for text in self.notes:
                if f"note:{text}" not in have:
                    return "note", f"{title} needs the note '{text}', which this run does not have"
        return "", ""

    def stop_mm10(self, sensor: int, slot: int | None) -> int | None:
        """Where along the leg (0.1 mm) a robot that stops at colours would have stood when it read ``slot``.

        ``slot`` None: where it would stand at the last colour at which it would stop. None: nowhere, or it is not known.
        """
        chain = self.chains[sensor]
        for stage in chain.stages if self.steers else ():
            if isinstance(stage, StopAt):
                stop = int(chain.moment.stop if slot is None else stage.stops[slot])
                return None if stop == MISSING else stop
        return None

    def note_rows(self, notes: Iterable[Note], taken: Mapping[int, int] | None = None) -> dict[int, int]:
        """Row -> the number of its note, for ``run``; of two on one row the second goes to the next row."""
        rows = dict(taken or {})
        for note in notes:
            number = self.notes.get(note.text.strip())
            if number is not None:
                row = note.row
                while row in rows:
                    row += 1
                rows[row] = number
        return rows

    def run(
        self, wholes: Sequence[QuantizedColumns], notes: Mapping[int, int], start: int, stop: int, ahead: int = 0,
        *, traces: list[Traces] | None = None,
    ) -> list[tuple[int, int, int]]:  # fmt: skip
        """Step all sensors through the rows ``start`` to ``stop``; ``wholes``: one a sensor. Gives (row, sensor, event).

        ``ahead``: how many rows the calls that follow at once will bring, see Switch. ``traces``: where machine code, which
        can do so in passing, leaves what each stage said (CompiledLoop.traced).
        """
        loop = self.switch.loop(self.chains, stop - start, ahead)
        if isinstance(loop, CompiledLoop) and traces is not None:
            events, seen = loop.traced(self.chains, wholes, notes, start, stop)
            traces.append(seen)
            return events
        if loop is not None:
            return loop.run(self.chains, wholes, notes, start, stop)
        if len(self.chains) == 1:
            return [(row, 0, event) for row, event in self.chains[0].run(wholes[0], notes, start, stop)]
        events = []
        for row in range(start, stop):
            for chain, whole in zip(self.chains, wholes, strict=True):
                events += [(row, chain.sensor, event) for row, event in chain.run(whole, notes, row, row + 1)]
        return events

    def finish(self) -> list[tuple[int, int]]:
        """The end of the run: (sensor, event) of what was held back (of all sensors first), then of what follows from it."""
        events = []
        for phase, chain in ((phase, chain) for phase in (1, 2) for chain in self.chains):
            zeros = 0
            while zeros < 2:
                event = chain.end(phase)
                zeros = 0 if event else zeros + 1
                if event:
                    events.append((chain.sensor, event))
        return events


def _copied(value: Any, known: dict[int, Any]) -> Any:
    """As ``copy.deepcopy`` with this memory, but fast for what stages are made of: whole numbers, tables and tuples."""
    if type(value) is int:
        return value
    if type(value) is tuple:
        return tuple([_copied(one, known) for one in value])
    if type(value) is list and all(type(one) is int for one in value):
        if id(value) not in known:
            known[id(value)] = list(value)
        return known[id(value)]
    return copy.deepcopy(value, known)


def colour_names(course: Course, palette: Palette, stream_colours: Iterable[str]) -> tuple[str, ...]:
    """``none``, then the course's colours, the palette's and the stream's; at most 29 of them."""
    palette_names = (colour.name for colour in palette.colours)
    names = tuple(dict.fromkeys((NONE, *course.colours, *palette_names, *stream_colours)))
    if len(names) > MOST_COLOURS + 1:
        raise StrategyError(
            f"course, palette and stream name {len(names) - 1} colours; {MOST_COLOURS} are the most that can be told apart",
            where=f"course '{course.name}'", todo="Give the same colour the same name everywhere, or use a smaller palette.",
        )
    return names


def make_plan(
    strategy: Strategy,
    course: Course,
    palette: Palette,
    columns: Iterable[str],
    stream_colours: Iterable[str] = (),
    *,
    switch: Switch = WHEN_IT_PAYS,
) -> Plan:
    """Make a strategy ready. ``columns``: the names of the run's columns that hold anything (``colour.side``, ``dist``...).

    Raises StrategyError where the strategy cannot be built for this course; what merely the run lacks, ``Plan.lacks`` says.
    """
    strategy.checked()
    columns = tuple(columns)
    names = colour_names(course, palette, stream_colours)
    notes = _numbered_notes(strategy, course)
    board = SlotTables.of(course, names)
    layouts = tuple(
        Layout(course, palette, names, number, channels_of(columns, sensor.name), notes, board)
        for number, sensor in enumerate(course.sensors)
    )
    stages = [_resolved(use, layouts[0]) for use in strategy.uses]
    settings = [_whole_settings(use, names, notes, strategy.name) for use in stages]
    needs = frozenset().union(*(STAGES[use.stage].needs for use in stages)) | ({"label"} if strategy.own else set())
    needs |= _needed_by_settings(stages, settings)
    recipes: list[Recipe] = []
    for layout in layouts:
        ahead = round(course.sensors[layout.sensor].ahead_cm * 100)
        recipe: Recipe = [("track", Track, (*layout.legs(), ahead, [*layout.mine, -1], board.board))]
        for use, values in zip(stages, settings, strict=True):
            recipe.append((use.stage, STAGES[use.stage].cls, STAGES[use.stage].make(layout, values)))
        if strategy.own is not None:
            recipe.append((strategy.name, make_own(strategy, names, notes, len(course.slots)), ()))
        recipe.append(("ledger", Ledger, (board.board, board.taken, board.tally, board.start, board.group, board.counts)))
        recipes.append(recipe)
    middle = [*settings, *([{}] if strategy.own is not None else [])]
    return Plan(
        strategy=strategy, course=course, names=names, notes=notes, needs=needs, settings=({}, *middle, {}),
        steers=any(STAGES[use.stage].steers for use in stages), recipes=recipes, layouts=layouts,
        switch=switch, chose=_chose(strategy, layouts[0]),
    )


def _lacks(layout: Layout, needs: frozenset[str], have: Has) -> tuple[str, str]:
    present = layout.channels & channels_of(have, layout.course.sensors[layout.sensor].name)
    seen = Layout(layout.course, layout.palette, layout.names, layout.sensor, present, layout.notes, layout.board)
    need, words = next(((need, words) for need in sorted(needs) if (words := NEEDS[need](seen))), ("", ""))
    # Stages that go by places need a distance, too: which of the two is lacking, the words tell.
    return ("dist" if need == "places" and words == NEEDS["dist"](seen) else need), words


def _needed_by_settings(stages: Sequence[Use], settings: Sequence[Mapping[str, int]]) -> frozenset[str]:
    """What a stage needs only because of how it is set: the note that it names, the legs where it names one."""
    needs = set()
    for use, values in zip(stages, settings, strict=True):
        for setting in STAGES[use.stage].settings:
            if values[setting.name] and setting.unit == "note":
                needs.add("note")
            elif values[setting.name] and setting.name in {"leg", "passed"}:
                needs.add("legs")
    return frozenset(needs)


def _resolved(use: Use, layout: Layout) -> Use:
    if use.stage != AUTO:
        return use
    raw = layout.channels.issuperset(RAW)
    if raw and "colour" in layout.channels:
        apart = told_apart(layout.palette, layout.course.colours)
        raw = apart is not None and apart.raw_is_better
    return Use("nearest", use.settings) if raw else Use("code")


def _chose(strategy: Strategy, layout: Layout) -> Finding | None:
    if not any(use.stage == AUTO for use in strategy.uses):
        return None
    return channel_taken(layout.palette, layout.course.colours, layout.channels)


def _numbered_notes(strategy: Strategy, course: Course) -> dict[str, int]:
    texts = [leg.starts_note for leg in course.legs if leg.starts is LegStart.NOTE]
    for use in strategy.uses:
        stage = STAGES.get(use.stage)
        for key, value in use.settings.items():
            setting = stage.setting(key) if stage else None
            if setting and setting.unit == "note":
                texts.append(str(value).strip())
    texts += getattr(strategy.own, "notes", ())
    return {text: number for number, text in enumerate(dict.fromkeys(texts), start=1)}


def _whole_settings(use: Use, names: tuple[str, ...], notes: Mapping[str, int], strategy: str) -> dict[str, int]:
    values = {}
    where = f"strategy '{strategy}', stage {use.stage}"
    for setting in STAGES[use.stage].settings:
        value = use.settings.get(setting.name, setting.default)
        if not isinstance(value, str):
            values[setting.name] = value
        elif setting.unit == "note":
            values[setting.name] = notes[value.strip()]
        elif setting.unit == "colour":
            values[setting.name] = _colour(value.strip(), names, where)
        else:
            words = {word.strip() for word in value.split(",")} - {""}
            values[setting.name] = sum(1 << _colour(word, names, where) for word in words)
    return values


def _colour(name: str, names: tuple[str, ...], where: str) -> int:
    if name not in names or name == NONE:
        raise StrategyError(f"neither course nor palette nor stream has a colour '{name}'", where=where,
                            todo=did_you_mean(name, list(names[1:])))
    return names.index(name)
