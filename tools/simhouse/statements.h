/* statements.h - what each kind of statement adds to a scenario. */
#ifndef SIMHOUSE_STATEMENTS_H
#define SIMHOUSE_STATEMENTS_H

#include "cursor.h"
#include "scenario.h"

struct statement_row {
    const char *word;
    bool (*read)(struct scenario *scenario, struct cursor *cursor, int line);
};

/* Each ends with a NULL word. */
extern const struct statement_row house_statements[]; /* statements_house.c */
extern const struct statement_row load_statements[];  /* statements_load.c */
extern const struct statement_row day_statements[];   /* statements_day.c */

#endif
