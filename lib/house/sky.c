/* A sky is a row: how long clouds and gaps last, how much each lets through,
 * how fast their edges are. A wet morning is one row until noon and another
 * after it. */
#include "house/sky.h"

#include <math.h>

#define CLEARS_AT_S (12 * 3600)

struct sky_row {
    double cloud_s, gap_s;          /* mean lengths */
    double cloud_least, cloud_most; /* share that gets through a cloud */
    double gap_least, gap_most;     /* and through a gap */
    double edge_s;
};

static const struct sky_row sky_rows[] = {
    [SKY_CLEAR] = {600, 600, 1, 1, 1, 1, 1},
    [SKY_CLOUDS] = {240, 480, 0.2, 0.6, 0.95, 1.08, 15},
    [SKY_OVERCAST] = {1200, 1200, 0.08, 0.14, 0.1, 0.2, 300},
    [SKY_WET_MORNING] = {900, 900, 0.03, 0.08, 0.05, 0.12, 240},
    [SKY_DARK] = {1800, 1800, 0.005, 0.02, 0.01, 0.03, 300},
};
static const struct sky_row after_the_rain = {150, 900, 0.35, 0.7, 0.95, 1.05, 20};

void sky_init(struct sky *sky, enum sky_kind kind, uint64_t seed)
{
    *sky = (struct sky){.kind = kind, .prng = {seed}};
    sky->share = sky->aims = sky_rows[kind].cloud_most;
}

double sky_step(struct sky *sky, int32_t now_s, double dt_s)
{
    bool cleared = sky->kind == SKY_WET_MORNING && now_s >= CLEARS_AT_S;
    const struct sky_row *row = cleared ? &after_the_rain : &sky_rows[sky->kind];
    sky->left_s -= dt_s;
    if (sky->left_s <= 0) {
        sky->in_cloud = !sky->in_cloud;
        sky->left_s = prng_exponential(&sky->prng, sky->in_cloud ? row->cloud_s : row->gap_s);
        sky->aims = sky->in_cloud ? prng_between(&sky->prng, row->cloud_least, row->cloud_most)
                                  : prng_between(&sky->prng, row->gap_least, row->gap_most);
    }
    sky->share += (sky->aims - sky->share) * (1 - exp(-dt_s / row->edge_s));
    return sky->share;
}
