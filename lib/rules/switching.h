/* switching.h - a load is ordered on or off: what that begins in every section. */
#ifndef SLUICE_RULES_SWITCHING_H
#define SLUICE_RULES_SWITCHING_H

#include "turn.h"

void load_switch_on(struct turn *turn, uint16_t index);
void load_switch_off(struct turn *turn, uint16_t index);

#endif
