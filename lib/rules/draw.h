/* draw.h - section 5: what observing is given of each load, and gives back. */
#ifndef SLUICE_RULES_DRAW_H
#define SLUICE_RULES_DRAW_H

#include "turn.h"

void watch_draws(struct turn *turn);
/* The load has been ordered on, or off. */
void draw_ordered(struct turn *turn, uint16_t index, bool on);
/* Whether the step of another load's switching could be taken for that of a start now. */
bool others_are_unshown(struct turn *turn, uint16_t index);

#endif
