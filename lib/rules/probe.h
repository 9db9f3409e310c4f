/* probe.h - section 12: looking for power that a throttled inverter hides. */
#ifndef SLUICE_RULES_PROBE_H
#define SLUICE_RULES_PROBE_H

#include "turn.h"

void probe_watch(struct turn *turn);
bool probe_allowed(const struct turn *turn, uint16_t index);

#endif
