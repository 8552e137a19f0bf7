"""Guided captures: say what to hold the sensor over, take samples, show the spread, ask again when it moved."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from telemetry.calibrate.capture import StillCapture, still_capture
from telemetry.errors import PaletteError
from telemetry.sample import SampleTable
from telemetry.sources.link_change import LinkChange
from telemetry.sources.source import EndOfStream, Source
from telemetry.stream.decoder import Decoder
from telemetry.wording import counted, figures

ATTEMPTS = 4


@dataclass(frozen=True, slots=True)
class CaptureStep:
    """One capture to be taken."""

    colour: str
    height_mm: float | None = None
    light: str = ""

    @property
    def words(self) -> str:
        """What to do, for the user."""
        what = "the empty field (none)" if self.colour == "none" else self.colour
        height = f", {self.height_mm:g} mm above it" if self.height_mm is not None else ""
        light = f", in this light: {self.light}" if self.light else ""
        return f"Hold the sensor still over {what}{height}{light}."


def steps_for(colours: Sequence[str], heights_mm: Sequence[float] = (), lights: Sequence[str] = ()) -> list[CaptureStep]:
    """All captures, one light and height after the other, so that the hand moves least."""
    places: Sequence[float | None] = heights_mm or [None]
    return [CaptureStep(colour, height, light) for light in lights or [""] for height in places for colour in colours]


class Taker:
    """Takes captures from a source that stays open between them. ``clock_s``: monotonic."""

    def __init__(
        self, source: Source, clock_s: Callable[[], float], seconds: float = 2.0, columns: str | None = None
    ) -> None:
        self._source = source
        self._clock_s = clock_s
        self._seconds = seconds
        self._decoder = Decoder(columns)

    def take(self, step: CaptureStep) -> StillCapture:
        """What comes within the next seconds; what had come before is let go. Raises PaletteError, LinkError."""
        self._drain()
        table = SampleTable()
        until = self._clock_s() + self._seconds
        ended = False
        while self._clock_s() < until and not ended:
            ended = self._read(table)
        return still_capture(step.colour, table, height_mm=step.height_mm, light=step.light, where=self._source.where)

    def _drain(self) -> None:
        """Lines that waited while the user moved the sensor are decoded (a header may be among them) but not kept."""
        for _ in range(1000):
            try:
                data = self._source.read(0.0)
            except (EndOfStream, LinkChange):
                return
            if not data:
                return
            self._decoder.feed(data, 0)

    def _read(self, table: SampleTable) -> bool:
        try:
            data = self._source.read(0.2)
        except EndOfStream:
            return True
        except LinkChange:
            return False
        for chunk in self._decoder.feed(data, 0):
            table.append(chunk)
        return False


def guided(
    steps: Sequence[CaptureStep],
    take: Callable[[CaptureStep], StillCapture],
    ask: Callable[[str], str],
    say: Callable[[str], None],
) -> Iterator[StillCapture]:
    """Walk through ``steps``; ``ask`` shows a text and waits for Enter (s: leave the colour out, k: keep a doubtful one)."""
    for number, step in enumerate(steps, start=1):
        for attempt in range(ATTEMPTS):
            answer = ask(f"{number}/{len(steps)}  {step.words} Then press Enter (s: leave it out). ").strip().lower()
            if answer == "s":
                break
            try:
                capture = take(step)
            except PaletteError as error:
                say(f"  {error}")
                continue
            say(f"  {spread_words(capture)}")
            if not capture.doubts:
                yield capture
                break
            for doubt in capture.doubts:
                say(f"  Again, please: {doubt}.")
            last = attempt == ATTEMPTS - 1
            if last and ask("  Keep it all the same? Type k and Enter to keep it. ").strip().lower() == "k":
                yield capture


def spread_words(capture: StillCapture) -> str:
    """The capture in one line: level and spread of each channel, the most frequent code."""
    parts = [
        f"{name} {figures(mean, 4)} ± {figures(spread, 2)}"
        for name, mean, spread in zip(("red", "green", "blue", "refl"), capture.mean, capture.spread, strict=True)
        if mean == mean  # noqa: PLR0124 (NaN: not sent)
    ]
    if capture.codes:
        code = max(capture.codes, key=lambda name: capture.codes[name])
        parts.append(f"code {code} {100 * capture.codes[code]:.0f} %")
    return f"{counted(capture.samples, 'sample')}: " + ", ".join(parts)
