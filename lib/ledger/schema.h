/* schema.h - the tables, and the way to them from any earlier version. */
#ifndef SLUICE_LEDGER_SCHEMA_H
#define SLUICE_LEDGER_SCHEMA_H

#include <sqlite3.h>

#include "core/trouble.h"

/* Brings the file to this program's version, each step a transaction of its own. An
 * empty file is version 0. False: a step failed, or a newer program wrote it. */
bool schema_migrate(sqlite3 *db, struct trouble *trouble);

#endif
