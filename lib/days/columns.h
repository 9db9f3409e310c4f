/* columns.h - which column holds what, in which unit. */
#ifndef SLUICE_DAYS_COLUMNS_H
#define SLUICE_DAYS_COLUMNS_H

#include "days/days.h"
#include "days/fields.h"

struct days_columns {
    int index[DAYS_ROLE_COUNT];           /* -1: there is none */
    enum days_unit unit[DAYS_ROLE_COUNT]; /* never by header */
    bool unit_named[DAYS_ROLE_COUNT];     /* by the options, not by the header */
    int clock_index;                      /* the time of day in a column of its own, or -1 */
};

/* `head`: the fields of the first line. `header`: whether they are names. `row`: the
 * fields of the first row. Both have `count`. False: stops are in the report. */
bool days_columns_find(struct days_columns *columns, const struct days_options *options,
                       const struct days_field *head, bool header, const struct days_field *row,
                       int count, const char *path, struct days_report *report);

const char *days_role_name(enum days_role role); /* "use", as in the option --use */
const char *days_unit_name(enum days_unit unit);
bool days_unit_parse(const char *word, enum days_unit *unit);

#endif
