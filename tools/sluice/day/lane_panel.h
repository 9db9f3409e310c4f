/* lane_panel.h - one load over the day. */
#ifndef SLUICE_TOOLS_LANE_PANEL_H
#define SLUICE_TOOLS_LANE_PANEL_H

#include "axis.h"

enum { LANE_HEIGHT = 104 };

void picture_lane(struct picture *picture, const struct result_track *load, double top);

/* The number by which a run is told in the notes, from 1, by time of beginning. */
int picture_run_number(const struct result *day, const struct result_run *run);
/* "11:42–13:20"; open at the end that lies outside the day. */
void picture_times(const struct result *day, const struct result_run *run, struct text *text);

#endif
