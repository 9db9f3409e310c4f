/* minutes.h - the calendar of a test house, minute by minute.
 *
 * A second opinion on zones, hours and prices: every minute of some weeks is
 * asked of the C library's own zone arithmetic, and hours and prices are looked
 * up in the settings' spans anew. Slow to make and simple to read; nothing of
 * lib/core or lib/tariff is called. */
#ifndef SLUICE_TESTS_MINUTES_H
#define SLUICE_TESTS_MINUTES_H

#include "rules/rules.h"

enum { MINUTES_MAX = 75 * 24 * 60, MINUTES_LOADS_MAX = 8 };

struct minute {
    int32_t day; /* local */
    int32_t second;
    int32_t price_micro;
    uint8_t open;     /* bit i: load i's hours hold */
    uint8_t supplied; /* bit i: its supply is on */
    bool quiet;
};

struct minutes {
    int64_t first; /* Unix minute of minute[0] */
    int32_t count;
    struct minute minute[MINUTES_MAX];
};

/* `rule` is the POSIX rule of settings->zone. Changes the process's TZ. */
void minutes_make(struct minutes *minutes, const char *rule, const struct rules_settings *settings,
                  struct wall from, int32_t days);

const struct minute *minutes_at(const struct minutes *minutes, int64_t wall_ms);

/* Unix ms of `second` (0..86400) on a local day: the first minute not before it. */
int64_t minutes_of_local(const struct minutes *minutes, int32_t day, int32_t second);

#endif
