/*
 * Prints what your robot sees and does, one line a sample, for Sidelong to record and replay.
 * One header for C++11 boards, nothing else is needed. Whatever has write(const uint8_t *, size_t) can print: Serial, say.
 *
 *     #include "emitter.h"
 *     sidelong::Emitter<decltype(Serial)> out(Serial, "colour,refl/%,heading/deg,dist/cm");
 *     out.codes("0=none,1=rust,2=leaf");           (what whole-number colours mean)
 *
 *     void loop() {
 *         out.begin(millis());                     (a sample: its values in the order of the columns)
 *         now.code = out.colour(colour, reader_colours, READER_COLOURS);   (give a reader what is printed, see reader.h)
 *         now.refl = out.number(light, 1);         (decimals: %, deg 1; cm 2; mm 1)
 *         now.h = out.number(heading, 1);
 *         out.missing();                           (no distance at the moment)
 *         out.end();
 *         out.note(millis(), "gate open");         (what your program does; a new leg can begin with it)
 *         out.read(millis(), "tag 1", "rust");     (what your program took as the reading of a slot)
 *     }
 *
 * Where radio and cable are forbidden while driving, keep the run in memory and print it afterwards:
 *     static uint8_t store[3000];
 *     out.keep(store, sizeof store);   ...   out.hand_over();
 */
#ifndef SIDELONG_EMITTER_H
#define SIDELONG_EMITTER_H

#include <stddef.h>
#include <stdint.h>
#include <string.h>

namespace sidelong {

static const int32_t MISSING = -1073741824L;

template <class Sink>
class Emitter {
public:
    Emitter(Sink &sink, const char *columns, bool checksum = true)
        : sink_(sink), columns_(columns), codes_(0), ranges_(0), mark_(0), checksum_(checksum), store_(0), size_(0), kept_(0),
          lost_(0), n_(0), t_(0), said_(0), begun_(false), strange_count_(0), at_(0) {}

    /** "0=none,1=rust": what whole-number colours mean. */
    void codes(const char *text) { codes_ = text; }
    /** "red=4..1023,refl=0..100": black level and full scale of channels. */
    void ranges(const char *text) { ranges_ = text; }
    /** Which reader drives, its strategy and fingerprint: out.reader(READER_STRATEGY "," READER_FINGERPRINT). */
    void reader(const char *text) { mark_ = text; }
    /** Keep lines in this memory instead of printing them. */
    void keep(uint8_t *store, size_t size) { store_ = store; size_ = size; kept_ = 0; lost_ = 0; begun_ = false; }
    /** Lines that memory had no room for, or that were too long. */
    uint32_t lost() const { return lost_; }

    /** Begin a sample at a time in ms. */
    void begin(uint32_t ms)
    {
        t_ = ms & MASK;
        if (!begun_ || (!store_ && ((t_ - said_) & MASK) >= 1000)) header();
        at_ = 0;
        put_whole((int32_t)n_, 0);
        put(",");
        put_whole((int32_t)t_, 0);
    }
    /** A whole number; gives it back for the reader. */
    int32_t whole(int32_t value)
    {
        put(",");
        put_whole(value, 0);
        return value;
    }
    /** A colour by its code. Gives its number among the colours of a reader; one that the reader does not know gets the next. */
    int32_t colour(int32_t code, const char *const *known, int32_t count)
    {
        const char *name = 0, *at = codes_;
        size_t size = 0;
        char text[20] = "code ";
        int32_t k, length = 5, left = code < 0 ? -code : code, digits = 1;
        whole(code);
        while (at && *at && !name) {
            int32_t sign = 1, value = 0;
            while (*at == ' ' || *at == ',') at++;
            if (*at == '-') { sign = -1; at++; }
            while (*at >= '0' && *at <= '9') value = value * 10 + (*at++ - '0');
            while (*at == ' ' || *at == '=') at++;
            for (size = 0; at[size] && at[size] != ','; size++) {}
            if (sign * value == code) name = at;
            else at += size;
        }
        if (!name) { /* the computer calls it so */
            if (code < 0) text[length++] = '-';
            while (left / digits > 9) digits *= 10;
            for (; digits; digits /= 10) text[length++] = (char)('0' + left / digits % 10);
            name = text;
            size = (size_t)length;
        }
        for (k = 0; k < count; k++) if (strncmp(known[k], name, size) == 0 && !known[k][size]) return k;
        for (k = 0; k < strange_count_ && strange_[k] != code; k++) {}
        if (k == strange_count_ && k < STRANGE) strange_[strange_count_++] = code;
        return count + (k < STRANGE ? k : STRANGE - 1);
    }
    /** A number with so many decimals; gives value x 10^decimals, half rounded up: what the reader steps on. */
    int32_t number(double value, int decimals)
    {
        int k;
        int32_t made;
        double raised;
        put(",");
        if (!(value - value == 0)) return MISSING;
        for (k = 0; k < decimals; k++) value *= 10;
        raised = value + 0.5;
        if (raised >= MOST) made = MOST;
        else if (raised <= -MOST) made = -MOST;
        else {
            made = (int32_t)raised;
            if (made > raised) made -= 1;
        }
        put_whole(made, decimals);
        return made;
    }
    /** A name, as of a colour. */
    void name(const char *text)
    {
        put(",");
        for (; *text; text++) put_char(*text == ',' || (uint8_t)*text < 32 ? ' ' : *text);
    }
    /** No value at the moment. */
    int32_t missing()
    {
        put(",");
        return MISSING;
    }
    /** The sample is complete. */
    void end()
    {
        finish(checksum_);
        n_ = (n_ + 1) & MASK;
    }

