/* The meter counts from what its channels see, before noise and rounding: those are
 * of the register that tells the power, not of the energy behind it. */
#include "house/grid_meter.h"

#include <math.h>

#define THIRD_OF_A_TURN (-0.5) /* cos 120 degrees */

static int other_of(uint8_t pair, int phase)
{
    uint8_t other = (uint8_t)(pair & ~(1 << phase));
    return pair & (1 << phase) && other ? __builtin_ctz(other) : phase;
}

/* Which phase's current a channel has. */
static int current_of(const struct grid_meter *meter, int channel)
{
    return other_of(meter->faults.crossed, other_of(meter->faults.exchanged, channel));
}

static double seen_w(const struct grid_meter *meter, const struct grid *grid, int channel)
{
    double w = grid->phase_w[current_of(meter, channel)];
    if (other_of(meter->faults.crossed, channel) != channel)
        w *= THIRD_OF_A_TURN;
    bool turned = meter->settings.inverted != ((meter->faults.reversed >> channel & 1) != 0);
    return turned ? -w : w;
}

static double rounded(double w, double resolution_w)
{
    return resolution_w > 0 ? round(w / resolution_w) * resolution_w : w;
}

static void look(struct grid_meter *meter, const struct grid *grid)
{
    const struct grid_meter_settings *settings = &meter->settings;
    struct measured *shown = &meter->shown;
    *shown = (struct measured){.phases = grid->settings.phase_count,
                               .hz = grid->hz,
                               .import_wh = meter->import_wh,
                               .export_wh = meter->export_wh};
    double total_w = 0;
    for (int p = 0; p < shown->phases; p++) {
        double w = seen_w(meter, grid, p);
        if (settings->noise_w > 0)
            w += prng_between(&meter->prng, -settings->noise_w, settings->noise_w);
        total_w += w;
        shown->v[p] = grid->phase_v[other_of(meter->faults.exchanged, p)];
        shown->a[p] = grid->phase_a[current_of(meter, p)];
        shown->w[p] = rounded(w, settings->resolution_w);
    }
    shown->total_w = rounded(total_w, settings->resolution_w);
    meter->fresh = true;
}

void grid_meter_init(struct grid_meter *meter, const struct grid_meter_settings *settings,
                     const struct grid *grid)
{
    bool inverted = settings->inverted;
    *meter = (struct grid_meter){
        .settings = *settings,
        .prng = {settings->seed},
        .import_wh = inverted ? settings->start_export_wh : settings->start_import_wh,
        .export_wh = inverted ? settings->start_import_wh : settings->start_export_wh,
        .left_s = settings->every_s};
    look(meter, grid);
}

static void count(struct grid_meter *meter, double dt_s, const struct grid *grid)
{
    double total_w = 0;
    for (int p = 0; p < grid->settings.phase_count; p++)
        total_w += seen_w(meter, grid, p);
    *(total_w > 0 ? &meter->import_wh : &meter->export_wh) += fabs(total_w) * dt_s / 3600;
}

void grid_meter_step(struct grid_meter *meter, double dt_s, const struct grid *grid)
{
    count(meter, dt_s, grid);
    meter->fresh = false;
    meter->left_s -= dt_s;
    if (meter->left_s > 0)
        return;
    meter->left_s += meter->settings.every_s;
    if (meter->left_s <= 0)
        meter->left_s = 0; /* steps longer than that */
    if (!meter->faults.stuck)
        look(meter, grid);
}
