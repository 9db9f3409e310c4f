/* The battery: zero at the meter as long as it can. */
#include "house/battery.h"
#include "suite.h"

static struct battery half_full(void)
{
    struct battery_settings settings = {.most_w = 5000, .capacity_kwh = 10, .efficiency = 0.9};
    struct battery battery;
    battery_init(&battery, &settings, 5);
    return battery;
}

/* What the meter shows after some steps of a house that by itself takes house_w. */
static double meter_w(struct battery *battery, double house_w, int steps)
{
    double grid_w = house_w + battery->power_w;
    for (int s = 0; s < steps; s++)
        grid_w = house_w + battery_step_w(battery, 1, grid_w);
    return grid_w;
}

START_TEST(test_the_meter_stands_at_zero_in_sun_and_in_dark)
{
    struct battery battery = half_full();
    ck_assert_double_eq_tol(meter_w(&battery, -3000, 2), 0, 1e-9);
    ck_assert_double_eq_tol(battery.power_w, 3000, 1e-9);
    ck_assert_double_eq_tol(meter_w(&battery, 2000, 2), 0, 1e-9);
    ck_assert_double_eq_tol(battery.power_w, -2000, 1e-9);
}
END_TEST

START_TEST(test_it_gives_and_takes_no_more_than_its_power)
{
    struct battery battery = half_full();
    ck_assert_double_eq_tol(meter_w(&battery, -7000, 3), -2000, 1e-9);
    ck_assert_double_eq_tol(meter_w(&battery, 8000, 3), 3000, 1e-9);
}
END_TEST

START_TEST(test_full_it_lets_the_sun_out_and_empty_it_gives_nothing)
{
    struct battery battery = half_full();
    ck_assert_double_eq_tol(meter_w(&battery, -3000, 3 * 3600), -3000, 1e-6);
    ck_assert_double_eq_tol(battery.charged_kwh, 10, 1e-9);
    ck_assert_double_eq_tol(meter_w(&battery, 3000, 4 * 3600), 3000, 1e-6);
    ck_assert_double_eq_tol(battery.charged_kwh, 0, 1e-9);
}
END_TEST

START_TEST(test_a_tenth_is_lost_on_the_way)
{
    struct battery battery = half_full();
    for (int s = 0; s < 3600; s++)
        battery_step_w(&battery, 1, s == 0 ? -2000 : 0);
    ck_assert_double_eq_tol(battery.charged_kwh, 5 + 2 * 0.9, 1e-6);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_the_meter_stands_at_zero_in_sun_and_in_dark,
        test_it_gives_and_takes_no_more_than_its_power,
        test_full_it_lets_the_sun_out_and_empty_it_gives_nothing,
        test_a_tenth_is_lost_on_the_way,
    };
    return RUN("battery", tests);
}
