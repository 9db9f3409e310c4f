/* grid_meter.h - what the meter at the connection point tells, which need not be true.
 *
 * Each channel takes one phase's current by a transformer and the voltage of that
 * phase. A transformer turned round shows its power with the other sign. Two phases
 * exchanged with current and voltage together show each other's power; where their
 * transformers alone are exchanged, each channel multiplies a current with a voltage a
 * third of a turn away: at unity power factor, as all loads here, -1/2 of the power
 * (cos 120 degrees; P = U I cos phi, any textbook of alternating current). Its energy
 * registers count the power that it sees. */
#ifndef SLUICE_HOUSE_GRID_METER_H
#define SLUICE_HOUSE_GRID_METER_H

#include <stdbool.h>

#include "house/grid.h"

/* What a meter knows, whatever way it tells it. */
struct measured {
    int phases;
    double v[PHASES_MAX], a[PHASES_MAX], w[PHASES_MAX];
    double total_w, hz;
    double import_wh, export_wh;
};

struct grid_meter_settings {
    double resolution_w; /* its powers are rounded to this; 0: not at all */
    double noise_w;      /* by which each phase is off, evenly up to +-; 0: not at all */
    double every_s;      /* how often it is looked at; 0: each step */
    bool inverted;       /* all of it the wrong way round, and always has been */
    double start_import_wh, start_export_wh;
    uint64_t seed;
};

/* Bit 0 is L1. All zero: sound. */
struct grid_meter_faults {
    uint8_t reversed;  /* transformers turned round */
    uint8_t exchanged; /* two phases, currents and voltages: each shows the other's power */
    uint8_t crossed;   /* two phases, transformers alone */
    bool stuck;        /* goes on telling the last values */
};

struct grid_meter {
    struct grid_meter_settings settings;
    struct grid_meter_faults faults;
    struct prng prng;
    double import_wh, export_wh; /* counted, whatever is told */
    double left_s;               /* until it is looked at again */
    struct measured shown;
    bool fresh; /* shown is of this step */
};

void grid_meter_init(struct grid_meter *meter, const struct grid_meter_settings *settings,
                     const struct grid *grid);

/* After grid_step. */
void grid_meter_step(struct grid_meter *meter, double dt_s, const struct grid *grid);

#endif
