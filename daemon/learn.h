/* learn.h - what water heaters have learnt, over restarts and reloads. */
#ifndef SLUICE_DAEMON_LEARN_H
#define SLUICE_DAEMON_LEARN_H

#include "engine.h"
#include "remember.h"

/* After rules_begin: gives each load that learns its memory, with what the ledger holds.
 * False: out of memory. */
bool learn_begin(struct kept *kept, struct engine *engine, struct common *common);

/* The loads have been numbered anew, and their memories moved: what learnt before and still
 * does keeps all it knows, what learns from now on begins with what the ledger holds. */
void learn_carry(struct kept *kept, struct engine *engine, struct common *common,
                 const struct settings *before, const struct settings *after);

/* Into the snapshot under way: what was learnt and what is under way each time, a day once
 * it has ended. */
void learn_save(struct kept *kept, struct common *common, uint16_t index);

void learn_end(struct kept *kept);

#endif
