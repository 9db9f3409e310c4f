/* supply.h - section 8: what the supply and its groups can carry. */
#ifndef SLUICE_RULES_SUPPLY_H
#define SLUICE_RULES_SUPPLY_H

#include "turn.h"

void keep_supply(struct turn *turn);
/* REASON_NONE where `power_w` more fits; fills the reason's numbers. */
bool supply_fits(const struct turn *turn, uint16_t index, int64_t power_w, struct reason *reason);
bool group_is_free(const struct turn *turn, uint16_t index);
/* The most that load may draw in all within the limits, own draw included. */
int64_t supply_headroom_w(const struct turn *turn, uint16_t index);
void supply_take(struct turn *turn, uint16_t index, int64_t power_w);

#endif
