/* cursor.h - a moment in a home's days: what is used, what the roof gives, how hot
 * water flows, and until when that is so. Moves forward only. */
#ifndef SLUICE_TRIAL_CURSOR_H
#define SLUICE_TRIAL_CURSOR_H

#include "trial/home.h"

struct cursor {
    const struct trial_home *home;
    const struct days *days;
    size_t row;
    int64_t row_end_ms, flow_end_ms, end_ms; /* wall */
    double use_w, solar_w, flow_l_s;
};

void cursor_begin(struct cursor *cursor, const struct trial_home *home, const struct days *days);

/* To a moment before end_ms. */
void cursor_move(struct cursor *cursor, int64_t wall_ms);

#endif
