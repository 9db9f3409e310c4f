/* observe.h - section 5: looks at what the house takes. */
#ifndef SLUICE_RULES_OBSERVE_H
#define SLUICE_RULES_OBSERVE_H

#include "turn.h"

void take_look(struct turn *turn);
void forget_looks(struct draw_memory *draw);
/* How many looks after a change it takes until the level shows it. */
int looks_to_show(const struct turn *turn);
/* The level of the whole site, and of one phase of the grid's power, `past` looks ago. */
bool site_level(const struct turn *turn, int past, int32_t *level_w);
bool phase_level(const struct turn *turn, unsigned phase, int past, int32_t *level_w);
/* No load is switching, and what any did was shown by the look before. */
bool is_undisturbed(const struct turn *turn);
/* From here on the level is watched for what is being switched. */
void mark_level(struct turn *turn, uint16_t index);
/* The level shows what switching this load has done. */
bool level_shows(const struct turn *turn, const struct load_memory *memory);
/* Something of its switching is still under way, or for the meter to show. */
bool is_switching(const struct load_memory *memory);
/* Whether the step of another load's switching could be taken for that of a start now. */
bool others_are_unshown(struct turn *turn, uint16_t index);

#endif
