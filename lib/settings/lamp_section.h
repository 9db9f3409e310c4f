/* lamp_section.h - the lamp that shows what goes on. */
#ifndef SLUICE_SETTINGS_LAMP_SECTION_H
#define SLUICE_SETTINGS_LAMP_SECTION_H

#include "read.h"

/* Buses and loads have been read before. */
void lamp_read(const struct reader *reader, struct node *root, struct settings *settings);

#endif
