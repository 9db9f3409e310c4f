/* sky.h - clouds: the share of clear-sky light that gets through.
 *
 * Clouds pass one after another with gaps between, each with its own length and
 * thickness, drawn from the seed; their edges take some seconds. A cloud's edge
 * throws up to a tenth more light than a clear sky gives ("cloud enhancement";
 * common knowledge in the trade, no source). Lengths are exponential with means
 * of minutes, as one-minute irradiance records show; not fitted to any. */
#ifndef SLUICE_HOUSE_SKY_H
#define SLUICE_HOUSE_SKY_H

#include <stdbool.h>
#include <stdint.h>

#include "house/prng.h"

enum sky_kind {
    SKY_CLEAR,
    SKY_CLOUDS,      /* fair-weather clouds all day */
    SKY_OVERCAST,    /* a tenth to a fifth gets through, slowly changing */
    SKY_WET_MORNING, /* thick and wet until about noon, then clouds with growing gaps */
    SKY_DARK,        /* a storm all day: next to nothing */
};

struct sky {
    enum sky_kind kind;
    struct prng prng;
    bool in_cloud;
    double left_s;      /* of this cloud or gap */
    double aims, share; /* where the light is going, and where it is */
};

void sky_init(struct sky *sky, enum sky_kind kind, uint64_t seed);

/* The share in the step that begins at second now_s of the day. */
double sky_step(struct sky *sky, int32_t now_s, double dt_s);

#endif
