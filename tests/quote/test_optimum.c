/* test_optimum.c - the bound against the tanks of lib/house, and by hand.
 *
 * Whatever heats those tanks, the bound must not be beaten; and where it says that a
 * schedule reaches it, that schedule must do so in them, too. */
#include "quote/optimum.h"

#include <math.h>
#include <string.h>

#include "../core/suite.h"
#include "house/heater.h"
#include "quote/optimum_curve.h"

enum { DAY_STEPS = 96, STEPS = 3 * DAY_STEPS };

#define STEP_S 900.0
#define KWH 3.6e6

static double chance(uint64_t *seed, double least, double most)
{
    return least + (most - least) * (double)seeded_between(seed, 0, 1000000) / 1e6;
}

/* Three days of broken sun; prices by the hour, some negative if asked. */
static void days_of(struct optimum_step step[STEPS], uint64_t *seed, double least_price)
{
    double inlet_c = chance(seed, 10, 20);
    for (int n = 0; n < STEPS; n++) {
        double hour = n % DAY_STEPS * STEP_S / 3600;
        double sun = fmax(0, sin((hour - 6) / 12 * M_PI)) * chance(seed, 0, 6000);
        bool draws = seeded_between(seed, 0, 4) == 0;
        step[n] = (struct optimum_step){
            .import_price = hour < 7    ? fmin(0.2, least_price)
                            : hour < 15 ? 0.28
                                        : 0.45,
            .feed_in_price = fmin(0.05, least_price),
            .use_w = chance(seed, 100, 2000),
            .solar_w = sun,
            .draw_l = draws ? chance(seed, 0, 20) : 0,
            .inlet_c = inlet_c,
        };
    }
}

static struct optimum_problem problem_of(const struct optimum_step step[STEPS], uint64_t *seed)
{
    return (struct optimum_problem){
        .step = step,
        .count = STEPS,
        .step_s = STEP_S,
        .volume_l = chance(seed, 80, 315),
        .loss_kwh_day = chance(seed, 0.5, 4),
        .ambient_c = chance(seed, 8, 25),
        .start_c = chance(seed, 25, 65),
        .full_c = 70,
        .wanted_c = chance(seed, 40, 50),
        .element_w = chance(seed, 1000, 4800),
        .unmet_price = 10,
    };
}

static double bound_of(const struct optimum_problem *problem)
{
    struct trouble trouble;
    struct optimum *optimum = optimum_new(problem, &trouble);
    ck_assert_msg(optimum != NULL, "%s", trouble.text);
    double bound = optimum_cost(optimum);
    optimum_free(optimum);
    return bound;
}

static double energy_cost(const struct optimum_step *step, double heat_j)
{
    double net = (step->use_w - step->solar_w) * STEP_S / KWH + heat_j / KWH;
    return net * (net > 0 ? step->import_price : step->feed_in_price);
}

static struct heater heater_of(const struct optimum_problem *problem, int layers)
{
    struct heater_settings settings = heater_usual(problem->volume_l, problem->element_w);
    settings.tank.layers = layers;
    settings.tank.loss_kwh_day = problem->loss_kwh_day;
    settings.tank.ambient_c = problem->ambient_c;
    settings.set_c = problem->full_c;
    struct heater heater;
    heater_init(&heater, &settings, problem->start_c);
    return heater;
}

/* One step of a real tank; returns what it and the house cost. */
static double live_step(struct heater *heater, const struct optimum_problem *problem, int n,
                        double heat_j)
{
    const struct optimum_step *step = &problem->step[n];
    struct tap_flow flow = {step->draw_l, problem->wanted_c, step->inlet_c};
    struct tap_taken taken = heater_advance(heater, STEP_S, heat_j, 0, &flow);
    return energy_cost(step, heat_j) + taken.lack_j / KWH * problem->unmet_price;
}

