/* found.h - what was understood of a customer's files, for people to look at before they
 * trust it: also where the days were refused, as far as reading went. */
#ifndef SLUICE_DAYS_FOUND_H
#define SLUICE_DAYS_FOUND_H

#include "days/days.h"

/* What a channel is used for. */
enum days_fate {
    DAYS_NOT_USED, /* known, but others of its kind give more; or not needed */
    DAYS_USED,
    DAYS_ASKED_FOR, /* nobody knows what it is, and it could matter */
    DAYS_IGNORED,   /* by the options */
};

struct days_found_channel {
    char name[DAYS_NAME_SIZE]; /* as in the file */
    int file;                  /* which of the paths it begins in, from 0, */
    size_t line;               /* and where: its name, or its first value */
    enum days_role role;       /* what it is understood as; DAYS_UNKNOWN */
    enum days_unit unit;       /* DAYS_UNIT_BY_HEADER: unknown */
    enum days_fate fate;
    int32_t step_s;
    struct wall first, end; /* its span */
    size_t count;           /* steps in it, */
    size_t missing, gaps;   /* of which without a value, and how many runs of these */
    size_t estimated;       /* values that somebody estimated or substituted */
    double day_kwh;         /* the mean of days; litres for hot water; NaN: unit unknown */
    double most_w;          /* the largest step's mean; litres an hour; NaN: unit unknown */
    struct wall most_at;
};

/* What the days hold. */
enum days_view {
    DAYS_VIEW_NONE, /* no days came out */
    DAYS_VIEW_HOME, /* what the household used and what the roof gave */
    /* What was imported and exported: surplus is right, but what the household took from
     * its own roof is in neither. */
    DAYS_VIEW_METER,
    DAYS_VIEW_NO_SURPLUS, /* the household's use alone: neither sun nor export */
};

enum { DAYS_HOW_MAX = 16 };

struct days_found {
    bool weighed; /* the channels' sums, gaps and largest steps are worked out: nobody who only
                   * wants the days pays for looking at all values once more */
    struct days_found_channel channel[DAYS_CHANNELS_MAX];
    int count;
    enum days_view view;
    struct wall first, end;          /* of the days */
    double use_day_kwh, sun_day_kwh; /* the means of the days that came out */
    enum days_clock clock;           /* that the times were read by */
    /* In sentences: how the files were read ("3 title lines are left out"). */
    struct trouble how[DAYS_HOW_MAX];
    int how_count;
};

void days_found_how(struct days_found *found, const char *path, size_t line, const char *format,
                    ...) __attribute__((format(printf, 4, 5)));

#endif
