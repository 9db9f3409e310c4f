/* remember.h - what goes into the ledger, and how it comes back. */
#ifndef SLUICE_DAEMON_REMEMBER_H
#define SLUICE_DAEMON_REMEMBER_H

#include "common.h"
#include "rules/rules.h"

struct site;

enum { BOOT_ID_SIZE = 40 };

struct interval {
    struct mono since;
    int64_t spare_mj, solar_mj;
    struct load_totals loads[SETTINGS_LOADS_MAX]; /* totals when the interval began */
    int64_t import_mj, export_mj;
};

/* What is kept over a restart, as far as it is not the engine's own memory. */
struct kept {
    struct heat_memory *heat[SETTINGS_LOADS_MAX]; /* of those that learn; else NULL */
    uint8_t heat_saved[SETTINGS_LOADS_MAX];       /* the newest day that the ledger has */
    char ordered[LEDGER_ORDERS_MAX];              /* people's orders, as last given to the ledger */
    struct interval history;                      /* since its last row of history */
    struct mono commit_due;
    bool now_due; /* something happened that no crash may undo */
};

void remember_boot_id(const struct site *site, char boot[static BOOT_ID_SIZE]);
void remember_restore(struct site *site);
/* At a reload: a load that was here before goes on with all that is still so. */
void remember_again(struct site *site, const char *name, const struct rules_settings *rules,
                    uint16_t index);
/* At a reload: the loads have been numbered anew. */
void remember_renumber(struct site *site);
void remember_book(struct site *site, int64_t dt_ms); /* between two turns, for history */
void remember_turn(struct site *site);                /* history and commits that are due */
void remember_stop(struct site *site);                /* with the last, shorter row of history */

#endif