/* Some way of heating: full power below a temperature, and by the sun, or by chance. */
struct habit {
    double below_c, sun_share, whim;
};

static double habit_w(const struct habit *habit, const struct optimum_problem *problem, int n,
                      double top_c, uint64_t *seed)
{
    double spare_w = problem->step[n].solar_w - problem->step[n].use_w;
    double w = problem->element_w;
    if (top_c < habit->below_c || chance(seed, 0, 1) < habit->whim)
        return w;
    if (problem->element == OPTIMUM_SWITCHED)
        return spare_w >= habit->sun_share * w ? w : 0;
    return fmin(fmax(spare_w, 0), w);
}

/* A switched element stays off where its step would be cut short. */
static double habit_cost(const struct habit *habit, const struct optimum_problem *problem,
                         int layers, uint64_t *seed)
{
    struct heater heater = heater_of(problem, layers);
    double cost = 0;
    for (int n = 0; n < STEPS; n++) {
        double room_j = fmax(0, heater_room_j(&heater, HEATER_LOWER));
        double heat_j = habit_w(habit, problem, n, heater_top_c(&heater), seed) * STEP_S;
        if (heat_j > room_j)
            heat_j = problem->element == OPTIMUM_SWITCHED ? 0 : room_j;
        cost += live_step(&heater, problem, n, heat_j);
    }
    return cost;
}

static void expect_none_below(const struct optimum_problem *problem, int layers, uint64_t *seed)
{
    double bound = bound_of(problem);
    for (int i = 0; i < 12; i++) {
        struct habit habit = {chance(seed, 20, 65), chance(seed, 0.1, 1),
                              seeded_between(seed, 0, 3) == 0 ? chance(seed, 0, 0.5) : 0};
        double cost = habit_cost(&habit, problem, layers, seed);
        ck_assert_msg(cost >= bound - 1e-9,
                      "%.12g beats the bound of %.12g: below %g C, share %g, whim %g", cost, bound,
                      habit.below_c, habit.sun_share, habit.whim);
    }
}

START_TEST(test_no_schedule_beats_the_bound_in_a_mixed_tank)
{
    uint64_t seed = 71;
    for (int i = 0; i < 60; i++) {
        struct optimum_step step[STEPS];
        days_of(step, &seed, i % 3 == 0 ? -0.1 : 1);
        struct optimum_problem problem = problem_of(step, &seed);
        problem.element = i % 2 ? OPTIMUM_SWITCHED : OPTIMUM_PROPORTIONAL;
        expect_none_below(&problem, 1, &seed);
        problem.within_step = true;
        expect_none_below(&problem, 1, &seed);
    }
}
END_TEST

START_TEST(test_no_schedule_beats_the_bound_in_a_layered_tank)
{
    uint64_t seed = 72;
    for (int i = 0; i < 60; i++) {
        struct optimum_step step[STEPS];
        days_of(step, &seed, i % 3 == 0 ? -0.1 : 1);
        struct optimum_problem problem = problem_of(step, &seed);
        problem.element = i % 2 ? OPTIMUM_SWITCHED : OPTIMUM_PROPORTIONAL;
        problem.layered = true;
        expect_none_below(&problem, 12, &seed);
    }
}
END_TEST

/* The one-zone bound isn't one for layers: hot water on top of cold serves first. */
START_TEST(test_a_layered_tank_may_beat_the_mixed_one_s_bound)
{
    struct optimum_step step[STEPS] = {0};
    for (int n = 0; n < STEPS; n++)
        step[n] =
            (struct optimum_step){.import_price = 0.3, .draw_l = n == 8 ? 40 : 0, .inlet_c = 15};
    struct optimum_problem problem = {.step = step,
                                      .count = STEPS,
                                      .step_s = STEP_S,
                                      .volume_l = 300,
                                      .loss_kwh_day = 1,
                                      .ambient_c = 20,
                                      .start_c = 42,
                                      .full_c = 70,
                                      .wanted_c = 45,
                                      .element_w = 3600,
                                      .unmet_price = 10};
    double mixed = bound_of(&problem);
    problem.layered = true;
    double layered = bound_of(&problem);
    /* Warming the mixed tank by 3 K takes over 1 kWh; in layers the top would do. */
    ck_assert_double_gt(mixed, 0.3 * 3 * 300 * WATER_J_PER_L_K / KWH);
    ck_assert_double_eq_tol(layered, 0, 1e-12);
}
END_TEST

