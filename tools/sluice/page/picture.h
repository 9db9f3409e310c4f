/* picture.h - the sheet on which a day is drawn: where things are, and in which
 * colours. day_picture.c lays it out; the panels are drawn by the other files. */
#ifndef SLUICE_TOOLS_PICTURE_H
#define SLUICE_TOOLS_PICTURE_H

#include "sluice/day/day.h"
#include "svg.h"

#define PAPER "#fffdf8"
#define INK "#2f2b26"
#define MUTED "#7b7468"
#define FAINT "#ece5d8"
#define BACKDROP "#f7f2e8"
#define SOLAR "#fbe6a6"
#define SPARE "#f7c452"
#define USED "#ec8f2b"
#define GRID "#6287ad"
#define CLOSED "#4a453e"
#define DEADLINE "#b23a48"
#define KEPT "#3d7d4f"

enum {
    SHEET_WIDTH = 1200,
    PLOT_LEFT = 176,
    PLOT_RIGHT = 1020,
    SIDE_LEFT = 1036, /* figures beside the plot */
    MARGIN = 28,
    POWER_TOP = 150,
    POWER_HEIGHT = 250,
    LANE_HEIGHT = 104,
};

struct picture {
    struct svg svg;
    const struct day *day;
};

double picture_x(const struct picture *picture, int64_t at_ms);

/* Vertical lines and, below `bottom`, local times. */
void picture_hours(struct picture *picture, double top, double bottom, bool labels);

/* power_panel.c: solar, spare, used and imported power. Returns its bottom. */
double picture_power(struct picture *picture, double top);

/* lane_panel.c: one load. `number` counts runs over all lanes. */
void picture_lane(struct picture *picture, const struct day_track *load, double top);

/* The number by which a run is told in the notes, from 1, by time of beginning. */
int picture_run_number(const struct day *day, const struct day_run *run);
/* "11:42–13:20"; open at the end that lies outside the day. */
void picture_times(const struct day *day, const struct day_run *run, struct text *text);

#endif
