/* forbid.h - section 9: what keeps a load off. */
#ifndef SLUICE_RULES_FORBID_H
#define SLUICE_RULES_FORBID_H

#include "turn.h"

/* REASON_NONE: nothing forbids it. */
struct reason forbidden(const struct turn *turn, uint16_t index);

#endif