struct live {
    struct heater heater;
    const struct optimum_problem *problem;
    double cost, off_k;
};

static void live_on(void *context, size_t step, double heat_w, double water_c)
{
    struct live *live = context;
    live->off_k = fmax(live->off_k, fabs(tank_mean_c(&live->heater.tank) - water_c));
    live->cost += live_step(&live->heater, live->problem, (int)step, heat_w * STEP_S);
}

/* No room or main colder than the start's main: nothing to relax. */
START_TEST(test_the_schedule_reaches_the_bound_in_the_house_s_tank)
{
    uint64_t seed = 73;
    for (int i = 0; i < 60; i++) {
        struct optimum_step step[STEPS];
        days_of(step, &seed, i % 3 == 0 ? -0.1 : 1);
        struct optimum_problem problem = problem_of(step, &seed);
        problem.ambient_c = 22;
        struct trouble trouble;
        struct optimum_outcome outcome;
        struct optimum *optimum = optimum_new(&problem, &trouble);
        struct live live = {.heater = heater_of(&problem, 1), .problem = &problem};
        ck_assert(optimum_follow(optimum, live_on, &live, &outcome));
        ck_assert_double_lt(live.off_k, 1e-9);
        ck_assert_double_eq_tol(live.cost, outcome.cost, 1e-9);
        ck_assert_double_eq_tol(outcome.cost, optimum_cost(optimum), 1e-9);
        double balance =
            outcome.heat_sun_kwh + outcome.heat_grid_kwh - outcome.lost_kwh -
            (outcome.wanted_kwh - outcome.unmet_kwh) -
            (outcome.end_c - problem.start_c) * problem.volume_l * WATER_J_PER_L_K / KWH;
        ck_assert_double_eq_tol(balance, 0, 1e-9);
        optimum_free(optimum);
    }
}
END_TEST

START_TEST(test_the_bound_moves_the_way_that_limits_move)
{
    uint64_t seed = 74;
    for (int i = 0; i < 40; i++) {
        struct optimum_step step[STEPS];
        days_of(step, &seed, 1);
        struct optimum_problem problem = problem_of(step, &seed), other = problem;
        double bound = bound_of(&problem), rounding = 1e-9;
        other.element = OPTIMUM_SWITCHED;
        ck_assert_double_ge(bound_of(&other), bound - rounding);
        other = problem;
        other.element_w *= 1.3;
        ck_assert_double_le(bound_of(&other), bound + rounding);
        other = problem;
        other.full_c += 8;
        ck_assert_double_le(bound_of(&other), bound + rounding);
        other = problem;
        other.start_c += 3;
        ck_assert_double_le(bound_of(&other), bound + rounding);
        other = problem;
        other.unmet_price *= 2;
        ck_assert_double_ge(bound_of(&other), bound - rounding);
        other = problem;
        other.loss_kwh_day *= 1.5;
        other.ambient_c = step[0].inlet_c; /* so that loss never warms the tank */
        problem.ambient_c = step[0].inlet_c;
        ck_assert_double_ge(bound_of(&other), bound_of(&problem) - rounding);
        other = problem;
        other.within_step = true;
        ck_assert_double_le(bound_of(&other), bound_of(&problem) + rounding);
        other = problem;
        other.layered = true;
        ck_assert_double_le(bound_of(&other), bound_of(&problem) + rounding);
    }
}
END_TEST

