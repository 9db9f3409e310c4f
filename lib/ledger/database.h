/* database.h - snapshots into the file and back.
 *
 * One thread at a time. Opens by itself what can be opened. */
#ifndef SLUICE_LEDGER_DATABASE_H
#define SLUICE_LEDGER_DATABASE_H

#include "ledger/stage.h"

enum { DATABASE_BOOT_MAX = 40 };

struct database;

/* NULL: no memory. */
struct database *database_new(const struct ledger_settings *settings, const char *boot);
void database_free(struct database *database);

/* False: nothing can be written now; `trouble` says why. `notice` is filled in where a
 * damaged file was put aside. */
bool database_open(struct database *database, char notice[static LEDGER_EVENT_MAX],
                   struct trouble *trouble);

/* A damaged file was put aside in this run: what is not there may have been lost. */
bool database_was_damaged(const struct database *database);

/* People's orders go into their own file, whether or not the ledger can be written. */
void database_write_orders(struct database *database, const struct stage *stage);

/* All of it or nothing, on disk when it returns true. `warning` says what is wrong
 * although it was written, or is "". */
bool database_write(struct database *database, const struct stage *stage,
                    char warning[static LEDGER_EVENT_MAX], struct trouble *trouble);

/* Calls `take` for each note that can be read; false where not all can. */
typedef void database_take_note(void *context, const char *key, const char *text);
bool database_each_note(struct database *database, database_take_note *take, void *context);
bool database_last_save(struct database *database, struct wall *wall, struct mono *mono,
                        char boot[static DATABASE_BOOT_MAX]);

#endif
