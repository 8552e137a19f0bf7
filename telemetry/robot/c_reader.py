"""The files ``reader.h`` and ``reader.c``: a plan in C99, from the very source that replays runs."""

from __future__ import annotations

from telemetry.errors import StrategyError
from telemetry.reading.flat import Writer
from telemetry.robot.c_code import CFile
from telemetry.robot.c_function import number
from telemetry.robot.order import ReaderOrder
from telemetry.robot.python_reader import heading
from telemetry.sample import MISSING

CHANNELS = ("t", "d", "v", "h", "refl", "red", "green", "blue", "code", "note")

_HEADER = '''\
#ifndef SIDELONG_READER_H
#define SIDELONG_READER_H

#include <stdint.h>

/*
 * In your program:
 *
 *     reader_sample now = reader_nothing;          (what is not measured stays READER_NOTHING)
 *     reader_begin();
 *     while (driving) {
 *         now.t = milliseconds; now.code = 1; now.d = tenths_of_a_mm;      (code: an index into reader_colours)
 *         event = reader_step(0, &now);
 *         if (READER_SLOT(event) >= 0) show(reader_slots[READER_SLOT(event)], reader_colours[READER_COLOUR(event)]);
 *     }
 *     reader_finish(take);                         (the run is over: take(event) is called for what is decided then)
 *
 * Units: t ms modulo 2^30, d 0.1 mm, v 0.1 mm/s, h 0.1 deg, refl 0.1 %, red green blue as sent;
 * note: the number of what your program says at that sample, counted from 1 as in reader_notes, else 0.
 * A slot with colour 0 is empty. With several sensors call reader_step for each, in their order, at every sample.
 */

#ifdef __cplusplus
extern "C" {
#endif

{defines}
#define READER_NOTHING (-INT32_C(1073741824))

#define READER_SLOT(event) ((int)(((event) >> 8) & 255) - 1)
#define READER_HOW(event) ((int)(((event) >> 5) & 7))       /* 0 read, 1 inferred, 2 assumed; 3 without a slot: elsewhere */
#define READER_COLOUR(event) ((int)((event) & 31))
#define READER_SURE(event) ((int)((event) >> 16))           /* 1/10000; 0: not said */

typedef struct {
    int32_t t, d, v, h, refl, red, green, blue, code, note;
} reader_sample;

extern const reader_sample reader_nothing;
extern const char *const reader_slots[];
extern const char *const reader_colours[];
extern const char *const reader_notes[];
extern const char *const reader_sensors[];

void reader_begin(void);
int32_t reader_step(int sensor, const reader_sample *now);
int32_t reader_end(int sensor, int phase);
void reader_finish(void (*take)(int32_t event));

#ifdef __cplusplus
}
#endif

#endif
'''

_TOP = '''\
#include "reader.h"

#if defined(__AVR__) && !defined(__STRICT_ANSI__)
#define TABLE const __flash
#else
#define TABLE const
#endif

'''

_BOTTOM = '''
const reader_sample reader_nothing = {
    0, READER_NOTHING, READER_NOTHING, READER_NOTHING, READER_NOTHING, READER_NOTHING, READER_NOTHING, READER_NOTHING,
    READER_NOTHING, 0
};
{names}

void reader_begin(void)
{
    begin();
}

int32_t reader_step(int sensor, const reader_sample *now)
{
    (void)now;
{steps}
    (void)sensor;
    return 0;
}

int32_t reader_end(int sensor, int phase)
{
    (void)phase;
{ends}
    (void)sensor;
    return 0;
}

void reader_finish(void (*take)(int32_t event))
{
    int phase, sensor, zeros;
    int32_t event;
    for (phase = 1; phase < 3; phase++) {
        for (sensor = 0; sensor < READER_SENSORS; sensor++) {
            zeros = 0;
            while (zeros < 2) {
                event = reader_end(sensor, phase);
                zeros = event ? 0 : zeros + 1;
                if (event) take(event);
            }
        }
    }
}
'''


def reader_c(order: ReaderOrder) -> dict[str, str]:
    """Name -> text of ``reader.h`` and ``reader.c``. Raises StrategyError for a logic of a team's own Python."""
    plan = order.plan.fresh()
    if plan.strategy.own is not None:
        raise StrategyError(
            "a logic of a team's own Python cannot be put into C", where=plan.strategy.own_file,
            todo="Use MicroPython, or build it of stages: 'sidelong strategies' lists them.",
        )
    writer = Writer(plan.chains, plain=False)
    steps = [writer.step(number) for number in range(len(plan.chains))]
    unit = CFile(writer.numbers(), writer.tables(), steps, writer.functions)
    core = unit.text()
    head = "".join(f" * {line}\n" for line in heading(order))
    slots = [slot.name for slot in plan.course.slots]
    sensors = [sensor.name for sensor in plan.course.sensors]
    defines = [
        f"#define READER_FINGERPRINT {c_text(order.fingerprint)}", f"#define READER_STRATEGY {c_text(plan.strategy.name)}",
        f"#define READER_SLOTS {len(slots)}", f"#define READER_COLOURS {len(plan.names)}",
        f"#define READER_NOTES {len(plan.notes)}", f"#define READER_SENSORS {len(sensors)}",
    ]  # fmt: skip
    names = [
        _names("reader_slots", slots), _names("reader_colours", plan.names), _names("reader_notes", list(plan.notes)),
        _names("reader_sensors", sensors),
    ]  # fmt: skip
    step_lines, end_lines = [], []
    for k in range(len(plan.chains)):
        known = [name for name in CHANNELS if f"m{k}_{name}" in unit.used]
        end = "end" if f"m{k}_end" in unit.used else ""
        take = [f"m{k}_{name} = now->{name};" for name in known]
        gone = [f"m{k}_{name} = {0 if name == 'note' else number(MISSING)};" for name in known if name != "t"]
        gone += [f"m{k}_end = phase;"] if end else []
        step_lines += _branch(k, take)
        end_lines += _branch(k, gone)
    bottom = _BOTTOM.replace("{steps}", "\n".join(step_lines)).replace("{ends}", "\n".join(end_lines))
    comment = f"/*\n{head} */\n"
    return {
        "reader.h": comment + _HEADER.replace("{defines}", "\n".join(defines)),
        "reader.c": comment + _TOP + core + bottom.replace("{names}", "\n".join(names)),
    }


def _branch(sensor: int, lines: list[str]) -> list[str]:
    """One sensor's step, after ``lines``."""
    inner = [f"        {line}" for line in [*lines, f"return step{sensor}();"]]
    return [f"    if (sensor == {sensor}) {{", *inner, "    }"]


def c_text(text: str) -> str:
    """A text as a C string literal: whatever is not plain ASCII in octal, which no following character can lengthen."""
    out = []
    for byte in text.encode():
        char = chr(byte)
        plain = 0x20 <= byte < 0x7F and char not in '"\\?'
        out.append(char if plain else f"\\{byte:03o}")
    return '"' + "".join(out) + '"'


def _names(variable: str, names: object) -> str:
    assert isinstance(names, list | tuple)
    entries = ", ".join(c_text(name) for name in names) or '""'
    return f"const char *const {variable}[] = {{{entries}}};"

