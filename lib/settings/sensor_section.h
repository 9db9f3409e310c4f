/* sensor_section.h - temperature sensors in tanks. */
#ifndef SLUICE_SETTINGS_SENSOR_SECTION_H
#define SLUICE_SETTINGS_SENSOR_SECTION_H

#include "read.h"

/* Loads and the broker have been read before. */
void sensors_read(const struct reader *reader, struct node *root, struct settings *settings);

/* Whose tank each sits in, once the meters' thermometers have theirs. */
void sensors_match(const struct reader *reader, const struct node *root, struct settings *settings);

#endif
