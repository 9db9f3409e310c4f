/* power_panel.h - the power of the house over the day. */
#ifndef SLUICE_TOOLS_POWER_PANEL_H
#define SLUICE_TOOLS_POWER_PANEL_H

#include "axis.h"

enum { POWER_TOP = 150, POWER_HEIGHT = 250 };

/* Solar, spare, used and imported power. */
void picture_power(struct picture *picture, double top);

#endif
