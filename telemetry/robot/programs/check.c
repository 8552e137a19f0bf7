/*
 * Holds the robot's reading logic beside the computer's. It stands in one folder with reader.h and reader.c.
 *
 *     cc -std=c99 *.c -o check
 *     ./check < run.txt      a recorded line stream: prints !T,read,SLOT,COLOUR for each reading as it is made
 *     ./check                without input: built-in samples, 'same as on the computer' or the first difference
 *
 * The stream is understood as Sidelong's own decoder does: headers, codes, wraps, units, checksums, notes, restarts.
 * Nothing here goes onto the robot.
 */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "reader.h"

/*DATA*/

#if defined(__unix__) || defined(__APPLE__)
extern int isatty(int);
#define HAS_TERMINAL 1
#endif

#define LINE_MAX_ 240
#define HELD_MAX 65536 /* so much of a stream is held back until it is known whether a header comes */
#define MOST_COLUMNS 130
#define MOST_NAMES 30
#define MOST_CODES 400
#define MOST_SEEN 500
#define MOST_PENDING 256
#define NAME_BYTES 256
#define MOST_COUNT 9007199254740992.0
#define NONE (-1LL)

typedef long long whole_t;

static void copy_text(char *to, const char *from)
{
    size_t k = 0;
    for (; from[k] && k < NAME_BYTES - 1; k++) to[k] = from[k];
    to[k] = 0;
}
static int same_text(const char *a, const char *b) { return strcmp(a, b) == 0; }

/* ---------------------------------------------------------------- characters */

/* How many bytes the blank at the start of a text has; 0 where there is none. Python's str.strip knows these. */
static int blank(const char *s)
{
    const unsigned char *u = (const unsigned char *)s;
    if (*u == ' ' || (*u >= 9 && *u <= 13) || (*u >= 28 && *u <= 31)) return 1;
    if (u[0] == 0xC2 && (u[1] == 0x85 || u[1] == 0xA0)) return 2;
    if (u[0] == 0xE1 && u[1] == 0x9A && u[2] == 0x80) return 3;
    if (u[0] == 0xE2 && u[1] == 0x80 && ((u[2] >= 0x80 && u[2] <= 0x8A) || u[2] == 0xA8 || u[2] == 0xA9 || u[2] == 0xAF)) return 3;
    if (u[0] == 0xE2 && u[1] == 0x81 && u[2] == 0x9F) return 3;
    if (u[0] == 0xE3 && u[1] == 0x80 && u[2] == 0x80) return 3;
    return 0;
}

static char *strip(char *text)
{
    size_t size;
    int cut;
    while (*text && (cut = blank(text)) > 0) text += cut;
    size = strlen(text);
    for (;;) {
        if (size >= 1 && blank(text + size - 1) == 1) size -= 1;
        else if (size >= 2 && blank(text + size - 2) == 2) size -= 2;
        else if (size >= 3 && blank(text + size - 3) == 3) size -= 3;
        else break;
        text[size] = 0;
    }
    return text;
}

static int is_digit(char c) { return c >= '0' && c <= '9'; }
static int is_letter(const char *s)
{
    return (*s >= 'a' && *s <= 'z') || (*s >= 'A' && *s <= 'Z') || ((unsigned char)*s > 127 && !blank(s));
}
static int is_printable(const char *s)
{
    for (; *s; s++) {
        if ((unsigned char)*s < 32 || *s == 127) return 0;
        if ((unsigned char)*s > 127 && blank(s)) return 0;
    }
    return 1;
}
static int letters(const char *s)
{
    int count = 0;
    for (; *s; s++) count += ((unsigned char)*s & 192) != 128;
    return count;
}
static char lower(char c) { return c >= 'A' && c <= 'Z' ? (char)(c + 32) : c; }
static int same_word(const char *a, const char *b)
{
    for (; *a && *b; a++, b++) if (lower(*a) != *b) return 0;
    return *a == *b;
}

static int is_utf8(const unsigned char *raw, int size)
{
    int k = 0, j, more;
    while (k < size) {
        int b = raw[k];
        more = b < 128 ? 0 : b >= 194 && b < 224 ? 1 : b >= 224 && b < 240 ? 2 : b >= 240 && b < 245 ? 3 : -1;
        if (more < 0 || k + more >= size) return 0;
        for (j = 1; j <= more; j++) if ((raw[k + j] & 192) != 128) return 0;
        if (more > 1) {
            int second = raw[k + 1];
            if ((b == 224 && second < 160) || (b == 237 && second > 159) || (b == 240 && second < 144) || (b == 244 && second > 143))
                return 0;
        }
        k += more + 1;
    }
    return 1;
}

