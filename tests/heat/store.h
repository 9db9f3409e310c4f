/* store.h - a water heater and its past, for the tests of this room. */
#ifndef SLUICE_TESTS_HEAT_STORE_H
#define SLUICE_TESTS_HEAT_STORE_H

#include "core/suite.h"
#include "heat/heat_inside.h"

#include <inttypes.h>
#include <stdio.h>

enum { TICKS_PER_DAY = MS_PER_DAY / HEAT_TICK_MS, NOON_SLOT = 24 };

struct store {
    struct heat_settings settings;
    struct tariff tariff;
    struct heat_outlook outlook;
    struct heat_memory memory;
    struct local local; /* of the next tick */
    struct moment now;  /* of the last tick */
};

/* 315 L to 65 degrees, 3.6 kW, import at 0.30, export at 0.05. Nothing is known yet. */
void store_make(struct store *store);

/* A past of `days` random days: a sun of its own strength each day, clouds each half hour,
 * a household that takes its part. Written straight to where past days are kept. */
void store_past(struct store *store, uint64_t seed, int days);

/* Every half hour of every day so much. */
void store_past_flat(struct store *store, int days, int16_t night_w, int16_t day_w);

/* What a kWh is worth at this half hour, under this sky, from one level to the next. */
double store_worth(const struct store *store, int slot, int sky, int level);

/* One tick on, with so much to spare since the last. */
void store_tick_on(struct store *store, int32_t spare_w);
/* And with no reading in it. */
void store_tick_unseen(struct store *store);
/* The local clock stands where the test has put it; so much has passed by the others. */
void store_tick_after(struct store *store, int64_t dt_ms);

#endif
