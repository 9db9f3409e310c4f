/* kept.h - what is remembered is one row.
 *
 * A struct that must survive is written as lines "key=value" and read back by one table:
 * where the field is, how its times are written, what it may be, and what becomes of a
 * value out of bounds. A program that knows more or fewer rows takes what it knows and
 * leaves the rest. The last line is a sum over those before it, so that a note that is
 * not as it was written is known to be so. */
#ifndef SLUICE_CORE_KEPT_H
#define SLUICE_CORE_KEPT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "text.h"

enum kept_kind {
    KEPT_NUMBER, /* as it is */
    KEPT_AGE,    /* a mono in the past: written as how long ago, ms */
    KEPT_LEFT,   /* a mono to come: written as how long still, ms; -1 for never */
};

/* What a value out of bounds becomes. */
enum kept_beyond {
    KEPT_BEGINS,  /* what a struct that begins has there */
    KEPT_NEAREST, /* the bound that it passed */
    KEPT_GREATEST,
};

struct kept_row {
    const char *key;
    enum kept_kind kind;
    enum kept_beyond beyond;
    size_t offset, size;
    int64_t least, greatest; /* as written */
};

/* KEPT_ROW(struct load_memory, hand_until, "hand_left_ms", LEFT, -1, MS_PER_DAY, BEGINS) */
#define KEPT_ROW(type, field, key_, kind_, least_, greatest_, beyond_)                             \
    {                                                                                              \
        .key = (key_), .kind = KEPT_##kind_, .beyond = KEPT_##beyond_,                             \
        .offset = offsetof(type, field), .size = sizeof(((type *)0)->field), .least = (least_),    \
        .greatest = (greatest_)                                                                    \
    }

struct kept_rows {
    const struct kept_row *row;
    size_t count;
};

#define KEPT_ROWS(array)                                                                           \
    {                                                                                              \
        (array), sizeof(array) / sizeof((array)[0])                                                \
    }

/* Adds a line for each row of the struct at `at`; `prefix` goes before each key. `t`: mono, ms. */
void kept_write(const struct kept_rows *rows, const char *prefix, const void *at, int64_t t,
                struct text *text);

/* Overwrites in `at`, which holds what begins, the rows that `text` has. Times are as of
 * `t`, `away_ms` (>= 0) after they were written. The keys of what was out of bounds are added
 * to `told`, which may be NULL. */
void kept_read(const struct kept_rows *rows, const char *prefix, const char *text, void *at,
               int64_t t, int64_t away_ms, struct text *told);

/* The same bounds for a struct that lives on. `begun`: the same struct as it begins. */
void kept_bound(const struct kept_rows *rows, const char *prefix, void *at, const void *begun,
                int64_t t, struct text *told);

/* The first line `key`: false where there is none, or no number behind it. */
bool kept_value(const char *text, const char *key, int64_t *value);

enum kept_state {
    KEPT_UNSEALED, /* it has no sum: written before there was one, or cut off */
    KEPT_WHOLE,
    KEPT_DAMAGED,
};

/* Adds the sum (CRC-32) over all that `text` holds. */
void kept_seal(struct text *text);
enum kept_state kept_check(const char *text);

#endif
