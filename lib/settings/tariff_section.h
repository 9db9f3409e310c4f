/* tariff_section.h - what energy costs, read and told. */
#ifndef SLUICE_SETTINGS_TARIFF_SECTION_H
#define SLUICE_SETTINGS_TARIFF_SECTION_H

#include <stdio.h>

#include "read.h"

void tariff_read(const struct reader *reader, const struct node *root, struct settings *settings);

/* A sentence for each part of it; nothing where prices are not known. */
void describe_tariff(FILE *to, const struct tariff *tariff);

#endif
