/* phrase.h - sentences with numbers in them, as rows.
 *
 * In a phrase each '%' stands for the next of its arguments. What an argument is (a power,
 * a duration, ...) says how its number is written: rounded as people would say it, and what
 * is left to wait rounded up, so that it is never shown as nothing. */
#ifndef SLUICE_TERMS_PHRASE_H
#define SLUICE_TERMS_PHRASE_H

#include <stdint.h>

#include "core/text.h"

enum phrase_argument_kind {
    PHRASE_NONE,
    PHRASE_POWER,      /* W */
    PHRASE_ENERGY,     /* mWh */
    PHRASE_DURATION,   /* ms */
    PHRASE_AMOUNT,     /* of the floor's measure */
    PHRASE_CLOCK,      /* second of the day */
    PHRASE_CURRENT,    /* mA */
    PHRASE_VOLTAGE,    /* mV */
    PHRASE_RESISTANCE, /* milliohms */
    PHRASE_PERMILLE,
    PHRASE_PRICE, /* millionths of the currency per kWh */
    PHRASE_NUMBER,
    PHRASE_TIMES,   /* "once", "twice", "3 times" */
    PHRASE_HEALTH,  /* enum output_health */
    PHRASE_QUALITY, /* enum reading_quality */
    PHRASE_PART,    /* permille, said as "half" where it is near a usual part */
    PHRASE_NAME,    /* the caller's */
};

enum { PHRASE_ARGUMENTS = 4 };

struct phrase {
    const char *text; /* NULL: there is no such phrase */
    struct {
        enum phrase_argument_kind kind;
        int number; /* which of the numbers */
    } argument[PHRASE_ARGUMENTS];
};

struct phrase_numbers {
    const int64_t *number;
    int count;
    uint8_t measure; /* enum floor_measure, for PHRASE_AMOUNT */
    const char *name;
};

void phrase_write(const struct phrase *phrase, const struct phrase_numbers *numbers,
                  struct text *text);

#endif
