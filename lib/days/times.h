/* times.h - times as files write them, as moments. Allocates nothing.
 *
 * 2026-01-14 17:00[:00] (also with T, / or .), 14.01.2026 17:00, 14/01/2026 or
 * 01/14/2026 where the options say which, 5:30 PM, 24:00, an offset (Z, +11:00) after
 * it, or Unix seconds or milliseconds. */
#ifndef SLUICE_DAYS_TIMES_H
#define SLUICE_DAYS_TIMES_H

#include "days/days.h"
#include "days/fields.h"

struct days_times {
    const struct days_options *options;
    bool any;
    struct wall last; /* told before: which of two equal local times is meant */
    /* The day read last, as there are many rows a day. */
    char date_text[10];
    bool date_known, day_known;
    int32_t date_day, base_day;
    bool day_even; /* no clock change in base_day */
    int64_t base_ms;
    char complaint[200];
};

void days_times_begin(struct days_times *times, const struct days_options *options);

/* NULL, or what is wrong with it: then `wall` means nothing. `clock` is a second field
 * with the time of the day, or NULL where the date has it. */
const char *days_times_read(struct days_times *times, const struct days_field *field,
                            const struct days_field *clock, struct wall *wall);

/* Would it be a time of one of the forms, be there such a moment or not? Unix time does
 * not count: any whole number would pass for one. */
bool days_times_looks_like_one(const struct days_options *options, struct days_field field);

#endif
