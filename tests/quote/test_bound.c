/* No strategy, the rules among them, costs less than perfect foresight would have cost
 * in the same home on the same days: the run and the bound are separate calculations. */
#include <stdlib.h>

#include "../house/suite.h"
#include "../trial/rig.h"
#include "quote/optimum.h"

enum { SEEDS = 5, DAYS = 4 };

static struct optimum_step *steps_of(const struct rig *rig, int32_t step_s, size_t *count)
{
    int32_t rows = step_s / rig->days.step_s;
    *count = rig->days.steps / (size_t)rows;
    struct optimum_step *steps = calloc(*count, sizeof *steps);
    for (size_t i = 0; i < *count; i++) {
        struct wall from = {rig->days.first.ms + (int64_t)i * step_s * MS_PER_S};
        struct wall to = {from.ms + (int64_t)step_s * MS_PER_S};
        struct local local = local_of_wall(&rig->zone, from);
        struct optimum_step *step = &steps[i];
        for (int32_t r = 0; r < rows; r++) {
            step->use_w += rig->use_w[i * (size_t)rows + (size_t)r] / (float)rows;
            step->solar_w += rig->solar_w[i * (size_t)rows + (size_t)r] / (float)rows;
        }
        step->import_price = 1e-6 * tariff_price(&rig->tariff, &local);
        step->feed_in_price = 1e-6 * tariff_feed_in(&rig->tariff, &local);
        step->draw_l = trial_litres(&rig->home, &rig->days, from, to);
        step->inlet_c = trial_inlet_c(&rig->home, from);
    }
    return steps;
}

/* A thermostat that opens a second late lets through some thousandths of a kelvin. */
static double bound_of(const struct rig *rig, int32_t step_s, bool within_step)
{
    const struct heater_settings *heater = &rig->home.tank[0].heater;
    size_t count;
    struct optimum_step *steps = steps_of(rig, step_s, &count);
    struct optimum_problem problem = {.step = steps,
                                      .count = count,
                                      .step_s = step_s,
                                      .volume_l = heater->tank.volume_l,
                                      .loss_kwh_day = heater->tank.loss_kwh_day,
                                      .ambient_c = heater->tank.ambient_c,
                                      .start_c = rig->home.tank[0].start_c,
                                      .full_c = heater->set_c + 0.01,
                                      .wanted_c = rig->home.taps.wanted_c,
                                      .element_w = heater->element_w,
                                      .element = OPTIMUM_PROPORTIONAL,
                                      .layered = heater->tank.layers > 1,
                                      .within_step = within_step,
                                      .unmet_price = rig->home.unmet_per_kwh};
    struct trouble trouble = {0};
    struct optimum *optimum = optimum_new(&problem, &trouble);
    ck_assert_msg(optimum != NULL, "%s", trouble.text);
    double cost = optimum_cost(optimum);
    optimum_free(optimum);
    free(steps);
    return cost;
}

static void by_hours(struct rig *rig)
{
    rig->tariff.count = 2;
    rig->tariff.band[1] = (struct tariff_band){.price_micro = 120000,
                                               .hours = {1, {{22 * 3600, 6 * 3600, WEEKDAYS_ALL}}}};
    rig->rules.tariff = rig->tariff;
}

static const struct trial_plan plans[] = {
    {.strategy = STRATEGY_ALWAYS_ON},
    {.strategy = STRATEGY_TIMER, .hours = {1, {{10 * 3600, 15 * 3600, WEEKDAYS_ALL}}}},
    {.strategy = STRATEGY_DIVERTER},
    {.strategy = STRATEGY_DIVERTER, .boost = {.there = true, .below_c = 46, .to_c = 49}},
    {.strategy = STRATEGY_SLUICE},
};

static void assert_none_beats(const struct rig *rig, double bound, bool in_steps, uint64_t seed)
{
    for (size_t i = 0; i < sizeof plans / sizeof plans[0]; i++) {
        struct trial_plan plan = plans[i];
        plan.rules = &rig->rules;
        plan.in_steps = in_steps;
        plan.look_s = in_steps ? 300 : 60;
        struct trial_outcome outcome = rig_run(rig, &plan);
        ck_assert_msg(outcome.cost >= bound - 1e-6, "seed %d, plan %d: %.9f beats %.9f", (int)seed,
                      (int)i, outcome.cost, bound);
    }
}

START_TEST(test_no_strategy_beats_foresight_from_one_change_to_the_next)
{
    for (uint64_t seed = 1; seed <= SEEDS; seed++) {
        struct rig *rig = rig_new(60, DAYS * 1440);
        rig_chance(rig, seed);
        by_hours(rig);
        rig->home.unmet_per_kwh = 10;
        assert_none_beats(rig, bound_of(rig, 60, true), false, seed);
        rig_free(rig);
    }
}
END_TEST

START_TEST(test_no_strategy_beats_foresight_in_steps_of_five_minutes)
{
    for (uint64_t seed = 1; seed <= SEEDS; seed++) {
        struct rig *rig = rig_new(300, DAYS * 288);
        rig_chance(rig, seed);
        by_hours(rig);
        rig->home.unmet_per_kwh = 10;
        assert_none_beats(rig, bound_of(rig, 300, false), true, seed);
        rig_free(rig);
    }
}
END_TEST

START_TEST(test_no_strategy_beats_the_bound_of_a_layered_tank)
{
    for (uint64_t seed = 1; seed <= SEEDS; seed++) {
        struct rig *rig = rig_new(60, DAYS * 1440);
        rig_chance(rig, seed);
        by_hours(rig);
        rig->home.unmet_per_kwh = 10;
        rig->home.tank[0].heater = heater_usual(250, 3600);
        rig->home.tank[0].start_c = 60;
        assert_none_beats(rig, bound_of(rig, 60, true), false, seed);
        rig_free(rig);
    }
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_no_strategy_beats_foresight_from_one_change_to_the_next,
        test_no_strategy_beats_foresight_in_steps_of_five_minutes,
        test_no_strategy_beats_the_bound_of_a_layered_tank,
    };
    return RUN("bound", tests);
}
