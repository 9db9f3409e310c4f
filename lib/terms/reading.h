/* reading.h - what the meters say, and when each of them said it.
 *
 * A reading is made of sources. Each has its own moment, quality and last good
 * value: a sample that failed or cannot be right replaces nothing, it only lets the
 * last good one grow old. What is worked out from several sources (spare power, what
 * the house takes) holds only where their moments are close enough for that question.
 *
 * Grid power is positive when importing. `has` tells which values their sources have
 * ever given; the others are 0 and mean nothing. */
#ifndef SLUICE_TERMS_READING_H
#define SLUICE_TERMS_READING_H

#include "core/moment.h"

enum { PHASES = 3 };

/* How many phases a mask has; bit 0 is L1. */
static inline uint8_t phases_count(uint8_t phases)
{
    return (uint8_t)((phases & 1) + (phases >> 1 & 1) + (phases >> 2 & 1));
}

enum reading_quality {
    READING_ABSENT, /* nothing has been read yet */
    READING_FRESH,
    READING_STALE,       /* the last good value is older than the larger of 10 s and 3 polls */
    READING_IMPLAUSIBLE, /* what has been read since cannot be true; there may be no good value */
};

/* When a value was last good. The value itself stands beside it, and may be used only
 * with READING_FRESH. One that is the sum of several meters is as old as its oldest
 * part, as good as its worst, and new once each part is. */
struct source {
    enum reading_quality quality;
    uint32_t sequence; /* rises with every new good value */
    struct mono taken; /* when the last good value was sampled */
};

enum reading_has {
    HAS_GRID_POWER = 1 << 0,
    HAS_PHASE_POWER = 1 << 1,
    HAS_PHASE_CURRENT = 1 << 2,
    HAS_SOLAR_POWER = 1 << 3,
    HAS_BATTERY_POWER = 1 << 4,
    HAS_BATTERY_CHARGE = 1 << 5,
    HAS_IMPORT_ENERGY = 1 << 6,
    HAS_EXPORT_ENERGY = 1 << 7,
    HAS_VOLTAGE = 1 << 8,
    HAS_FREQUENCY = 1 << 9,
};

struct reading {
    struct source grid;    /* power, phases, currents, voltages, frequency, energy totals */
    struct source solar;   /* solar power: of all inverters together */
    struct source battery; /* power and charge */
    uint32_t has;          /* enum reading_has, or-ed */
    int32_t grid_power_w;
    int32_t phase_power_w[PHASES];
    int32_t phase_current_ma[PHASES];
    int32_t voltage_mv[PHASES];
    int32_t frequency_mhz;
    int32_t solar_power_w;   /* >= 0 producing */
    int32_t battery_power_w; /* positive charging, negative discharging */
    int32_t battery_charge_permille;
    int64_t import_energy_mwh, export_energy_mwh; /* the meter's own totals */
    bool inverter_throttled;                      /* the inverter itself says so (SunSpec St) */
    bool islanded; /* the site runs off the grid: loads are inhibited */
};

static inline bool battery_is_fresh(const struct reading *reading)
{
    return reading->battery.quality == READING_FRESH && (reading->has & HAS_BATTERY_POWER);
}

static inline bool solar_is_fresh(const struct reading *reading)
{
    return reading->solar.quality == READING_FRESH && (reading->has & HAS_SOLAR_POWER);
}

/* What inputs at the board show that goes before the load's own output. */
enum load_held {
    HELD_NOT, /* nothing, or nothing that is known */
    HELD_INHIBITED,
    HELD_IN_HAND,      /* its switch runs it past the output */
    HELD_OFF_AT_BOARD, /* its switch keeps it off */
    HELD_NOT_IN_AUTO,  /* its switch does one of the two, not known which */
    HELD_NO_SUPPLY,    /* its off-peak supply is off */
};

/* What is measured at one load. */
struct load_reading {
    struct source power; /* its own meter; absent where it has none */
    int32_t power_w;
    struct source tank; /* a temperature sensor in its tank; absent where it has none */
    int32_t tank_temperature_mc;
    struct source contact; /* an input behind its contactor; absent where nothing is sensed */
    bool contact_closed;   /* voltage behind it, or its auxiliary contact is closed */
    uint8_t held;          /* enum load_held */
    bool supplied;         /* its off-peak supply is sensed to be on, whatever the clock says */
};

/* READING_FRESH turns into READING_STALE once it is older than the larger of
 * 10 s and three polls; other qualities stay. */
enum reading_quality reading_quality_at(const struct source *source, struct mono now,
                                        int64_t poll_ms);

/* How long a fresh value stays fresh after it was taken. */
int64_t reading_fresh_ms(int64_t poll_ms);

const char *reading_quality_text(enum reading_quality quality); /* "fresh", "stale", ... */

#endif
