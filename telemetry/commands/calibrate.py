"""``sidelong calibrate``: learn what each colour looks like to this sensor, and say what that is good for."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from telemetry.errors import EXIT_DIFFERS, EXIT_OK, PaletteError, UsageError

if TYPE_CHECKING:
    from telemetry.calibrate.capture import StillCapture
    from telemetry.calibrate.outlook import ColourPair
    from telemetry.palette import Palette


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.formatter_class = argparse.RawDescriptionHelpFormatter
    parser.epilog = (
        "examples:\n"
        "  sidelong calibrate none=none.txt red=red.txt yellow=yellow.txt -o palette.toml\n"
        "  sidelong calibrate none@8=n8.txt red@8=r8.txt none@12=n12.txt red@12=r12.txt -o palette.toml\n"
        "  sidelong calibrate --from /dev/ttyUSB0 --colours none,red,yellow --heights 8,12 -o palette.toml\n\n"
        "The exit code is 0 when all was held still, 1 when a palette was written but some colour should be captured again."
    )
    parser.add_argument(
        "captures", nargs="*", metavar="COLOUR[@MM]=FILE",
        help="a text stream or recording of the sensor held still over a colour; @MM: how high; 'none': the empty field",
    )  # fmt: skip
    parser.add_argument("-o", "--output", type=Path, required=True, metavar="FILE", help="the palette to write (TOML)")
    parser.add_argument("--name", default="", help="what to call the palette (default: the file's name)")
    parser.add_argument(
        "--columns", metavar="NAMES", help='columns of a text without a header, such as "t/ms,red,green,blue"'
    )
    parser.add_argument("--sensor", default="", metavar="NAME", help="which sensor, where the robot has several")
    parser.add_argument(
        "--width", type=float, default=3.0, metavar="CM", help="of a marker, to say how many samples it yields (default: 3)"
    )
    guided = parser.add_argument_group("guided, with the robot connected")
    guided.add_argument("--from", dest="source", metavar="SOURCE", help="a port, ble:NAME or any other source of lines")
    guided.add_argument("--colours", default="", metavar="LIST", help="the colours to take, such as none,red,yellow")
    guided.add_argument("--heights", default="", metavar="MM,...", help="take every colour at these heights")
    guided.add_argument(
        "--lights", default="", metavar="LIST", help="take every colour in these lights, such as lamp,daylight"
    )
    guided.add_argument("--seconds", type=float, default=2.0, metavar="S", help="how long each capture lasts (default: 2)")


def run(args: argparse.Namespace) -> int:
    from telemetry.beside import refuse_recording, set_aside
    from telemetry.calibrate.build import build_palette
    from telemetry.calibrate.outlook import called_alike
    from telemetry.palette_file import write_palette
    from telemetry.report.table import show

    refuse_recording(args.output)
    captures = file_captures(args.captures, args.columns, args.sensor)
    if args.source:
        captures += _guided(args)
    elif not captures:
        raise UsageError(
            "there is nothing to learn from", todo="Give none=FILE red=FILE ..., or --from SOURCE --colours none,red."
        )
    made = f"from {len(captures)} still captures of {len({capture.colour for capture in captures})} colours"
    palette = build_palette(captures, args.name or args.output.stem, made)
    gone = _no_longer(args.output, palette)
    before = set_aside(args.output)  # a palette measured an hour ago, or another file that was named by mistake
    write_palette(palette, args.output)
    show(outlook_lines(palette, captures, args.width))
    if before is not None:
        print(f"\nWhat was in {args.output} before is kept as {before}.{gone}")
    again = dict.fromkeys(capture.colour for capture in captures if capture.doubts)
    again |= dict.fromkeys(colour for pair in called_alike(palette) for colour in pair)
    if again:
        print(f"\nPalette written to {args.output}. Before you use it, capture again: {', '.join(again)} (see the notes).")
        return EXIT_DIFFERS
    print(f"\nPalette written to {args.output}. Use it: sidelong compare RUNS --palette {args.output}")
    return EXIT_OK


def _no_longer(path: Path, palette: Palette) -> str:
    """Which colours the palette in ``path`` knows and the new one does not, as a sentence; empty where there are none."""
    from telemetry.palette_file import read_palette

    try:
        lost = [name for name in read_palette(path).names if palette.get(name) is None] if path.is_file() else []
    except PaletteError:
        return ""
    return f" It also knew {', '.join(lost)}, which the new one does not." if lost else ""


def file_captures(words: Sequence[str], columns: str | None, sensor: str) -> list[StillCapture]:
    """``COLOUR[@MM]=FILE`` each. Raises UsageError, PaletteError."""
    from telemetry.calibrate.capture import same_samples, still_capture
    from telemetry.calibrate.files import table_of
    from telemetry.course.values import may_be_colour

    out: list[StillCapture] = []
    for word in words:
        left, equals, file = word.partition("=")
        colour, at, height = left.strip().partition("@")
        if not equals or not colour or not file:
            raise UsageError(
                f"'{word}' is not COLOUR=FILE", todo="Write it like red=red.txt, or red@8=red.txt with its height in mm."
            )
        if not may_be_colour(colour):
            todo = "Use a word without , = * # ! and quotes, as in a course."
            raise UsageError(f"a colour cannot be called '{colour}'", where=word, todo=todo)
        height_mm = None
        if at:
            try:
                height_mm = float(height)
            except ValueError as error:
                raise UsageError(
                    f"'{height}' is not a height in mm", where=word, todo="Write it like red@8=red.txt."
                ) from error
            if not 0.0 < height_mm < 1000.0:
                raise UsageError(f"a height of {height} mm cannot be", where=word)
        if any((one.colour, one.height_mm) == (colour, height_mm) for one in out):
            todo = "Give each colour once; at several heights as red@8=FILE red@12=FILE."
            raise UsageError(f"'{left.strip()}' is given twice", where=word, todo=todo)
        table = table_of(Path(file), columns)
        out.append(still_capture(colour, table, sensor=sensor, height_mm=height_mm, where=file))
    twice = same_samples(out)
    if twice is not None:
        one, other = twice
        what = f"{one.colour} and {other.colour} were given the same samples"
        raise PaletteError(what, where=f"{one.where}, {other.where}", todo="Give each colour a capture of its own.")
    return out


def _guided(args: argparse.Namespace) -> list[StillCapture]:
    import time

    from telemetry.calibrate.guided import Taker, guided, steps_for
    from telemetry.sources import open_source

    colours = [word.strip() for word in args.colours.split(",") if word.strip()]
    if not colours:
        raise UsageError("--from needs --colours", todo="Name what to hold the sensor over: --colours none,red,yellow.")
    try:
        heights = [float(word) for word in args.heights.split(",") if word.strip()]
    except ValueError as error:
        raise UsageError(f"'{args.heights}' is not a list of heights in mm", todo="Write it like --heights 8,12.") from error
    lights = [word.strip() for word in args.lights.split(",") if word.strip()]
    if args.source.startswith("robot:"):
        todo = "Take a text of each colour: sidelong robot --still none --link stdout > none.txt; then none=none.txt here."
        raise UsageError("the built-in robot drives, and cannot be held over a colour", where=args.source, todo=todo)
    source = open_source(args.source)
    source.open()
    try:
        taker = Taker(source, time.monotonic, args.seconds, args.columns)
        return list(guided(steps_for(colours, heights, lights), taker.take, _ask, print))
    finally:
        source.close()


def _ask(text: str) -> str:
    try:
        return input(text)
    except EOFError:
        return "s"


def outlook_lines(palette: Palette, captures: Sequence[StillCapture], width_cm: float) -> list[str]:
    """What was captured, and what it is good for, as lines of text."""
    from telemetry.calibrate.guided import spread_words
    from telemetry.calibrate.outlook import alike, called_alike, fall_off, samples_over, stop_point
    from telemetry.report.table import wrap

    lines = ["Captured:"]
    for capture in captures:
        height = f" at {capture.height_mm:g} mm" if capture.height_mm is not None else ""
        lines += wrap(f"{capture.colour}{height}: {spread_words(capture)}", indent="  ")
    lines += [line for remark in palette.remarks for line in wrap(f"Note: {remark}.", indent="  ")]
    for first, second in called_alike(palette):
        words = f"the sensor calls {first} '{second}' and {second} '{first}'"
        lines += wrap(f"Note: {words}: are the two files swapped?", indent="  ")
    for sentence in alike(palette, {capture.colour for capture in captures if capture.doubts}):
        lines += wrap(f"Note: {sentence}.", indent="  ")
    lines += _pair_lines(palette, captures)
    if any(colour.codes for colour in palette.colours):
        lines += ["", *_code_lines(palette)]
    power = fall_off(palette)
    if power is not None:
        lines += ["", *wrap(f"The signal falls with height to the power {power:.1f}.", "  ")]
    if palette.rate_hz > 0:
        lines += ["", f"At {palette.rate_hz:.0f} samples/s a marker {width_cm:g} cm wide yields:"]
        for speed_cm_s in (10.0, 25.0, 50.0, 90.0):
            stop, spread = stop_point(speed_cm_s, palette.rate_hz, 10.0, 30.0, 1.0)
            count = samples_over(width_cm, speed_cm_s, palette.rate_hz)
            about = f" +-{spread:.1f}" if spread >= 0.05 else ""
            lines += wrap(
                f"{speed_cm_s:g} cm/s: {count:.1f} samples; a stop at its first"
                f" sample (loop 10 ms, motors 30 ms) begins {stop:.1f}{about} cm behind its edge",
                "  ",
            )  # fmt: skip
    return lines


def _pair_lines(palette: Palette, captures: Sequence[StillCapture]) -> list[str]:
    from telemetry.calibrate.outlook import pairs
    from telemetry.report.table import TableColumn, table

    found = pairs(palette, captures)
    if not found:
        return []
    heads = (
        TableColumn("pair"), TableColumn("deviations apart", True), TableColumn("CIEDE2000", True),
        TableColumn("by levels", True), TableColumn("by codes", True), TableColumn("samples", True), TableColumn("in words"),
    )  # fmt: skip
    rows = [
        (
            f"{pair.first} / {pair.second}", "-" if pair.by_raw is None else f"{pair.mahalanobis:.1f}",
            "-" if pair.ciede2000 is None else f"{pair.ciede2000:.1f}",
            *("-" if share is None else f"{100 * share:.1f} %" for share in (pair.by_raw, pair.by_code)),
            _samples(pair), pair.verdict if pair.samples is not None or pair.by_raw is None else "not tried: capture longer",
        )
        for pair in found[:8]
    ]  # fmt: skip
    return [
        "", "Pairs most easily confused: single samples confused by levels and by codes; samples: so many in a row",
        "told them apart in 99 of 100 tries on these captures (-: not tried; >20: 20 were not enough):",
        *table(heads, rows, indent="  "),
    ]  # fmt: skip


def _samples(pair: ColourPair) -> str:
    return "-" if pair.samples is None else f"{pair.samples}" if pair.samples else ">20"


def _code_lines(palette: Palette) -> list[str]:
    from telemetry.report.table import TableColumn, table

    rows = []
    for colour in palette.colours:
        said = sorted(colour.codes.items(), key=lambda item: -item[1])[:3]
        rows.append((colour.name, ", ".join(f"{code} {100 * share:.0f} %" for code, share in said)))
    return [
        "What the sensor's codes said over each colour:",
        *table((TableColumn("over"), TableColumn("said")), rows, "  "),
    ]
