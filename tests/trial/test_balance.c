/* Energy that goes in comes out: over invented days and homes of all sorts, under every
 * strategy, the balance of a run closes to a millionth. */
#include <math.h>

#include "../house/suite.h"
#include "../house/twin.h"
#include "rig.h"

enum { SEEDS = 6, DAYS = 6 };

static struct trial_plan plan_of(const struct rig *rig, enum strategy strategy)
{
    return (struct trial_plan){
        .strategy = strategy,
        .hours = {1, {{22 * 3600, 7 * 3600, WEEKDAYS_ALL}}},
        .boost = {.there = true, .below_c = 50, .to_c = 55, .height = 0.8},
        .rules = &rig->rules,
    };
}

static void supplier_circuit(struct rig *rig)
{
    rig->tariff.controlled = (struct tariff_controlled){
        .there = true,
        .count = 1,
        .band[0] = {.price_micro = 180000},
        .hours = {1, {{22 * 3600, 7 * 3600, WEEKDAYS_ALL}}},
    };
    rig->tariff.demand_count = 1;
    rig->tariff.demand[0] = (struct tariff_demand){.price_micro = 300000, .window_ms = 900000};
}

static void assert_closes(const struct rig *rig, const struct trial_plan *plan, uint64_t seed)
{
    struct trial_outcome outcome = rig_run(rig, plan);
    ck_assert_msg(outcome.residual < 1e-6, "seed %d, strategy %d: %g is nowhere", (int)seed,
                  (int)plan->strategy, outcome.residual);
    /* and again from the outcome alone, so that the run is not its own only witness */
    double loads_kwh = 0;
    for (int i = 0; i < rig->home.load_count; i++)
        loads_kwh += outcome.load[i].sun_kwh + outcome.load[i].grid_kwh;
    double in_kwh = outcome.solar_kwh + outcome.import_kwh + outcome.controlled_kwh;
    double out_kwh = outcome.use_kwh + outcome.export_kwh + loads_kwh;
    ck_assert_double_eq_tol(in_kwh / out_kwh, 1, 1e-6);
    double heat_kwh = outcome.heat_sun_kwh + outcome.heat_grid_kwh;
    double kept_kwh = outcome.tapped_kwh + outcome.lost_kwh + outcome.stored_kwh;
    ck_assert_double_eq_tol(heat_kwh, kept_kwh, 1e-6 * (heat_kwh + fabs(kept_kwh) + 1));
}

static void assert_all_close(struct rig *rig, uint64_t seed)
{
    supplier_circuit(rig);
    for (int s = 0; s < STRATEGY_COUNT; s++) {
        struct trial_plan plan = plan_of(rig, (enum strategy)s);
        assert_closes(rig, &plan, seed);
        plan.in_steps = true;
        plan.look_s = 300;
        assert_closes(rig, &plan, seed);
    }
}

START_TEST(test_one_zone_closes_under_every_strategy)
{
    for (uint64_t seed = 1; seed <= SEEDS; seed++) {
        struct rig *rig = rig_new(60, DAYS * 1440);
        rig_chance(rig, seed);
        rig->rules.solar = true;
        assert_all_close(rig, seed);
        rig_free(rig);
    }
}
END_TEST

START_TEST(test_layers_and_an_export_limit_close)
{
    for (uint64_t seed = 1; seed <= SEEDS; seed++) {
        struct rig *rig = rig_new(300, DAYS * 288);
        rig_chance(rig, seed);
        rig->rules.solar = true;
        rig->home.tank[0].heater = heater_usual(250, 3600);
        rig->home.tank[0].volts = 230;
        rig->home.export_limit_w = 1000;
        assert_all_close(rig, seed);
        rig_free(rig);
    }
}
END_TEST

static void twin(struct rig *rig)
{
    struct trial_home *home = &rig->home;
    home->tank[0].heater = twin_heater(315, 3600);
    home->tank[0].start_c = 40;
    home->load[1] = home->load[0];
    home->load[0].upper = true;
    home->load_count = 2;
    rig->load[1] = rig->load[0];
    rig->load[1].priority = 2;
    rig->rules.load_count = 2;
    rules_order(rig->load, 2, rig->order);
}

START_TEST(test_twin_elements_close)
{
    for (uint64_t seed = 1; seed <= SEEDS; seed++) {
        struct rig *rig = rig_new(60, DAYS * 1440);
        rig_chance(rig, seed);
        rig->rules.solar = true;
        twin(rig);
        assert_all_close(rig, seed);
        rig_free(rig);
    }
}
END_TEST

/* A tank each of two sizes, a pump by day, a car by night that is driven. */
static void busy(struct rig *rig)
{
    struct trial_home *home = &rig->home;
    home->tank_count = 2;
    home->tank[0].draw_share = 0.7;
    home->tank[1] =
        (struct trial_tank){.heater = heater_usual(80, 1800), .start_c = 30, .draw_share = 0.3};
    home->load_count = 4;
    home->load[1] = (struct trial_load){.model = TRIAL_HEATER, .tank = 1};
    home->load[2] = (struct trial_load){
        .model = TRIAL_PUMP, .power_w = 1100, .hours = {1, {{9 * 3600, 15 * 3600, WEEKDAYS_ALL}}}};
    home->load[3] = (struct trial_load){.model = TRIAL_CHARGER,
                                        .charger = {.most_a = 16,
                                                    .capacity_kwh = 50,
                                                    .efficiency = 0.9,
                                                    .phases = 1,
                                                    .arrives_s = 17 * 3600 + 1800,
                                                    .leaves_s = 8 * 3600,
                                                    .trip_kwh = 8},
                                        .charger_volts = 230,
                                        .charger_start_kwh = 20};
    for (int i = 1; i < 4; i++) {
        rig->load[i] = rig->load[0];
        rig->load[i].priority = (uint16_t)(i + 1);
        rig->load[i].floor_count = 0;
    }
    rig->load[1].power_w = 1800;
    rig->load[2].power_w = 1100;
    rig->load[2].thermostat = false;
    rig->load[3].kind = LOAD_SETPOINT;
    rig->load[3].thermostat = false;
    rig->load[3].least_w = 1400;
    rig->load[3].step_w = 230;
    rig->load[3].power_w = 3680;
    rig->rules.load_count = 4;
    rules_order(rig->load, 4, rig->order);
}

START_TEST(test_two_tanks_a_pump_and_a_car_close)
{
    for (uint64_t seed = 1; seed <= SEEDS; seed++) {
        struct rig *rig = rig_new(60, DAYS * 1440);
        rig_chance(rig, seed);
        rig->rules.solar = true;
        busy(rig);
        assert_all_close(rig, seed);
        rig_free(rig);
    }
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_one_zone_closes_under_every_strategy,
        test_layers_and_an_export_limit_close,
        test_twin_elements_close,
        test_two_tanks_a_pump_and_a_car_close,
    };
    return RUN("balance", tests);
}
