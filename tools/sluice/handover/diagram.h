/* diagram.h - the house as fitted, as the settings have it: a block diagram. */
#ifndef SLUICE_TOOLS_DIAGRAM_H
#define SLUICE_TOOLS_DIAGRAM_H

#include <stdio.h>

#include "settings/settings.h"

void diagram_draw(const struct settings *settings, FILE *to);

#endif
