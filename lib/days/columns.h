/* columns.h - which column of a table holds what. */
#ifndef SLUICE_DAYS_COLUMNS_H
#define SLUICE_DAYS_COLUMNS_H

#include "days/days.h"
#include "days/fields.h"
#include "days/names.h"

/* One value of a row. */
struct days_cell {
    int column;
    int32_t second; /* of the day, where a row is a day: the beginning of its step */
    enum days_role role;
    enum days_unit unit;
};

struct days_columns {
    int time, clock; /* the clock: the time of day in a column of its own; -1: there is none */
    int stream, meter, unit, quality; /* texts that say what a row is of; -1 */
    bool wide;                        /* a row is a day */
    int32_t step_s;                   /* of wide rows */
    struct days_cell cell[DAYS_FIELDS_MAX];
    int cell_count;
};

/* The beginning of a table. */
struct days_head {
    const struct days_options *options;
    const char *path;
    struct days_report *report;
    size_t line;                   /* of the names, or the first row's */
    const struct days_field *name; /* [count]; the first row's where there are no names */
    bool named;
    const struct days_field *row; /* [count] the first row */
    int count;
};

/* False: stops are in the report. */
bool days_columns_find(struct days_columns *columns, const struct days_head *head);

#endif
