/* row_table.c - the settings of all kinds of something as one table. */
#include "core/row_table.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static bool same_field(const struct setting_row *a, const struct setting_row *b)
{
    return a->kind == b->kind && a->unit == b->unit && a->offset == b->offset &&
           a->size == b->size && a->per == b->per && a->choices == b->choices;
}

bool row_table_add(struct row_table *table, const struct setting_row *row, int kind)
{
    uint32_t only = kind < 0 ? 0 : 1u << kind;
    for (size_t k = 0; k < table->count; k++)
        if (strcmp(table->row[k].key, row->key) == 0) {
            if (!same_field(&table->row[k], row))
                return false;
            table->row[k].only |= only;
            return true;
        }
    if (table->count == table->most)
        return false;
    table->row[table->count] = *row;
    table->row[table->count++].only = only;
    return true;
}

void row_table_put(struct row_table *table, const struct setting_row *row, int kind, const char *of)
{
    if (row_table_add(table, row, kind))
        return;
    fprintf(stderr, "the %s setting \"%s\" is there as another field, or one too many\n", of,
            row->key);
    abort();
}
