/* floor.h - section 6: floors. */
#ifndef SLUICE_RULES_FLOOR_H
#define SLUICE_RULES_FLOOR_H

#include "turn.h"

void keep_floors(struct turn *turn);
/* rules_floor without the latest start, which costs a search. */
struct floor_view floor_so_far(const struct load_settings *load, const struct load_memory *memory,
                               bool trusted, uint8_t floor);

#endif
