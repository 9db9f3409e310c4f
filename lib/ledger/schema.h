/* schema.h - the tables, and the way to them from any earlier version. */
#ifndef SLUICE_LEDGER_SCHEMA_H
#define SLUICE_LEDGER_SCHEMA_H

#include <sqlite3.h>

#include "core/trouble.h"

/* False: a newer program wrote it, or it cannot be read. Changes nothing. */
bool schema_is_known(sqlite3 *db, struct trouble *trouble);

/* Brings the file to this program's version, each step a transaction of its own. An
 * empty file is version 0. False: a step failed. */
bool schema_migrate(sqlite3 *db, struct trouble *trouble);

#endif