/* ---------------------------------------------------------------- numbers */

static int is_number(const char *s)
{
    int digits = 0;
    if (*s == '+' || *s == '-') s++;
    if (same_word(s, "nan") || same_word(s, "inf") || same_word(s, "infinity")) return 1;
    while (is_digit(*s)) { s++; digits++; }
    if (*s == '.') { s++; while (is_digit(*s)) { s++; digits++; } }
    if (!digits) return 0;
    if (*s == 'e' || *s == 'E') {
        s++;
        if (*s == '+' || *s == '-') s++;
        if (!is_digit(*s)) return 0;
        while (is_digit(*s)) s++;
    }
    return *s == 0;
}

/* The number in a field, NaN for an empty one; *bad where it is none. */
static double number_of(char *field, int *bad)
{
    char *text = strip(field);
    if (!*text || same_text(text, "None")) return strtod("nan", NULL);
    if (!is_number(text)) { *bad = 1; return 0; }
    return strtod(text, NULL);
}

/* A column of unknown meaning may also hold a word. */
static void further(char *field, int *bad)
{
    char *text = strip(field), *s;
    if (same_text(text, "True") || same_text(text, "False")) return;
    if (*text && !same_text(text, "None") && !is_number(text) && is_letter(text)) {
        for (s = text; *s; s++) {
            if (!(is_letter(s) || is_digit(*s) || strchr("_ .:-", *s) || ((unsigned char)*s & 192) == 128)) *bad = 1;
        }
        return;
    }
    (void)number_of(text, bad);
}

static int is_code(const char *s)
{
    int count = 0;
    if (*s == '+' || *s == '-') s++;
    for (; is_digit(*s); s++) count++;
    return *s == 0 && count >= 1 && count <= 9;
}

/* Rounded down; without the mathematics library, which some compilers link only when asked to. */
static double rounded_down(double value)
{
    double cut;
    if (!(value > -MOST_COUNT && value < MOST_COUNT)) return value;
    cut = (double)(whole_t)value;
    return cut > value ? cut - 1 : cut;
}

/* The nearest whole number, half to the even one. */
static whole_t nearest(double value)
{
    double low = rounded_down(value), over = value - low;
    whole_t whole = (whole_t)low;
    return whole + (over > 0.5 || (over == 0.5 && whole % 2 != 0));
}

static int32_t whole(double value, double scale, double most)
{
    double raised;
    if (value - value != 0) return READER_NOTHING;
    raised = rounded_down(value * scale + 0.5);
    return (int32_t)(raised > most ? most : raised < -most ? -most : raised);
}

static whole_t floored(whole_t a, whole_t b) { return a / b - (a % b != 0 && (a < 0) != (b < 0)); }

/* ---------------------------------------------------------------- counters */

typedef struct {
    whole_t slip, modulus, last, offset;
    int known;
} counter;

enum { ON, WRAPPED, SLIPPED, FELL };

static void counter_start(counter *c, whole_t raw) { c->last = raw; c->known = 1; c->offset = 0; }

static int counter_step(counter *c, whole_t raw)
{
    whole_t step, slip;
    if (!c->known) { c->last = raw; c->known = 1; return ON; }
    step = raw - c->last;
    if (step >= 0) {
        slip = c->slip < c->modulus / 4 ? c->slip : c->modulus / 4;
        if (c->modulus != NONE && c->offset && c->modulus - slip <= step && step <= c->modulus) return SLIPPED;
        c->last = raw;
        return ON;
    }
    if (c->modulus != NONE && 2 * -step > c->modulus) { c->offset += c->modulus; c->last = raw; return WRAPPED; }
    if (-step <= c->slip && 2 * raw > c->last) return SLIPPED;
    counter_start(c, raw);
    return FELL;
}

static whole_t counter_value(const counter *c, whole_t raw)
{
    if (c->modulus != NONE && c->known) {
        whole_t step = raw - c->last;
        if (2 * -step > c->modulus) return raw + c->offset + c->modulus;
        if (c->offset && 2 * step > c->modulus) return raw + c->offset - c->modulus;
    }
    return raw + c->offset;
}

/* ---------------------------------------------------------------- what the stream has said so far */

typedef struct {
    char name[NAME_BYTES];
    char kind; /* t, n, c colour, v value, f further */
    double multiply, divide;
} column;

