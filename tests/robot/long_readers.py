"""Many random runs in both languages, speed of the compiled steps, and a small 8-bit board (simulated).

    cd tests; python -m robot.long_readers [RUNS]      # 10,000 without a number; about half an hour

Prints what it found; the exit code is 1 where anything differed.
"""

from __future__ import annotations

import re
import shutil
import sys
import tempfile
import time
from pathlib import Path

from telemetry.reading.strategies import STRATEGIES
from telemetry.recording.load import load
from telemetry.robot.export import export
from telemetry.robot.order import ReaderOrder, order_for_columns
from telemetry.robot.recipe.write import why_not

from .random_streams import rows_of
from .reading import EVENTS_C, EVENTS_PY, MICROPYTHON, RECORDINGS, c_compiler, events_in, events_said, rows_text, run_words
from .test_recipe import by_core, by_recipe

COLUMNS = "n,t/ms,colour,refl/%,red,green,blue,heading/deg,dist/cm"
BATCH = 250
SPEED = r"""
#include <stdio.h>
#include <time.h>
#include "reader.h"
static reader_sample drive[4096];
int main(void)
{
    long k, steps = 100000000, events = 0;
    clock_t begun;
    for (k = 0; k < 4096; k++) {
        drive[k] = reader_nothing;
        drive[k].t = (int32_t)(k * 10);
        drive[k].d = (int32_t)(k * 3);
        drive[k].code = (k / 40) % 5 ? 0 : (int32_t)(k / 200 % 5 + 1);
    }
    reader_begin();
    begun = clock();
    for (k = 0; k < steps; k++) events += reader_step(0, &drive[k & 4095]) != 0;
    printf("%.1f million steps/s (%ld events)\n", steps / 1e6 / ((double)(clock() - begun) / CLOCKS_PER_SEC), events);
    return 0;
}
"""
AVR = r"""
#include <avr/io.h>
#include <avr/sleep.h>
#include <avr/interrupt.h>
#include <stdio.h>
#include "reader.h"
static int put(char c, FILE *f) { (void)f; while (!(UCSR0A & (1 << UDRE0))) {} UDR0 = (uint8_t)c; return 0; }
static FILE out = FDEV_SETUP_STREAM(put, NULL, _FDEV_SETUP_WRITE);
int main(void)
{
    unsigned long total = 0, most = 0;
    int k;
    reader_sample now = reader_nothing;
    UCSR0B = 1 << TXEN0;
    stdout = &out;
    TCCR1B = 1;
    reader_begin();
    for (k = 0; k < 400; k++) {
        unsigned int begun, took;
        now.t = k * 10; now.d = k * 30L; now.code = (k / 10) % 4 ? 0 : k / 40 % 5 + 1;
        begun = TCNT1;
        (void)reader_step(0, &now);
        took = TCNT1 - begun;
        total += took;
        if (took > most) most = took;
    }
    printf("%lu cycles a step, %lu at the most\n", total / 400, most);
    cli();
    sleep_mode();
    return 0;
}
"""


def differing(name: str, order: ReaderOrder, runs: int, folder: Path) -> int:
    """How many random runs are not read alike by core, MicroPython and C."""
    compiler = c_compiler()
    export(order).save(folder / "py")
    export(order, "c").save(folder / "c")
    (folder / "c" / "check.c").write_text(EVENTS_C)
    (folder / "events.py").write_text(EVENTS_PY)
    if compiler is not None:
        built = run_words([compiler, "-std=c99", "-O2", *(folder / "c").glob("*.c"), "-o", folder / "events"])
        assert built.returncode == 0, built.stderr.decode()
    wrong = 0
    for begin in range(0, runs, BATCH):
        streams = [rows_of(order.plan, 1000 + seed) for seed in range(begin, min(begin + BATCH, runs))]
        wanted = [events_in(order.plan, stream) for stream in streams]
        text = rows_text(streams)
        ways = [[folder / "events"]] * (compiler is not None) + [[MICROPYTHON, folder / "events.py", folder / "py"]]
        for words in ways:
            done = run_words(words, text)
            assert done.returncode == 0, done.stderr.decode()
            wrong += sum(one != other for one, other in zip(events_said(done.stdout), wanted, strict=True))
    print(f"{name}: {runs:,} random runs, {wrong} differ", flush=True)
    return wrong


