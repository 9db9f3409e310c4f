/* draw.h - section 5: what shows of each load. */
#ifndef SLUICE_RULES_DRAW_H
#define SLUICE_RULES_DRAW_H

#include "turn.h"

void watch_draws(struct turn *turn);
/* The load has been ordered on, or off: remembers what the meter showed before. */
void draw_begin(struct turn *turn, uint16_t index);
void draw_end(struct turn *turn, uint16_t index);

#endif