static column columns[MOST_COLUMNS], named[MOST_COLUMNS];
static int column_count = 0, loose = 0, t_at = -1, n_at = -1;
static double t_scale = 1000, wrap_t = -1, wrap_n = -1;
static counter t_counter = {100000, NONE, 0, 0, 0}, n_counter = {8, NONE, 0, 0, 0};
static char seen[MOST_SEEN][NAME_BYTES];
static int seen_count = 0;
static char names[MOST_NAMES + 1][NAME_BYTES] = {"none"};
static int name_count = 1;
static char further_colours[64][NAME_BYTES];
static int colour_count = READER_COLOURS;
static struct { int code; char name[NAME_BYTES]; } codes[MOST_CODES];
static int code_count = 0;
static int pending[MOST_PENDING], pending_count = 0;
static char heard[READER_NOTES + 1];
static long rows = 0, restarts = 0, early = 0;
static whole_t t_ms = 0;

static const char *const attribute_names[8] = {"dist", "speed", "heading", "refl", "red", "green", "blue", "colour"};
static const double attribute_scales[8] = {100, 100, 10, 10, 1, 1, 1, 0};
static const double attribute_most[8] = {16777215, 1048575, 1048575, 268435455, 268435455, 268435455, 268435455, 0};
static int wiring[READER_SENSORS][8];
static int first[READER_SENSORS]; /* what each sensor showed first: 1 a colour, 2 raw channels */

static const struct { const char *quantity, *unit; double multiply, divide; } units[] = {
    {"t", "us", 1, 1}, {"t", "\302\265s", 1, 1}, {"t", "\316\274s", 1, 1}, {"t", "ms", 1000, 1}, {"t", "s", 1000000, 1},
    {"loop", "ms", 1, 1}, {"loop", "us", 1, 1000}, {"loop", "\302\265s", 1, 1000}, {"loop", "\316\274s", 1, 1000},
    {"loop", "s", 1000, 1}, {"refl", "%", 1, 1}, {"refl", "1", 100, 1}, {"dist", "cm", 1, 1}, {"dist", "mm", 1, 10},
    {"dist", "m", 100, 1}, {"speed", "cm/s", 1, 1}, {"speed", "mm/s", 1, 10}, {"speed", "m/s", 100, 1},
    {"heading", "deg", 1, 1}, {"heading", "\302\260", 1, 1}, {"heading", "rad", 180, 3.141592653589793},
    {"battery", "V", 1, 1}, {"battery", "mV", 1, 1000},
};
static const char *const assumed[][2] = {
    {"t", "ms"}, {"loop", "ms"}, {"refl", "%"}, {"dist", "cm"}, {"speed", "cm/s"}, {"heading", "deg"}, {"battery", "V"},
};

static int cut(char *text, char separator, char **rest)
{
    char *at = strchr(text, separator);
    *rest = at ? at + 1 : text + strlen(text);
    if (at) *at = 0;
    return at != NULL;
}

static void set_column(column *c, const char *name, char kind, double multiply, double divide)
{
    copy_text(c->name, name);
    c->kind = kind;
    c->multiply = multiply;
    c->divide = divide;
}

/* One heading, quantity/unit; what the robot calls the column goes to sent. */
static void name_column(column *c, char *field, int place, char *sent_out)
{
    static char made[2 * NAME_BYTES];
    char quantity[NAME_BYTES], *unit, *sent, *suffix;
    const char *expected = NULL;
    size_t k;
    cut(field, '/', &unit);
    sent = strip(field);
    unit = strip(unit);
    copy_text(quantity, sent);
    cut(quantity, '.', &suffix);
    copy_text(sent_out, sent);
    if (same_text(sent, "n")) { set_column(c, "n", 'n', 1, 1); return; }
    if (same_text(quantity, "colour")) { set_column(c, sent, 'c', 1, 1); return; }
    if (same_text(quantity, "red") || same_text(quantity, "green") || same_text(quantity, "blue")) {
        set_column(c, sent, 'v', 1, 1);
        return;
    }
    for (k = 0; k < sizeof assumed / sizeof assumed[0]; k++) if (same_text(quantity, assumed[k][0])) expected = assumed[k][1];
    if (expected && !(same_text(quantity, "t") && *suffix)) {
        int round;
        for (round = 0; round < 2; round++) {
            for (k = 0; k < sizeof units / sizeof units[0]; k++) {
                if (!same_text(units[k].quantity, quantity) || !same_text(units[k].unit, unit)) continue;
                if (same_text(quantity, "t")) set_column(c, "t_us", 't', units[k].multiply, units[k].divide);
                else set_column(c, sent, 'v', units[k].multiply, units[k].divide);
                return;
            }
            if (*unit && !same_text(quantity, "t")) break;
            unit = (char *)expected;
        }
        made[0] = 0;
        snprintf(made, sizeof made, "%s_", sent);
        for (k = 0; unit[k] && strlen(made) < sizeof made - 12; k++) {
            char one[2] = {unit[k], 0};
            strcat(made, unit[k] == '%' ? "percent" : unit[k] == '/' ? "_per_" : one);
        }
        set_column(c, made, 'f', 1, 1);
        return;
    }
    if (!*sent) {
        snprintf(made, sizeof made, "column %d", place);
        copy_text(sent_out, made);
    } else if (same_text(sent, "t_us") || same_text(sent, "arrival_us") || same_text(sent, "boot")) {
        snprintf(made, sizeof made, "%s_sent", sent);
    } else {
        copy_text(made, sent);
    }
    set_column(c, made, 'f', 1, 1);
}

