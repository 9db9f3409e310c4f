/* grid.h - the connection point and the meter on it.
 *
 * Voltage falls with import and rises with export over the source impedance
 * (Ohm's law on the resistive part), and wanders; frequency jitters. Import
 * counts positive. Energy counts the sum of the phases at each instant, as most
 * retail meters do ("vector sum"). 0.2 ohm and +-20 mHz: common practice, no
 * source. */
#ifndef SLUICE_HOUSE_GRID_H
#define SLUICE_HOUSE_GRID_H

#include <stdint.h>

#include "house/phases.h"
#include "house/prng.h"

struct grid_settings {
    int phase_count; /* 1 or 3 */
    double nominal_v, source_ohm;
    double nominal_hz;
    uint64_t seed;
};

struct grid {
    struct grid_settings settings;
    struct prng prng;
    double wander[PHASES_MAX];                                            /* of the voltage, V */
    double phase_v[PHASES_MAX], phase_w[PHASES_MAX], phase_a[PHASES_MAX]; /* a: magnitude */
    double total_w, hz;
    double import_j, export_j;
    double kept_dt_s, kept; /* exp() once per step length */
};

void grid_init(struct grid *grid, const struct grid_settings *settings);

/* dt_s with this net power per phase: counts it, and finds the voltages that
 * follow from it. */
void grid_step(struct grid *grid, double dt_s, const double phase_w[PHASES_MAX]);

#endif