def recipes(name: str, order: ReaderOrder, runs: int) -> int:
    """How many random runs the recipe's steps, executed line by line, read otherwise than the core."""
    if why_not(order.plan):
        return 0
    streams = [rows_of(order.plan, 5000 + seed) for seed in range(runs)]
    wrong = sum(by_recipe(order.plan, stream) != by_core(order.plan, stream) for stream in streams)
    print(f"recipe of {name}: {runs:,} random runs, {wrong} differ", flush=True)
    return wrong


def speed(name: str, order: ReaderOrder, folder: Path) -> None:
    """Steps a second of the compiled reader on this computer."""
    compiler = c_compiler()
    if compiler is None:
        return
    export(order, "c").save(folder)
    (folder / "check.c").write_text(SPEED)
    built = run_words([compiler, "-std=c99", "-O2", *folder.glob("*.c"), "-o", folder / "speed"])
    assert built.returncode == 0, built.stderr.decode()
    size = run_words(["size", folder / "speed"]).stdout.decode().splitlines()[-1].split()
    print(f"{name} in C: {run_words([folder / 'speed']).stdout.decode().strip()}; text {size[0]}", flush=True)


def on_a_small_board(name: str, order: ReaderOrder, folder: Path) -> None:
    """RAM, flash and cycles on a simulated 8-bit part with 2 kB of RAM; says so where the tools are not at hand."""
    if not shutil.which("avr-gcc") or not shutil.which("simavr"):
        print("no avr-gcc or simavr here (Debian: gcc-avr avr-libc simavr): the 8-bit part is not tried")
        return
    export(order, "c").save(folder)
    (folder / "check.c").write_text(AVR)
    options = ["-std=gnu99", "-Os", "-mmcu=atmega328p", "-DF_CPU=16000000UL", "-ffunction-sections", "-Wl,--gc-sections"]
    built = run_words(["avr-gcc", *options, *folder.glob("*.c"), "-o", folder / "board.elf"])
    assert built.returncode == 0, built.stderr.decode()
    alone = run_words(["avr-gcc", *options, "-c", folder / "reader.c", "-o", folder / "reader.o"])
    assert alone.returncode == 0, alone.stderr.decode()
    sections = run_words(["avr-size", "-A", folder / "reader.o"]).stdout.decode()
    sizes = {kind: sum(int(size) for size in re.findall(rf"^\.{kind}\S*\s+(\d+)", sections, re.MULTILINE))
             for kind in ("text", "progmem", "rodata", "data", "bss")}  # fmt: skip
    # Texts and what is not in flash by name are copied to RAM at the start.
    ram = sizes["rodata"] + sizes["data"] + sizes["bss"]
    flash = sizes["text"] + sizes["progmem"] + sizes["rodata"] + sizes["data"]
    said = run_words(["simavr", "-m", "atmega328p", "-f", "16000000", folder / "board.elf"])
    found = re.search(r"\d+ cycles a step, \d+ at the most", (said.stdout + said.stderr).decode(errors="replace"))
    told = found[0] if found else "no answer from the simulator"
    print(f"{name} on an 8-bit part: {ram} bytes of RAM, {flash} of flash, {told}", flush=True)


def main() -> int:
    """All of it."""
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    course = load(RECORDINGS / "practice-01.h5").course
    assert course is not None
    wrong, begun = 0, time.monotonic()
    for name, strategy in STRATEGIES.items():
        order = order_for_columns(strategy, course, COLUMNS)
        with tempfile.TemporaryDirectory() as place:
            wrong += differing(name, order, runs, Path(place))
        wrong += recipes(name, order_for_columns(strategy, course, "t/ms,colour,heading/deg,dist/cm"), max(1, runs // 10))
    for name in ("hold", "checklist", "windows"):
        order = order_for_columns(STRATEGIES[name], course, "t/ms,colour,dist/cm")
        with tempfile.TemporaryDirectory() as place:
            speed(name, order, Path(place) / "c")
            on_a_small_board(name, order, Path(place) / "avr")
    print(f"{time.monotonic() - begun:.0f} s")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