/* Reads headings into named; gives how many, 0 where there is no t. */
static int name_columns(char *text)
{
    int count = 0, k, timed = 0, more = 1;
    char *rest, sent[NAME_BYTES];
    while (more && count < MOST_COLUMNS) {
        more = cut(text, ',', &rest);
        name_column(&named[count], text, count + 1, sent);
        for (k = 0; k < count; k++) {
            if (same_text(named[k].name, named[count].name)) {
                char made[NAME_BYTES + 16];
                snprintf(made, sizeof made, "%s %d", sent, count + 1);
                set_column(&named[count], made, named[count].kind == 'c' ? 'c' : 'f', 1, 1);
                break;
            }
        }
        timed = timed || named[count].kind == 't';
        count++;
        text = rest;
    }
    return timed ? count : 0;
}

/* The column that carries a quantity for a sensor: its own, else the one without a suffix, else the only one. */
static const char *channel(const char *quantity, const char *sensor)
{
    char own[2 * NAME_BYTES];
    const char *only = NULL;
    size_t size = strlen(quantity);
    int k, count = 0;
    snprintf(own, sizeof own, "%s.%s", quantity, sensor);
    if (*sensor) for (k = 0; k < seen_count; k++) if (same_text(seen[k], own)) return seen[k];
    for (k = 0; k < seen_count; k++) if (same_text(seen[k], quantity)) return seen[k];
    if (*sensor) return NULL;
    for (k = 0; k < seen_count; k++) {
        if (strncmp(seen[k], quantity, size) == 0 && seen[k][size] == '.') { only = seen[k]; count++; }
    }
    return count == 1 ? only : NULL;
}

static void announce(void)
{
    if (column_count && wrap_t > 0) t_counter.modulus = nearest(wrap_t * t_scale);
    if (column_count && wrap_n > 0) n_counter.modulus = nearest(wrap_n);
}

static int wired = 0;

static void use_columns(int count)
{
    int i;
    memcpy(columns, named, sizeof columns);
    column_count = count;
    loose = 0;
    t_at = n_at = -1;
    for (i = 0; i < count; i++) {
        if (columns[i].kind == 't') { t_at = i; t_scale = columns[i].multiply; }
        if (columns[i].kind == 'n') n_at = i;
    }
    announce();
    wired = 0;
}

/* Which column goes where, once a sample has come under this header. */
static void wire(void)
{
    int i, k, a, count = column_count;
    const char *wanted;
    wired = 1;
    for (i = 0; i < count; i++) {
        for (k = 0; k < seen_count && !same_text(seen[k], columns[i].name); k++) {}
        if (k == seen_count && seen_count < MOST_SEEN) copy_text(seen[seen_count++], columns[i].name);
    }
    for (k = 0; k < READER_SENSORS; k++) {
        for (a = 0; a < 8; a++) {
            wanted = channel(attribute_names[a], reader_sensors[k]);
            wiring[k][a] = -1;
            for (i = 0; wanted && i < count; i++) if (same_text(columns[i].name, wanted)) wiring[k][a] = i;
        }
    }
}

/* ---------------------------------------------------------------- what was read */

static int said_slot[READER_SLOTS + 1], said_colour[READER_SLOTS + 1], said_count = 0, elsewhere = 0;

