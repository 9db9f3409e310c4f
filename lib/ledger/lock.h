/* lock.h - whose a ledger is: a lock file beside it. The kernel lets go of it however the
 * process ends. */
#ifndef SLUICE_LEDGER_LOCK_H
#define SLUICE_LEDGER_LOCK_H

#include <stdbool.h>

enum { LOCK_NAME_MAX = 512 };
void lock_name(const char *path, char name[static LOCK_NAME_MAX]); /* the lock file's */

/* False only where another process has it. *lock is to be closed; < 0: a place where no lock
 * file can be made will not take the ledger either, and SQLite says so. */
bool lock_take(const char *path, int *lock);

#endif
