/* quote_section.h - what a comparison of ways to heat water takes for granted. */
#ifndef SLUICE_SETTINGS_QUOTE_SECTION_H
#define SLUICE_SETTINGS_QUOTE_SECTION_H

#include "read.h"

void quote_read(const struct reader *reader, const struct node *root, struct settings *settings);

#endif
