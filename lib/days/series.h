/* series.h - rows that come one after another, as days without gaps. */
#ifndef SLUICE_DAYS_SERIES_H
#define SLUICE_DAYS_SERIES_H

#include "days/days.h"

struct days_values { /* NaN: missing */
    float use_w, solar_w, draw_l;
};

struct days_series {
    struct days *days;
    const struct days_options *options;
    struct days_report *report;
    const char *path;
    size_t capacity;
    bool any, broken;
    bool with_draws;
    struct wall last;
    /* Rows without values at the end so far. */
    size_t gap_rows, gap_line;
    size_t refused; /* rows since the last good one, each of which had its place */
};

/* days->step_s is set; days are otherwise empty. */
void days_series_begin(struct days_series *series, struct days *days,
                       const struct days_options *options, bool with_draws, const char *path,
                       struct days_report *report);

/* `at` begins the row. Order, steps and gaps are checked; false: no use to go on. */
bool days_series_add(struct days_series *series, struct wall at, const struct days_values *values,
                     size_t line);

/* A row that was refused: no days will come out, and what it leaves is no gap to tell. */
void days_series_refuse(struct days_series *series);

/* Fills the gaps as the options say. False: a stop is in the report. */
bool days_series_end(struct days_series *series);

#endif
