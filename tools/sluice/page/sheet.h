/* sheet.h - the sheet on which days are drawn: where things are, and in which colours. */
#ifndef SLUICE_TOOLS_SHEET_H
#define SLUICE_TOOLS_SHEET_H

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
};

#endif
