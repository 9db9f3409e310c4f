/* meter_section.h - the lines and what is read on them. */
#ifndef SLUICE_SETTINGS_METER_SECTION_H
#define SLUICE_SETTINGS_METER_SECTION_H

#include "read.h"

void buses_read(const struct reader *reader, struct node *root, struct settings *settings);

/* After the buses, before the loads: a load is told whether it has a meter. */
void meters_read(const struct reader *reader, struct node *root, struct settings *settings,
                 const char *maps_dir);

/* After the loads: each thermometer belongs to the tank of one load, and no two to one. */
void tanks_match(const struct reader *reader, const struct node *root, struct settings *settings);

/* Of the loads that tell most of their tank: the one, if it is but one. */
bool find_the_tank(const struct settings *settings, uint16_t *index);

#endif
