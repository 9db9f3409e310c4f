/* axis.h - a day's hours from left to right, for all that is drawn over them. */
#ifndef SLUICE_TOOLS_AXIS_H
#define SLUICE_TOOLS_AXIS_H

#include "day.h"
#include "sluice/page/sheet.h"

struct picture {
    struct svg svg;
    const struct result *day;
};

double picture_x(const struct picture *picture, int64_t at_ms);

/* Vertical lines and, below `bottom`, local times. */
void picture_hours(struct picture *picture, double top, double bottom, bool labels);

#endif
