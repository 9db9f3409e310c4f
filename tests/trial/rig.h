/* rig.h - invented days and a home to run them in. */
#ifndef TESTS_TRIAL_RIG_H
#define TESTS_TRIAL_RIG_H

#include "house/prng.h"
#include "trial/run.h"

enum { RIG_ROWS_MAX = 40 * 1440, RIG_DRAWS_MAX = 40 * 1440 };

struct rig {
    struct zone zone;
    struct tariff tariff;
    struct trial_home home;
    struct days days;
    struct rules_settings rules;
    struct load_settings load[TRIAL_LOADS_MAX];
    uint16_t order[TRIAL_LOADS_MAX];
    float use_w[RIG_ROWS_MAX], solar_w[RIG_ROWS_MAX], draw_l[RIG_DRAWS_MAX];
    uint16_t lasts[RIG_ROWS_MAX];
};

/* Sydney, from 1 October 2026 0:00 local time (summer time begins on the 4th); flat 0.30,
 * feed-in 0.05; nothing used, no sun, no draws; the reference tank of one zone. The rules
 * have the heater as their one load. */
struct rig *rig_new(int32_t step_s, size_t count);
void rig_free(struct rig *rig);

/* A clear day's parabola of `peak_w` from 6 to 18 standard time; `use_w` always. */
void rig_sun(struct rig *rig, double peak_w, double use_w);

/* Clouds, appliances and draws by chance. */
void rig_chance(struct rig *rig, uint64_t seed);

/* Litres in the minute `minute` from the beginning; the days bring draws from then on. */
void rig_draw(struct rig *rig, size_t minute, double litres);

struct trial_outcome rig_run(const struct rig *rig, const struct trial_plan *plan);

#endif
