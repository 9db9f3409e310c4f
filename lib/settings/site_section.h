/* site_section.h - the site and its supply. */
#ifndef SLUICE_SETTINGS_SITE_SECTION_H
#define SLUICE_SETTINGS_SITE_SECTION_H

#include "read.h"

void site_read(const struct reader *reader, const struct node *root, struct settings *settings);

#endif
