/* appliances.h - an hour's use as appliances that come and go. */
#ifndef SLUICE_REFINE_APPLIANCES_H
#define SLUICE_REFINE_APPLIANCES_H

#include <stdbool.h>

#include "house/prng.h"
#include "refine/pieces.h"

struct refine_use {
    struct prng prng;
    bool fridge_on;
    double fridge_left_s;
};

void refine_use_begin(struct refine_use *use, uint64_t seed);

/* A row of step_s whose mean is mean_w; base_w is what the house takes at its calmest
 * around that time. */
void refine_use_row(struct refine_use *use, int32_t step_s, double mean_w, double base_w,
                    struct refine_pieces *pieces);

#endif