    void note(uint32_t ms, const char *text)
    {
        at_ = 0;
        put("!");
        put_whole((int32_t)(ms & MASK), 0);
        put(",");
        for (; *text && at_ < NOTE_LONGEST; text++) put_char((uint8_t)*text < 32 ? ' ' : *text);
        finish(true); /* a note that happens to end like a checksum must carry one, so all do */
    }
    void read(uint32_t ms, const char *slot, const char *colour)
    {
        at_ = 0;
        put("!");
        put_whole((int32_t)(ms & MASK), 0);
        put(",read,");
        put(slot);
        put(",");
        put(colour);
        finish(true);
    }
    /** Print what was kept, and how much there was no room for; then begin anew. */
    void hand_over()
    {
        uint8_t *store = store_;
        uint32_t lost = lost_;
        if (kept_) sink_.write(store_, kept_);
        kept_ = 0;
        lost_ = 0;
        begun_ = false;
        if (!lost) return;
        store_ = 0;
        at_ = 0;
        put("!");
        put_whole((int32_t)t_, 0);
        put(",memory full: ");
        put_whole((int32_t)lost, 0);
        put(" lines were not kept");
        finish(true);
        store_ = store;
    }

private:
    static const uint32_t MASK = 1073741823UL;
    static const int32_t MOST = 268435455L, STRANGE = 8;
    static const size_t LONGEST = 240, NOTE_LONGEST = 200;

    void header()
    {
        bool first = !begun_;
        begun_ = true;
        said_ = t_;
        at_ = 0;
        put("#n,t/ms,");
        put(columns_);
        finish(checksum_);
        at_ = 0;
        put("#wrap,n=1073741824,t=1073741824");
        finish(checksum_);
        extra("#codes,", codes_);
        extra("#range,", ranges_);
        if (first && mark_) {
            at_ = 0;
            put("!");
            put_whole((int32_t)t_, 0);
            put(",reader,");
            put(mark_);
            finish(true);
        }
    }
    void extra(const char *kind, const char *text)
    {
        if (!text) return;
        at_ = 0;
        put(kind);
        put(text);
        finish(checksum_);
    }
    void put_char(char one)
    {
        if (at_ <= LONGEST) line_[at_++] = (uint8_t)one;
    }
    void put(const char *text)
    {
        for (; *text; text++) put_char(*text);
    }
    void put_whole(int32_t value, int decimals)
    {
        char digits[14];
        int count = 0;
        uint32_t left = value < 0 ? 0u - (uint32_t)value : (uint32_t)value;
        while (left > 0 || count <= decimals) {
            digits[count++] = (char)('0' + left % 10);
            left /= 10;
        }
        if (value < 0) put_char('-');
        while (count > 0) {
            if (count == decimals) put_char('.');
            put_char(digits[--count]);
        }
    }
    void finish(bool checksum)
    {
        size_t k;
        uint8_t sum = 0;
        if (at_ > LONGEST || at_ + (checksum ? 3 : 0) > LONGEST) {
            lost_++; /* too long for a line: fewer columns */
            return;
        }
        if (checksum) {
            for (k = 0; k < at_; k++) sum = (uint8_t)(sum ^ line_[k]);
            line_[at_++] = '*';
            line_[at_++] = (uint8_t)"0123456789ABCDEF"[sum >> 4];
            line_[at_++] = (uint8_t)"0123456789ABCDEF"[sum & 15];
        }
        line_[at_++] = '\n';
        if (!store_) {
            sink_.write(line_, at_);
        } else if (!lost_ && kept_ + at_ <= size_) {
            memcpy(store_ + kept_, line_, at_);
            kept_ += at_;
        } else {
            lost_++;
        }
    }

    Sink &sink_;
    const char *columns_, *codes_, *ranges_, *mark_;
    bool checksum_;
    uint8_t *store_;
    size_t size_, kept_;
    uint32_t lost_, n_, t_, said_;
    bool begun_;
    int32_t strange_count_, strange_[STRANGE]; /* codes of colours that no reader knows */
    size_t at_;
    uint8_t line_[LONGEST + 8];
};

}  // namespace sidelong

#endif