static void take(int32_t event)
{
    int slot = READER_SLOT(event);
    if (elsewhere) return;
    if (slot >= 0 && said_count <= READER_SLOTS) {
        said_slot[said_count] = slot;
        said_colour[said_count++] = READER_COLOUR(event);
    } else if (slot < 0 && READER_HOW(event) == 3) {
        elsewhere = 1;
    }
}

static const char *colour_name(int colour)
{
    if (colour == 0) return "empty";
    return colour < READER_COLOURS ? reader_colours[colour] : further_colours[colour - READER_COLOURS];
}

static void say(void)
{
    int k, j;
    for (k = 1; k < said_count; k++) {
        for (j = k; j > 0 && said_slot[j - 1] > said_slot[j]; j--) {
            int slot = said_slot[j], colour = said_colour[j];
            said_slot[j] = said_slot[j - 1];
            said_colour[j] = said_colour[j - 1];
            said_slot[j - 1] = slot;
            said_colour[j - 1] = colour;
        }
    }
    for (k = 0; k < said_count; k++) printf("!%lld,read,%s,%s\n", t_ms, reader_slots[said_slot[k]], colour_name(said_colour[k]));
    if (said_count) fflush(stdout);
    said_count = 0;
}

static void finish_run(void)
{
    reader_finish(take);
    say();
    reader_begin();
    elsewhere = 0;
}

/* ---------------------------------------------------------------- the kinds of lines */

static int label_of(const char *name)
{
    int k;
    for (k = 0; k < READER_COLOURS; k++) if (same_text(reader_colours[k], name)) return k;
    for (k = READER_COLOURS; k < colour_count; k++) if (same_text(further_colours[k - READER_COLOURS], name)) return k;
    if (colour_count > 29) {
        fprintf(stderr, "check: course, palette and stream name more than 29 colours\n");
        exit(1);
    }
    copy_text(further_colours[colour_count - READER_COLOURS], name);
    return colour_count++;
}

/* The place of a colour among the stream's names; a new one comes behind them, and counts once the line is taken. */
static int colour_of(char *field, int *fresh, int *bad)
{
    static char made[NAME_BYTES];
    char *text = strip(field);
    int k;
    if (!*text) return -1;
    if (is_code(text)) {
        int code = atoi(text);
        snprintf(made, sizeof made, "code %d", code);
        for (k = 0; k < code_count; k++) if (codes[k].code == code) copy_text(made, codes[k].name);
        text = made;
    } else if (!(is_letter(text) && is_printable(text) && letters(text) <= 40)) {
        *bad = 1;
        return -1;
    }
    if (same_word(text, "none")) return 0;
    for (k = 0; k < name_count + *fresh; k++) if (same_text(names[k], text)) return k;
    if (name_count + *fresh >= MOST_NAMES) { *bad = 1; return -1; }
    copy_text(names[name_count + *fresh], text);
    return name_count + (*fresh)++;
}

/* Time with wraps taken out; *restarted where the robot has. */
static whole_t count(whole_t t_us, whole_t n, int *restarted)
{
    int t_event = counter_step(&t_counter, t_us);
    int n_event = n >= 0 ? counter_step(&n_counter, n) : ON;
    *restarted = t_event == FELL || n_event == FELL;
    if (*restarted) {
        if (t_event == WRAPPED || t_event == FELL) counter_start(&t_counter, t_us);
        if (n >= 0 && (n_event == WRAPPED || n_event == FELL)) counter_start(&n_counter, n);
        return t_us + t_counter.offset;
    }
    return t_event == ON && n_event == ON ? t_us + t_counter.offset : counter_value(&t_counter, t_us);
}

