/* takeover.h - section 12: a lower load gives way to a higher one. */
#ifndef SLUICE_RULES_TAKEOVER_H
#define SLUICE_RULES_TAKEOVER_H

#include "turn.h"

void takeover_watch(struct turn *turn);
bool takeover_begin(struct turn *turn, uint16_t index, uint16_t place);
void takeover_succeeded(struct turn *turn);
/* Adds what its victims have been ordered to give and the meter has not shown. */
void takeover_add_relief(const struct turn *turn, int64_t pool_w[PHASES]);

#endif
