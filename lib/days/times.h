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
    enum days_clock clock; /* as the options have it, or as files turned out to be */
    enum days_dates dates;
    bool newest_first; /* of two equal local times the later comes first */
    /* Of dates whose day and month come in either order. */
    bool date_either, date_proven; /* was there one, and one with a day above 12 */
    bool date_wrong_order;         /* the last complaint: there is no such month */
    bool spring_hour;              /* the last complaint: an hour that clocks skip */
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

/* The day alone, of a table with a line for each; and a second of it, 0 .. 86400. */
const char *days_times_day(struct days_times *times, const struct days_field *field, int32_t *day);
const char *days_times_second(struct days_times *times, int32_t day, int32_t second,
                              struct wall *wall);

/* A time of the day in the name of a column, "00:30" or "12:30am": the first that is
 * there. */
bool days_times_in_name(struct days_field name, int32_t *second);

/* Would it be a date, without a time of day? */
bool days_times_looks_like_day(const struct days_options *options, struct days_field field);

/* Would it be a time of one of the forms, be there such a moment or not? Unix time does
 * not count: any whole number would pass for one. */
bool days_times_looks_like_one(const struct days_options *options, struct days_field field);

#endif