static void sample(char **fields, int field_count)
{
    static double values[MOST_COLUMNS];
    int k, a, i, bad = 0, fresh = 0, restarted, note = 0;
    double t;
    whole_t n = -1, t_us;
    if (field_count != column_count) return;
    for (i = 0; i < column_count && !bad; i++) {
        if (columns[i].kind == 'c') values[i] = colour_of(fields[i], &fresh, &bad);
        else if (columns[i].kind == 'f') further(fields[i], &bad);
        else values[i] = number_of(fields[i], &bad);
    }
    if (bad) return;
    t = values[t_at] * t_scale;
    if (!(-MOST_COUNT < t && t < MOST_COUNT)) return;
    if (n_at >= 0 && values[n_at] == values[n_at]) {
        if (!(values[n_at] >= 0 && values[n_at] < MOST_COUNT && values[n_at] == rounded_down(values[n_at]))) return;
        n = (whole_t)values[n_at];
    }
    name_count += fresh;
    if (!wired) wire();
    t_us = count(nearest(t), n, &restarted);
    if (restarted && rows) {
        finish_run();
        restarts++;
    }
    rows++;
    t_ms = floored(t_us, 1000);
    if (pending_count) {
        note = pending[0];
        memmove(pending, pending + 1, (size_t)(--pending_count) * sizeof pending[0]);
    }
    for (k = 0; k < READER_SENSORS; k++) {
        reader_sample now = reader_nothing;
        int32_t *into[7], event;
        into[0] = &now.d; into[1] = &now.v; into[2] = &now.h; into[3] = &now.refl;
        into[4] = &now.red; into[5] = &now.green; into[6] = &now.blue;
        now.t = (int32_t)(t_ms - floored(t_ms, 1073741824LL) * 1073741824LL);
        now.note = note;
        for (a = 0; a < 7; a++) {
            if (wiring[k][a] >= 0) {
                double value = values[wiring[k][a]];
                const column *c = &columns[wiring[k][a]];
                if (c->multiply != 1) value = value * c->multiply;
                if (c->divide != 1) value = value / c->divide;
                *into[a] = whole(value, attribute_scales[a], attribute_most[a]);
            }
        }
        if (wiring[k][7] >= 0 && values[wiring[k][7]] >= 0) now.code = label_of(names[(int)values[wiring[k][7]]]);
        if (!first[k] && now.code != READER_NOTHING) first[k] = 1;
        if (!first[k] && now.red != READER_NOTHING && now.green != READER_NOTHING && now.blue != READER_NOTHING) first[k] = 2;
        event = reader_step(k, &now);
        if (event) take(event);
    }
    say();
}

static void directive(char *text)
{
    static char copy[NAME_BYTES];
    char *rest, *pair, *value, *name, *s;
    int timed = 0, spaced = 0, fields = 1, found, kind, more;
    copy_text(copy, text);
    cut(copy, ',', &rest);
    name = strip(copy);
    kind = same_text(name, "codes") ? 1 : same_text(name, "range") ? 2 : same_text(name, "wrap") ? 3 : 0;
    if (kind && strchr(rest, '=')) {
        static char again[NAME_BYTES];
        int pass;
        for (pass = 0; pass < 2; pass++) { /* first whether all of it can be understood */
            copy_text(again, rest);
            pair = again;
            do {
                char *next;
                int equals;
                more = cut(pair, ',', &next);
                equals = cut(pair, '=', &value);
                name = strip(pair);
                value = strip(value);
                if (kind == 1) {
                    if (!equals || !is_code(name) || !*value) return;
                    if (pass) {
                        int k, code = atoi(name);
                        for (k = 0; k < code_count && codes[k].code != code; k++) {}
                        if (k == code_count && code_count < MOST_CODES) code_count++;
                        if (k < MOST_CODES) {
                            codes[k].code = code;
                            copy_text(codes[k].name, value);
                        }
                    }
                } else if (kind == 3) {
                    double turn = is_number(value) ? strtod(value, NULL) : -1;
                    if (!(turn > 0 && turn < MOST_COUNT / 1000000)) return;
                    if (pass && same_text(name, "t")) wrap_t = turn;
                    if (pass && same_text(name, "n")) wrap_n = turn;
                }
                pair = next;
            } while (more);
        }
        announce();
        return;
    }
    copy_text(copy, text);
    pair = copy;
    fields = 0;
    do {
        more = cut(pair, ',', &rest);
        s = strip(pair);
        fields++;
        timed = timed || same_text(s, "t") || strncmp(s, "t/", 2) == 0;
        spaced = spaced || strchr(s, ' ') != NULL;
        if (!is_printable(s)) return;
        pair = rest;
    } while (more);
    if ((fields == 1 || spaced) && !timed) return;
    copy_text(copy, text);
    found = name_columns(copy);
    if (found) use_columns(found);
}

static void note(char *text)
{
    char *words, *time;
    double at;
    int k;
    if (!cut(text, ',', &words)) return;
    time = strip(text);
    if (!is_number(time)) return;
    at = strtod(time, NULL) * t_scale;
    if (!(-MOST_COUNT < at && at < MOST_COUNT)) return;
    words = strip(words);
    for (k = 0; k < READER_NOTES; k++) {
        if (same_text(reader_notes[k], words)) {
            heard[k] = 1;
            if (pending_count < MOST_PENDING) pending[pending_count++] = k + 1;
        }
    }
}

