/* store.h - snapshots into the file and back.
 *
 * One thread at a time. Opens by itself what can be opened. */
#ifndef SLUICE_LEDGER_STORE_H
#define SLUICE_LEDGER_STORE_H

#include "ledger/stage.h"

enum { STORE_BOOT_MAX = 40 };

struct store;

/* NULL: no memory. */
struct store *store_new(const struct ledger_settings *settings, const char *boot);
void store_free(struct store *store);

/* False: nothing can be written now; `trouble` says why. `notice` is filled in where a
 * damaged file was put aside. */
bool store_open(struct store *store, char notice[static LEDGER_EVENT_MAX], struct trouble *trouble);

/* A damaged file was put aside in this run: what is not there may have been lost. */
bool store_was_damaged(const struct store *store);

/* People's orders go into their own file, whether or not the ledger can be written. */
void store_write_orders(struct store *store, const struct stage *stage);

/* All of it or nothing, on disk when it returns true. `warning` says what is wrong
 * although it was written, or is "". */
bool store_write(struct store *store, const struct stage *stage,
                 char warning[static LEDGER_EVENT_MAX], struct trouble *trouble);

bool store_counter(struct store *store, const char *key, int64_t *value);
/* Calls `take` for each note that can be read; false where not all can. */
typedef void store_take_note(void *context, const char *key, const char *text);
bool store_each_note(struct store *store, store_take_note *take, void *context);
bool store_last_save(struct store *store, struct wall *wall, struct mono *mono,
                     char boot[static STORE_BOOT_MAX]);

#endif
