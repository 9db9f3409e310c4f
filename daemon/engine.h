/* engine.h - the pure engine among its edges: its memory, the orders that it is given, and
 * what it decided. */
#ifndef SLUICE_DAEMON_ENGINE_H
#define SLUICE_DAEMON_ENGINE_H

#include "common.h"
#include "inputs.h"
#include "order_gate.h"
#include "output/output.h"
#include "rules/rules.h"

enum {
    /* of each load: by hand, test, inhibit, enable; and holiday and inhibit of all */
    SITE_COMMANDS_MAX = SETTINGS_LOADS_MAX * 4 + 2,
};

struct engine {
    struct rules_memory memory;
    struct load_memory loads[SETTINGS_LOADS_MAX];

    struct command commands[SITE_COMMANDS_MAX]; /* of the next turn */
    uint16_t command_count;
    struct orders orders;
    struct confirmation confirmed[SETTINGS_LOADS_MAX]; /* as the engine was last told */
    struct confirmation news[SETTINGS_LOADS_MAX];      /* of the last turn */
    uint16_t news_count;
    bool adopt[SETTINGS_LOADS_MAX]; /* remembered on: adopted if it reads back on */

    struct decision decisions[SETTINGS_LOADS_MAX];
    struct rules_outcome outcome;
    enum reason_code told[SETTINGS_LOADS_MAX];        /* the reason last written down */
    bool was_on[SETTINGS_LOADS_MAX];                  /* decided a turn ago */
    struct experiment last_start[SETTINGS_LOADS_MAX]; /* what its last switchings showed; */
    struct experiment last_stop[SETTINGS_LOADS_MAX];  /* sequence 0: nothing yet */
};

/* Between the last turn and now; 0: there was none. */
int64_t engine_since_turn_ms(const struct engine *engine, struct mono now);

/* Decides, and tells the outputs what is wanted of them. True: a switching, or orders, that no
 * crash may undo. */
bool engine_turn(struct engine *engine, const struct inputs *inputs, struct outputs *outputs,
                 struct common *common);

/* Obeyed in the next turn; false: too many at once. */
bool engine_order(struct engine *engine, const struct command *command);

/* At a reload: what loads that stay remember, and orders of this very turn, by the loads' new
 * numbers. */
void engine_carry(struct engine *engine, struct common *common, const struct settings *before,
                  struct settings *after);

#endif