static int split_at(char *text, const char *separator, char **fields)
{
    int count = 0;
    char *rest;
    while (count < MOST_COLUMNS + 100) {
        int more = cut(text, *separator, &rest);
        fields[count++] = text;
        text = rest;
        if (!more) break;
    }
    return count;
}

static int split_plain(char *text, char **fields)
{
    int count = 0, size;
    char *s;
    if (strchr(text, ';')) {
        for (s = text; *s; s++) if (*s == ',') *s = '.';
        count = split_at(text, ";", fields);
    } else if (strchr(text, ',')) {
        count = split_at(text, ",", fields);
    } else if (strchr(text, '\t')) {
        count = split_at(text, "\t", fields);
    } else {
        while (*text) {
            while (*text && (size = blank(text)) > 0) { *text = 0; text += size; }
            if (!*text) break;
            fields[count++] = text;
            while (*text && !blank(text)) text++;
        }
        return count;
    }
    while (count > 1) {
        for (s = fields[count - 1]; *s && blank(s) > 0; s += blank(s)) {}
        if (*s) break;
        count--;
    }
    return count;
}

static int hex(int c) { return is_digit((char)c) ? c - '0' : c >= 'a' && c <= 'f' ? c - 87 : c >= 'A' && c <= 'F' ? c - 55 : -1; }

/* One line without its end, closed with a 0. */
static void take_line(unsigned char *raw, int size)
{
    static char *fields[2 * LINE_MAX_ + 10];
    int k;
    char *text;
    if (size == 0 || size > LINE_MAX_) return;
    if (size >= 3 && raw[0] == 0xEF && raw[1] == 0xBB && raw[2] == 0xBF) { take_line(raw + 3, size - 3); return; }
    for (k = 0; k < size; k++) if (raw[k] == 127 || (raw[k] < 32 && !(raw[k] && strchr("\t\033\a\b\f", raw[k])))) return;
    if (!is_utf8(raw, size)) return;
    if (size > 2 && raw[size - 3] == '*' && hex(raw[size - 2]) >= 0 && hex(raw[size - 1]) >= 0) {
        int counted = 0;
        for (k = 0; k < size - 3; k++) counted ^= raw[k];
        if (counted != hex(raw[size - 2]) * 16 + hex(raw[size - 1])) return;
        size -= 3;
    }
    raw[size] = 0;
    text = (char *)raw;
    if (*text == '#') directive(text + 1);
    else if (*text == '!') note(text + 1);
    else if (column_count && loose) { k = split_plain(text, fields); sample(fields, k); }
    else if (column_count) { k = split_at(text, ",", fields); sample(fields, k); }
    else early++;
}

static unsigned char held[HELD_MAX + LINE_MAX_ + 8];
static int held_size = 0, holding = 0;

/* No header has come: what was held back is read by the columns that the logic was made for. */
static void headerless(void)
{
    static char text[sizeof without_header];
    static unsigned char again[LINE_MAX_ + 8];
    int at = 0, size;
    if (!holding) return;
    holding = 0;
    code_count = pending_count = 0;
    early = 0;
    wrap_t = wrap_n = -1;
    memset(heard, 0, sizeof heard);
    memcpy(text, without_header, sizeof text);
    use_columns(name_columns(text));
    loose = 1;
    while (at < held_size) {
        size = held[at++];
        memcpy(again, held + at, (size_t)size);
        again[size] = 0;
        at += size;
        take_line(again, size);
    }
}

/* One line without its end, closed with a 0. As in a recording, what stands before the first header is no sample. */
static void line(unsigned char *raw, int size)
{
    if (holding && size && size <= LINE_MAX_) {
        held[held_size++] = (unsigned char)size;
        memcpy(held + held_size, raw, (size_t)size);
        held_size += size;
    }
    take_line(raw, size);
    if (holding && column_count) holding = 0;
    if (held_size > HELD_MAX) headerless();
}

/* ---------------------------------------------------------------- the built-in samples */

static long met = 0, row = 0;
static int differs = 0;

static void told(long at, int32_t event)
{
    printf("sample %ld, %s, %s (event %ld)", at, READER_SLOT(event) >= 0 ? reader_slots[READER_SLOT(event)] : "no slot",
           colour_name(READER_COLOUR(event)), (long)event);
}

static void meet(int32_t event)
{
    if (!differs && (met >= EVENT_COUNT || events[met][0] != row || events[met][1] != event)) {
        differs = 1;
        printf("first difference: here ");
        told(row, event);
        printf(", on the computer ");
        if (met < EVENT_COUNT) told(events[met][0], events[met][1]);
        else printf("nothing more");
        printf("\n");
    }
    met++;
}

