/* tariff_section.h - what energy costs. */
#ifndef SLUICE_SETTINGS_TARIFF_SECTION_H
#define SLUICE_SETTINGS_TARIFF_SECTION_H

#include "read.h"

void tariff_read(const struct reader *reader, const struct node *root, struct settings *settings);

#endif
