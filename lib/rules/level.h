/* level.h - section 13: how far on. */
#ifndef SLUICE_RULES_LEVEL_H
#define SLUICE_RULES_LEVEL_H

#include "turn.h"

void level_on_start(struct turn *turn, uint16_t index);
void levels_adjust(struct turn *turn);

#endif
