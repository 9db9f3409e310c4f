/* decide.h - sections 9 to 12: who runs. */
#ifndef SLUICE_RULES_DECIDE_H
#define SLUICE_RULES_DECIDE_H

#include "turn.h"

void decide(struct turn *turn);

#endif
