/* The voltage that a step's loads see is the one the step before left: one step
 * of lag instead of solving for it, which at a second a step no meter would
 * notice, and the energy of every load still adds up to the grid's exactly. */
#include "house/grid.h"

#include <math.h>

#define WANDER_V 1.5
#define WANDER_S 60.0
#define JITTER_HZ 0.02

void grid_init(struct grid *grid, const struct grid_settings *settings)
{
    *grid = (struct grid){.settings = *settings, .prng = {settings->seed}};
    grid->hz = settings->nominal_hz;
    for (int p = 0; p < settings->phase_count; p++)
        grid->phase_v[p] = settings->nominal_v;
}

static void find_voltage(struct grid *grid, int p, double keeps)
{
    grid->wander[p] = grid->wander[p] * keeps +
                      WANDER_V * prng_between(&grid->prng, -1, 1) * sqrt(1 - keeps * keeps);
    double import_a = grid->phase_w[p] / grid->phase_v[p];
    grid->phase_v[p] =
        grid->settings.nominal_v + grid->wander[p] - import_a * grid->settings.source_ohm;
    grid->phase_a[p] = fabs(grid->phase_w[p] / grid->phase_v[p]);
}

void grid_step(struct grid *grid, double dt_s, const double phase_w[PHASES_MAX])
{
    if (dt_s != grid->kept_dt_s) {
        grid->kept_dt_s = dt_s;
        grid->kept = exp(-dt_s / WANDER_S);
    }
    grid->total_w = 0;
    for (int p = 0; p < grid->settings.phase_count; p++) {
        grid->phase_w[p] = phase_w[p];
        grid->total_w += phase_w[p];
        find_voltage(grid, p, grid->kept);
    }
    if (grid->total_w > 0)
        grid->import_j += grid->total_w * dt_s;
    else
        grid->export_j -= grid->total_w * dt_s;
    grid->hz = grid->settings.nominal_hz + prng_between(&grid->prng, -JITTER_HZ, JITTER_HZ);
}
