/* row_table.h - the settings of all kinds of something (an output, an input, a sensor) as one
 * table.
 *
 * A key that several kinds have stands there once, with the kinds that it goes with. So it must
 * mean the same field to all of them: a row has one place, and what is written would land in
 * another kind's field. */
#ifndef SLUICE_CORE_ROW_TABLE_H
#define SLUICE_CORE_ROW_TABLE_H

#include <stdbool.h>
#include <stdint.h>

#include "core/setting.h"

struct row_table {
    struct setting_row *row; /* as many as there is room for */
    size_t most, count;
};

/* `kind`: the one that it goes with, -1: all. False, and nothing is added: no room, or the key
 * is there with another place or type. */
bool row_table_add(struct row_table *table, const struct setting_row *row, int kind);

/* The same, for tables that are put together before main begins. A row that cannot be added is a
 * mistake in a kind's file, and no program starts with it: says so and aborts. `of`: "output". */
void row_table_put(struct row_table *table, const struct setting_row *row, int kind,
                   const char *of);

#endif
