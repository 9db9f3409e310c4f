/* engine.h - the pure engine among its edges. */
#ifndef SLUICE_DAEMON_ENGINE_H
#define SLUICE_DAEMON_ENGINE_H

#include "site.h"

void engine_turn(struct site *site);

/* Obeyed in the next turn; false: too many at once. */
bool engine_order(struct site *site, const struct command *command);

/* The draw that the engine holds is what a meter shows now. */
bool engine_draw_is_known(const struct site *site, uint16_t load);

#endif