/* How long a step takes where this runs; a board takes longer. */
static void say_step_time(void)
{
    clock_t begun = clock(), took;
    long steps = 0, events_met = 0;
    int k;
    do {
        reader_begin();
        for (row = 0; row < SAMPLE_COUNT; row++) {
            for (k = 0; k < READER_SENSORS; k++) {
                const int32_t *s = samples[row * READER_SENSORS + k];
                reader_sample now = {s[0], s[1], s[2], s[3], s[4], s[5], s[6], s[7], s[8], s[9]};
                events_met += reader_step(k, &now) != 0;
            }
            steps++;
        }
        took = clock() - begun;
    } while (steps && took < CLOCKS_PER_SEC / 50);
    if (steps && events_met <= steps * READER_SENSORS) {
        printf("a step takes %.3f us here\n", (double)took / CLOCKS_PER_SEC * 1e6 / (double)steps);
    }
}

static int same_as_on_the_computer(void)
{
    int k;
    for (row = 0; row < SAMPLE_COUNT; row++) {
        for (k = 0; k < READER_SENSORS; k++) {
            const int32_t *s = samples[row * READER_SENSORS + k];
            reader_sample now = {s[0], s[1], s[2], s[3], s[4], s[5], s[6], s[7], s[8], s[9]};
            int32_t event = reader_step(k, &now);
            if (event) meet(event);
        }
    }
    reader_finish(meet);
    if (!differs && met < EVENT_COUNT) {
        differs = 1;
        printf("first difference: here nothing more, on the computer ");
        told(events[met][0], events[met][1]);
        printf("\n");
    }
    if (!differs) {
        printf("same as on the computer (%d samples, %d events, reader %s)\n", SAMPLE_COUNT, EVENT_COUNT, READER_FINGERPRINT);
        say_step_time();
    }
    return differs;
}

static void complain(void)
{
    int k, a;
    if (!rows) fprintf(stderr, "check: no sample was understood%s\n", *without_header ? "" : "; the stream has no header");
    if (rows && early) fprintf(stderr, "check: %ld lines before the first header were left out, as in a recording\n", early);
    if (restarts) {
        fprintf(stderr, "check: the robot restarted: each stretch is read by itself here, a comparison counts the longest\n");
    }
    for (k = 0; k < READER_SENSORS; k++) {
        int lacks, differs_here = 0;
        for (lacks = 1; lacks >= 0; lacks--) {
            const char *before = lacks ? ", not sent: " : ", new: ";
            for (a = 0; a < 8; a++) {
                int sent = channel(attribute_names[a], reader_sensors[k]) != NULL, made = (made_for[k] >> a) & 1;
                if (made != lacks || sent == made) continue;
                if (!differs_here++) fprintf(stderr, "check: the reader was made for other columns");
                fprintf(stderr, "%s%s", before, attribute_names[a]);
                before = ", ";
            }
        }
        if (differs_here) fprintf(stderr, "\n");
        if (first[k] == 2 && (made_for[k] >> 7 & 1) && (made_for[k] >> 4 & 1)) {
            fprintf(stderr, "check: the colour column stays empty: make the reader for this sensor's mode, --like such a run\n");
        }
    }
    for (k = 0; WAITS && k < READER_NOTES; k++) {
        if (!heard[k]) fprintf(stderr, "check: the note '%s' never came: the strategy needs it\n", reader_notes[k]);
    }
}

int main(void)
{
    static unsigned char buffer[LINE_MAX_ + 8];
    int size = 0, c, any = 0;
    reader_begin();
#ifdef HAS_TERMINAL
    if (isatty(0)) return same_as_on_the_computer();
#endif
    holding = *without_header != 0;
    while ((c = getchar()) != EOF) {
        any = 1;
        if (c == '\n' || c == '\r') {
            buffer[size <= LINE_MAX_ ? size : LINE_MAX_ + 1] = 0;
            line(buffer, size);
            size = 0;
        } else {
            if (size <= LINE_MAX_) buffer[size] = (unsigned char)c;
            if (size <= LINE_MAX_) size++;
        }
    }
    if (!any) return same_as_on_the_computer();
    buffer[size <= LINE_MAX_ ? size : LINE_MAX_ + 1] = 0;
    line(buffer, size);
    headerless();
    if (rows) finish_run();
    complain();
    return rows ? 0 : 3;
}