START_TEST(test_heat_is_worth_less_the_more_there_is_and_never_more_than_unmet)
{
    uint64_t seed = 75;
    struct optimum_step step[STEPS];
    days_of(step, &seed, 1);
    struct optimum_problem problem = problem_of(step, &seed);
    struct trouble trouble;
    struct optimum *optimum = optimum_new(&problem, &trouble);
    for (size_t n = 0; n <= STEPS; n += 7) {
        double worth = problem.unmet_price;
        for (double water_c = 26; water_c < 70; water_c += 0.5) {
            double next = optimum_worth(optimum, n, water_c);
            ck_assert_double_le(next, worth + 1e-12);
            ck_assert_double_ge(next, 0);
            worth = next;
        }
    }
    optimum_free(optimum);
}
END_TEST

/* No loss, no household; one draw of 10 L at 45 C from 15 C in a tank just warm enough
 * not to fall short, and heat left is worth 0.1: it pays to buy 1 kWh at 0.05 (the sun's)
 * and none at 0.3. */
START_TEST(test_a_day_that_can_be_worked_out_by_hand)
{
    struct optimum_step step[3] = {
        {.import_price = 0.3, .feed_in_price = 0.05, .inlet_c = 15},
        {.import_price = 0.3, .feed_in_price = 0.05, .solar_w = 1000, .inlet_c = 15},
        {.import_price = 0.3, .feed_in_price = 0.05, .draw_l = 10, .inlet_c = 15},
    };
    struct optimum_problem problem = {.step = step,
                                      .count = 3,
                                      .step_s = 3600,
                                      .volume_l = 100,
                                      .ambient_c = 20,
                                      .start_c = 50,
                                      .full_c = 70,
                                      .wanted_c = 45,
                                      .element_w = 3000,
                                      .unmet_price = 10,
                                      .left_price = 0.1};
    double drawn = 10 * 30 * WATER_J_PER_L_K / KWH;
    ck_assert_double_eq_tol(bound_of(&problem), 0.1 * (drawn - 1), 1e-12);
    problem.element = OPTIMUM_SWITCHED;
    /* 3 kW for an hour would cost 0.65 and be worth 0.3. */
    ck_assert_double_eq_tol(bound_of(&problem), -0.05 + 0.1 * drawn, 1e-12);
    problem.export_limit_w = 400;
    problem.element = OPTIMUM_PROPORTIONAL;
    /* 0.6 kWh are throttled and free; only 0.4 would be paid for. */
    ck_assert_double_eq_tol(bound_of(&problem), 0.1 * (drawn - 1), 1e-12);
}
END_TEST

START_TEST(test_being_paid_for_import_fills_the_tank)
{
    struct optimum_step step[2] = {{.import_price = -0.1, .inlet_c = 15},
                                   {.import_price = 0.3, .inlet_c = 15}};
    struct optimum_problem problem = {.step = step,
                                      .count = 2,
                                      .step_s = 3600,
                                      .volume_l = 100,
                                      .ambient_c = 20,
                                      .start_c = 60,
                                      .full_c = 70,
                                      .wanted_c = 45,
                                      .element_w = 3000,
                                      .unmet_price = 10};
    double room = 10 * 100 * WATER_J_PER_L_K / KWH;
    ck_assert_double_eq_tol(bound_of(&problem), -0.1 * room, 1e-12);
}
END_TEST

