/* Chance, household and the meter that sees it all. */
#include <inttypes.h>

#include "house/grid.h"
#include "house/household.h"
#include "house/pump.h"
#include "suite.h"

/* The first outputs of SplitMix64 for the seed 1234567, as printed with public
 * implementations of it (Rosetta Code, "Pseudo-random numbers/Splitmix64"; from
 * memory). */
START_TEST(test_chance_is_the_published_generator)
{
    static const uint64_t published[] = {6457827717110365317u, 3203168211198807973u,
                                         9817491932198370423u, 4593380528125082431u,
                                         16408922859458223821u};
    struct prng prng = {1234567};
    for (size_t i = 0; i < sizeof(published) / sizeof(published[0]); i++)
        ck_assert_uint_eq(prng_next(&prng), published[i]);
}
END_TEST

static struct household house_of(uint64_t seed, int phases)
{
    struct household_settings settings = {
        .base_w = 300,
        .fridge_w = 120,
        .kettle_w = 2000,
        .kettles_a_day = 6,
        .phase_count = phases,
        .seed = seed,
        .event_count = 2,
        .event = {{.from_s = 17 * 3600, .to_s = 18 * 3600, .power_w = 2400, .phases = 2},
                  {.from_s = 23 * 3600,
                   .to_s = 3600,
                   .power_w = 1000,
                   .phases = 4,
                   .on_s = 600,
                   .off_s = 300}},
    };
    struct household household;
    household_init(&household, &settings);
    return household;
}

static void day_kwh(uint64_t seed, double kwh[PHASES_MAX])
{
    struct household household = house_of(seed, 3);
    for (int p = 0; p < PHASES_MAX; p++)
        kwh[p] = 0;
    for (int32_t s = 0; s < 86400; s++) {
        double w[PHASES_MAX];
        household_step_w(&household, s, 1, w);
        for (int p = 0; p < PHASES_MAX; p++)
            kwh[p] += w[p] / 3.6e6;
    }
}

START_TEST(test_a_household_uses_what_was_asked_for_on_the_phases_asked_for)
{
    double kwh[PHASES_MAX];
    for (uint64_t seed = 1; seed < 6; seed++) {
        day_kwh(seed, kwh);
        /* A third of 7.2 kWh of base, and an hour of oven. */
        ck_assert_double_eq_tol(kwh[1], 2.4 + 2.4, 0.15);
        /* Two hours over midnight, ten of each fifteen minutes. */
        ck_assert_double_eq_tol(kwh[2], 2.4 + 2 * 2 / 3.0, 0.15);
        /* The fridge's 15 of 40 minutes, and some kettles. */
        ck_assert_double_ge(kwh[0], 2.25 + 0.8);
        ck_assert_double_le(kwh[0], 2.55 + 1.4 + 1.5);
    }
}
END_TEST

START_TEST(test_the_same_seed_gives_the_same_household)
{
    double one[PHASES_MAX], same[PHASES_MAX], other[PHASES_MAX];
    day_kwh(3, one);
    day_kwh(3, same);
    day_kwh(4, other);
    ck_assert_double_eq(one[0], same[0]);
    ck_assert_double_ne(one[0], other[0]);
}
END_TEST

static struct grid grid_of(int phases)
{
    struct grid_settings settings = {
        .phase_count = phases, .nominal_v = 230, .source_ohm = 0.2, .nominal_hz = 50, .seed = 5};
    struct grid grid;
    grid_init(&grid, &settings);
    return grid;
}

/* Ohm's law: 10 A over 0.2 ohm are 2 V, down with import, up with export. */
START_TEST(test_import_lowers_the_voltage_and_export_raises_it)
{
    struct grid idle = grid_of(1), importing = grid_of(1), exporting = grid_of(1);
    for (int s = 0; s < 100; s++) {
        grid_step(&idle, 1, (double[PHASES_MAX]){0});
        grid_step(&importing, 1, (double[PHASES_MAX]){10 * importing.phase_v[0]});
        grid_step(&exporting, 1, (double[PHASES_MAX]){-10 * exporting.phase_v[0]});
        ck_assert_double_eq_tol(idle.phase_v[0] - importing.phase_v[0], 2, 1e-6);
        ck_assert_double_eq_tol(exporting.phase_v[0] - idle.phase_v[0], 2, 1e-6);
        ck_assert_double_eq_tol(idle.hz, 50, 0.05);
    }
}
END_TEST

START_TEST(test_a_kilowatt_for_an_hour_is_a_kilowatt_hour)
{
    struct grid grid = grid_of(1);
    for (int s = 0; s < 3600; s++)
        grid_step(&grid, 1, (double[PHASES_MAX]){1000});
    for (int s = 0; s < 1800; s++)
        grid_step(&grid, 1, (double[PHASES_MAX]){-500});
    ck_assert_double_eq_tol(grid.import_j / 3.6e6, 1, 1e-9);
    ck_assert_double_eq_tol(grid.export_j / 3.6e6, 0.25, 1e-9);
}
END_TEST

/* Vector sum: +2, -1 and -1 kW are nothing bought and nothing sold. */
START_TEST(test_three_phases_count_as_their_sum)
{
    struct grid grid = grid_of(3);
    for (int s = 0; s < 3600; s++)
        grid_step(&grid, 1, (double[PHASES_MAX]){2000, -1000, -1000});
    ck_assert_double_eq(grid.import_j, 0);
    ck_assert_double_eq(grid.export_j, 0);
    ck_assert_double_gt(grid.phase_a[0], 8);
}
END_TEST

START_TEST(test_a_pump_settles_after_half_a_minute)
{
    struct pump pump = {.power_w = 1000};
    ck_assert_double_gt(pump_step_w(&pump, 1, true), 1100);
    for (int s = 0; s < 30; s++)
        pump_step_w(&pump, 1, true);
    ck_assert_double_eq(pump_step_w(&pump, 1, true), 1000);
    ck_assert_double_eq(pump_step_w(&pump, 1, false), 0);
    ck_assert_double_gt(pump_step_w(&pump, 1, true), 1100);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_chance_is_the_published_generator,
        test_a_household_uses_what_was_asked_for_on_the_phases_asked_for,
        test_the_same_seed_gives_the_same_household,
        test_import_lowers_the_voltage_and_export_raises_it,
        test_a_kilowatt_for_an_hour_is_a_kilowatt_hour,
        test_three_phases_count_as_their_sum,
        test_a_pump_settles_after_half_a_minute,
    };
    return RUN("grid", tests);
}
