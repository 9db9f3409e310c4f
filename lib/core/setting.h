/* setting.h - one setting is one row.
 *
 * Each room owns its settings struct and the rows that describe it; the parser,
 * the checks, the error texts, `sluice explain` and the commented example all
 * follow from the rows. A row says where in the struct the value goes, and how
 * people write it. */
#ifndef SLUICE_CORE_SETTING_H
#define SLUICE_CORE_SETTING_H

#include <stddef.h>

#include "quantity.h"

enum setting_kind {
    SETTING_QUANTITY, /* `unit` says of what; field is int8..int64, signed or not, by `size` */
    SETTING_TEXT,     /* char[size] */
    SETTING_YES_NO,   /* bool */
    SETTING_CHOICE,   /* an enum stored in `size` bytes; `choices` lists the words */
    SETTING_WEEKDAYS, /* uint8_t mask, bit 0 is Monday */
    SETTING_HOURS,    /* struct hours: one span or a list of spans */
    SETTING_PHASES,   /* uint8_t mask, bit 0 is L1: "L1", or [L1, L2, L3] */
    SETTING_WORDS,    /* a list of texts; handled by the section's own code */
};

struct setting_choice {
    const char *word;
    int value;
    const char *text; /* what choosing it does */
};

struct setting_row {
    const char *key;
    enum setting_kind kind;
    enum quantity_kind unit;
    size_t offset, size;
    int64_t least, greatest; /* in the inside unit; both 0: not limited */
    int64_t per;             /* the field counts in so many of the inside unit; 0: in ones */
    const char
        *initial; /* as people write it; NULL: required; "": may be left out (field stays 0) */
    const struct setting_choice *choices; /* ended by a NULL word */
    uint32_t
        only; /* bit n: it goes with choice n of the rows' first, such as `kind`; 0: with all */
    const char *example; /* for the commented example where `initial` is none */
    const char *text;    /* one or two sentences: what it does, when to change it */
};

/* The place of a field: SETTING_AT(struct load_settings, power_w) */
#define SETTING_AT(type, field) .offset = offsetof(type, field), .size = sizeof(((type *)0)->field)

struct setting_rows {
    const struct setting_row *row;
    size_t count;
};

#define SETTING_ROWS(array)                                                                        \
    {                                                                                              \
        (array), sizeof(array) / sizeof((array)[0])                                                \
    }

/* Takes what a kind of output or sensor says of its settings; `key` is the one that it is about, or
 * "". */
typedef void setting_say(void *context, const char *key, const char *text);

/* Rows under a path of the settings file: "site", "loads.NAME", "loads.NAME.output". */
struct section {
    const char *path;
    const struct setting_rows *rows;
    const char *text; /* what it is for; NULL: another section of that path says it */
};

#endif
