/* reading.h - what the meters say at one moment.
 *
 * Grid power is positive when importing. `has` tells which values are there;
 * the others are 0 and mean nothing. A reading is only as good as its quality:
 * with anything but READING_FRESH nothing may run on account of spare power. */
#ifndef SLUICE_TERMS_READING_H
#define SLUICE_TERMS_READING_H

#include "core/moment.h"

enum { PHASES = 3 };

enum reading_quality {
    READING_ABSENT, /* nothing has been read yet */
    READING_FRESH,
    READING_STALE,       /* older than the larger of 10 s and 3 polls */
    READING_IMPLAUSIBLE, /* read, but it cannot be true: reading_fault says why */
};

enum reading_has {
    HAS_GRID_POWER = 1 << 0,
    HAS_PHASE_POWER = 1 << 1,
    HAS_PHASE_CURRENT = 1 << 2,
    HAS_SOLAR_POWER = 1 << 3,
    HAS_BATTERY_POWER = 1 << 4,
    HAS_BATTERY_CHARGE = 1 << 5,
    HAS_TANK_TEMPERATURE = 1 << 6,
    HAS_IMPORT_ENERGY = 1 << 7,
    HAS_EXPORT_ENERGY = 1 << 8,
    HAS_VOLTAGE = 1 << 9,
    HAS_FREQUENCY = 1 << 10,
};

struct reading {
    enum reading_quality quality;
    uint32_t has;      /* enum reading_has, or-ed */
    uint32_t sequence; /* rises with every new sample of grid power */
    struct mono taken; /* when grid power was sampled */
    int32_t grid_power_w;
    int32_t phase_power_w[PHASES];
    int32_t phase_current_ma[PHASES];
    int32_t voltage_mv[PHASES];
    int32_t frequency_mhz;
    int32_t solar_power_w;   /* >= 0 producing */
    int32_t battery_power_w; /* positive charging, negative discharging */
    int32_t battery_charge_permille;
    int32_t tank_temperature_mc;
    int64_t import_energy_mwh, export_energy_mwh; /* the meter's own totals */
    bool inverter_throttled;                      /* the inverter itself says so (SunSpec St) */
    bool islanded; /* the site runs off the grid: loads are inhibited */
};

/* READING_FRESH turns into READING_STALE once it is older than the larger of
 * 10 s and three polls; other qualities stay. */
enum reading_quality reading_quality_at(const struct reading *reading, struct mono now,
                                        int64_t poll_ms);

/* How long a fresh reading stays fresh after it was taken. */
int64_t reading_fresh_ms(int64_t poll_ms);

const char *reading_quality_text(enum reading_quality quality); /* "fresh", "stale", ... */

#endif