START_TEST(test_what_is_no_problem_is_refused)
{
    uint64_t seed = 76;
    struct optimum_step step[STEPS];
    days_of(step, &seed, 1);
    struct optimum_problem good = problem_of(step, &seed), bad;
    struct trouble trouble;
    bad = good;
    bad.count = 0;
    ck_assert_ptr_null(optimum_new(&bad, &trouble));
    ck_assert_ptr_nonnull(strstr(trouble.text, "no steps"));
    bad = good;
    bad.element_w = 0;
    ck_assert_ptr_null(optimum_new(&bad, &trouble));
    bad = good;
    bad.full_c = bad.ambient_c;
    ck_assert_ptr_null(optimum_new(&bad, &trouble));
    ck_assert_ptr_nonnull(strstr(trouble.text, "room at"));
    bad = good;
    bad.left_price = 11;
    ck_assert_ptr_null(optimum_new(&bad, &trouble));
    ck_assert_ptr_nonnull(strstr(trouble.text, "unmet heat at 10"));
    bad = good;
    bad.spreads_last = true;
    ck_assert_ptr_null(optimum_new(&bad, &trouble));
    step[17].use_w = NAN;
    ck_assert_ptr_null(optimum_new(&good, &trouble));
    ck_assert_ptr_nonnull(strstr(trouble.text, "step 17"));
}
END_TEST

/* ---- the curve ---------------------------------------------------------------------- */

enum { PIECES = 12 };

/* Below the full end, every corner and the point; the envelope there is the least over
 * all chords between two of them. */
static double envelope_at(const double below[], const double value[], int count, double at)
{
    double least = INFINITY;
    for (int i = 0; i < count; i++)
        for (int j = 0; j < count; j++) {
            double from = below[i], to = below[j];
            if (from > at || to < at)
                continue;
            double share = to > from ? (at - from) / (to - from) : 0;
            least = fmin(least, value[i] + share * (value[j] - value[i]));
        }
    return least;
}

START_TEST(test_lowering_a_curve_to_a_point_gives_the_convex_envelope)
{
    uint64_t seed = 77;
    for (int round = 0; round < 2000; round++) {
        struct optimum_curve curve;
        ck_assert(optimum_curve_init(&curve, -1, chance(&seed, 0.1, 1)));
        ck_assert(optimum_curve_reserve(&curve, PIECES + 4));
        for (int i = 0; i < PIECES; i++)
            optimum_curve_insert(&curve, chance(&seed, -5, 2), chance(&seed, 0.01, 1));
        curve.at_full = chance(&seed, -1, 1);
        double below[PIECES + 3] = {0}, value[PIECES + 3] = {curve.at_full};
        int count = 1;
        for (size_t i = curve.first + curve.count; i-- > curve.first; count++) {
            below[count] = below[count - 1] + curve.length[i];
            value[count] = value[count - 1] - curve.slope[i] * curve.length[i];
        }
        double span = below[count - 1];
        below[count] = chance(&seed, 0, span);
        value[count] = optimum_curve_value(&curve, below[count]) - chance(&seed, -0.1, 1);
        optimum_curve_lower(&curve, below[count], value[count]);
        count++;
        for (int i = 0; i < 20; i++) {
            double at = span * i / 20;
            ck_assert_double_eq_tol(optimum_curve_value(&curve, at),
                                    envelope_at(below, value, count, at), 1e-9);
        }
        for (size_t i = curve.first + 1; i < curve.first + curve.count; i++)
            ck_assert_double_ge(curve.slope[i], curve.slope[i - 1] - 1e-9);
        optimum_curve_free(&curve);
    }
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_no_schedule_beats_the_bound_in_a_mixed_tank,
        test_no_schedule_beats_the_bound_in_a_layered_tank,
        test_a_layered_tank_may_beat_the_mixed_one_s_bound,
        test_the_schedule_reaches_the_bound_in_the_house_s_tank,
        test_the_bound_moves_the_way_that_limits_move,
        test_heat_is_worth_less_the_more_there_is_and_never_more_than_unmet,
        test_a_day_that_can_be_worked_out_by_hand,
        test_being_paid_for_import_fills_the_tank,
        test_what_is_no_problem_is_refused,
        test_lowering_a_curve_to_a_point_gives_the_convex_envelope,
    };
    return suite_run("optimum", tests, COUNT_OF(tests));
}
