/* reader.h - a database file to read from, whoever writes it. */
#ifndef SLUICE_LEDGER_READER_H
#define SLUICE_LEDGER_READER_H

#include <sqlite3.h>

#include "core/trouble.h"

/* Beside whoever writes it, or from where nothing may be written. NULL: `trouble`. */
sqlite3 *reader_open(const char *path, struct trouble *trouble);

/* SQLite's text, and the system's behind it where there is one. */
bool reader_blame(sqlite3 *db, struct trouble *trouble);

#endif
