/* head.h - the beginning of a table: titles, the names of columns, the first row. */
#ifndef SLUICE_DAYS_HEAD_H
#define SLUICE_DAYS_HEAD_H

#include "days/columns.h"
#include "days/format.h"
#include "days/found.h"
#include "days/lines.h"

struct days_table_head {
    char separator;
    int count; /* fields of a line */
    bool named;
    size_t name_line, row_line; /* row_line: of the first row */
    struct days_field name[DAYS_FIELDS_MAX], row[DAYS_FIELDS_MAX];
    enum days_unit title_unit; /* that the lines above speak of, and no other */
};

/* Looks at the first lines, which stay where they are. False: a stop is in the report. */
bool days_head_find(struct days_table_head *head, struct days_lines *lines,
                    const struct days_file *file);

#endif
