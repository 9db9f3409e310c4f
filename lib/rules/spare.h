/* spare.h - section 7: how much is spare, and for whom. */
#ifndef SLUICE_RULES_SPARE_H
#define SLUICE_RULES_SPARE_H

#include "turn.h"

void count_spare(struct turn *turn);
int64_t spare_available(const struct turn *turn, const struct load_memory *memory,
                        const int64_t pool_w[PHASES]);
int64_t spare_start_need(const struct load_settings *load, const struct load_memory *memory);
/* Section 10's A: with its own draw, the lower ones' and what is being given back. */
int64_t spare_with_own(const struct turn *turn, const struct load_memory *memory);
/* What the loads still to come in order could give up: all of them at first, then
 * without each load that has had its turn or has been switched off. */
void spare_sum_gives(struct turn *turn);
void spare_relieve(struct turn *turn, const struct load_memory *memory, int64_t power_w);
void spare_forgo(struct turn *turn, const struct load_memory *memory);
bool spare_holds(struct turn *turn, uint16_t index, enum basis *basis);
void spare_take(struct turn *turn, const struct load_memory *memory, int64_t power_w);

#endif
