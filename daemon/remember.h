/* remember.h - what goes into the ledger, and how it comes back. */
#ifndef SLUICE_DAEMON_REMEMBER_H
#define SLUICE_DAEMON_REMEMBER_H

#include "site.h"

enum { BOOT_ID_SIZE = 40 };

void remember_boot_id(const struct site *site, char boot[static BOOT_ID_SIZE]);
void remember_restore(struct site *site);
/* At a reload: a load that was here before goes on with all that is still so. */
void remember_again(struct site *site, const char *name, const struct rules_settings *rules,
                    uint16_t index);
void remember_book(struct site *site, int64_t dt_ms); /* between two turns, for history */
void remember_turn(struct site *site);                /* history and commits that are due */
void remember_now(struct site *site);
void remember_stop(struct site *site); /* with the last, shorter row of history */

#endif
