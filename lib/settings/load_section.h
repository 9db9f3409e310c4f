/* load_section.h - one load's settings, its output and its floors. */
#ifndef SLUICE_SETTINGS_LOAD_SECTION_H
#define SLUICE_SETTINGS_LOAD_SECTION_H

#include "read.h"

/* Reads the load at `index` of `settings` from its map; site, buses and groups have
 * been read before. */
void load_read(const struct reader *reader, struct node *map, struct settings *settings,
               uint16_t index);

#endif
