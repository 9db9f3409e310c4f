/* looks.h - looks at what the house takes. */
#ifndef SLUICE_OBSERVE_LOOKS_H
#define SLUICE_OBSERVE_LOOKS_H

#include "observe/inside.h"

/* One of the site, where all of its sources were read anew. */
void take_look(struct observing *o);
/* And what it says for this load. */
void take_load_look(struct observing *o);
/* How many looks after a change it takes until the level shows it. */
int looks_to_show(const struct observing *o);
/* The level of the whole site, and of one phase of the grid's power, `past` looks ago. */
bool site_level(const struct observing *o, int past, int32_t *level_w);
bool phase_level(const struct observing *o, unsigned phase, int past, int32_t *level_w);
/* There were as many looks since `since` as it takes until the level shows what has changed. */
bool looks_show(const struct observing *o, const struct draw_memory *draw, int64_t since);
/* From here on the level is watched for what is being switched. */
void mark_level(struct observing *o, int64_t others_moved_ms);
/* The level shows what switching this load has done. */
bool level_shows(const struct observing *o);
/* No load is switching, and what any did was shown by the look before. */
bool is_undisturbed(const struct observing *o);

#endif
