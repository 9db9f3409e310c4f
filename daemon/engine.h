/* engine.h - the pure engine among its edges. */
#ifndef SLUICE_DAEMON_ENGINE_H
#define SLUICE_DAEMON_ENGINE_H

#include "site.h"

void engine_turn(struct site *site);

/* Obeyed in the next turn; false: too many at once. */
bool engine_order(struct site *site, const struct command *command);

#endif
