/* remember.h - what goes into the ledger, and how it comes back. */
#ifndef SLUICE_DAEMON_REMEMBER_H
#define SLUICE_DAEMON_REMEMBER_H

#include "common.h"
#include "engine.h"
#include "inputs.h"
#include "loop/clock.h"
#include "values/view.h"

enum { BOOT_ID_SIZE = 40 };

struct faults;
struct on_fault;

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
    /* Totals as they are on disk, and those of the commit that is on its way there. */
    struct stored_totals stored[SETTINGS_LOADS_MAX];
    struct load_totals storing[SETTINGS_LOADS_MAX];
    uint64_t storing_commit; /* 0: none is on its way */
    struct mono commit_due;
    bool now_due; /* something happened that no crash may undo */
};

void remember_boot_id(const struct clock *clock, char boot[static BOOT_ID_SIZE]);
/* How long nothing was recorded; -1 where no clock can tell. `boot`: of this run. */
int64_t remember_away_ms(const struct common *common, const char *boot);
/* `boot`: of this run. */
void remember_restore(struct kept *kept, struct engine *engine, struct inputs *inputs,
                      struct common *common, const char boot[static BOOT_ID_SIZE]);
/* At a reload: a load that was here before goes on with all that is still so. */
void remember_again(struct engine *engine, struct common *common, const char *name,
                    const struct rules_settings *rules, uint16_t index);
/* At a reload: the loads have been numbered anew. */
void remember_renumber(struct kept *kept, const struct engine *engine,
                       const struct settings *before, const struct settings *after);
/* Between two turns, for history. */
void remember_book(struct kept *kept, const struct engine *engine, const struct inputs *inputs,
                   const struct common *common, int64_t dt_ms);
/* History and commits that are due. */
void remember_turn(struct kept *kept, const struct engine *engine, const struct faults *faults,
                   const struct on_fault *on_fault, const struct inputs *inputs,
                   struct common *common);
/* With the last, shorter row of history. */
void remember_stop(struct kept *kept, const struct engine *engine, const struct faults *faults,
                   const struct on_fault *on_fault, const struct inputs *inputs,
                   struct common *common);

#endif
