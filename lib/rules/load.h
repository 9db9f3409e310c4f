/* load.h - a load by itself: what it takes, and what its own rests and limits leave it. */
#ifndef SLUICE_RULES_LOAD_H
#define SLUICE_RULES_LOAD_H

#include "turn.h"

int32_t load_stages_w(const struct load_settings *load, uint8_t stages);
/* The power a start is expected to add. */
int32_t load_start_w(const struct load_settings *load, const struct load_memory *memory);
/* The power that it is expected to draw at its present level and stage. */
int32_t load_expected_w(const struct load_settings *load, const struct load_memory *memory);
/* All it can draw: for a floor's need. */
int32_t load_most_w(const struct load_settings *load, const struct load_memory *memory);
uint8_t load_phase_count(const struct load_settings *load);
int64_t load_min_on_left_ms(const struct turn *turn, uint16_t index);
int64_t load_min_off_left_ms(const struct turn *turn, uint16_t index);
int64_t load_starts_wait_ms(const struct turn *turn, uint16_t index);
int64_t load_daily_left_ms(const struct turn *turn, uint16_t index);
int64_t load_closes_ms(const struct turn *turn, uint16_t index);

#endif
