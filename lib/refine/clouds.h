/* clouds.h - an hour's sun as passing clouds. */
#ifndef SLUICE_REFINE_CLOUDS_H
#define SLUICE_REFINE_CLOUDS_H

#include <stdbool.h>

#include "house/prng.h"
#include "refine/pieces.h"

struct refine_sun {
    struct prng prng;
    bool broken, in_cloud;
    double left_s;       /* of this cloud or gap */
    double cloud_mean_s; /* how long clouds last, at present */
    double aims, share;  /* the light's share of a clear sky's: where it goes, where it is */
    double from, to;     /* slow drift: between two values */
    double drift_s, drifted_s;
};

/* Of a row and its neighbours: the mean that was measured, what a clear sky would give at
 * their middles, and the share of a clear sky's light. */
struct refine_row {
    int32_t step_s;
    double mean_w, most_w; /* most: at any moment of any row */
    double before_clear_w, clear_w, after_clear_w;
    double before_share, share, after_share; /* 1 at night */
};

void refine_sun_begin(struct refine_sun *sun, uint64_t seed);
void refine_sun_row(struct refine_sun *sun, const struct refine_row *row,
                    struct refine_pieces *pieces);

#endif
