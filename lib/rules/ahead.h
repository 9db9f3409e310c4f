/* ahead.h - section 7a: what heat is worth decides when a water heater starts. */
#ifndef SLUICE_RULES_AHEAD_H
#define SLUICE_RULES_AHEAD_H

#include "turn.h"

void weigh_heat(struct turn *turn);

#endif
