/* load.h - a load by itself: what its own rests and limits leave it. */
#ifndef SLUICE_RULES_LOAD_H
#define SLUICE_RULES_LOAD_H

#include "kind.h"
#include "turn.h"

/* What is ordered of it now: a test goes before the hand order. */
static inline enum hand load_ordered(const struct load_memory *memory)
{
    return (enum hand)(memory->test != HAND_AUTO ? memory->test : memory->hand);
}

int64_t load_min_on_left_ms(const struct turn *turn, uint16_t index);
int64_t load_min_off_left_ms(const struct turn *turn, uint16_t index);
int64_t load_starts_wait_ms(const struct turn *turn, uint16_t index);
int64_t load_daily_left_ms(const struct turn *turn, uint16_t index);
int64_t load_closes_ms(const struct turn *turn, uint16_t index);

#endif
