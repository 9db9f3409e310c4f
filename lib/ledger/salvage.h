/* salvage.h - from a damaged file into a new one, whatever can be read. */
#ifndef SLUICE_LEDGER_SALVAGE_H
#define SLUICE_LEDGER_SALVAGE_H

#include <sqlite3.h>

#include "core/text.h"

/* Reads the file that was put aside at `path` table by table, row by row, from both ends, and
 * adds to `told` how many of each were brought into `to`. Neither is changed
 * otherwise. Where its first page, which says where the tables are, makes no sense, a copy
 * is read with the first page of `fresh`: tables are always made in the same order. */
void salvage(sqlite3 *to, const char *fresh, const char *path, struct text *told);

#endif
