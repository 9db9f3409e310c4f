/* Element, thermostat and cut-out. */
#include "house/heater.h"
#include "suite.h"

static struct heater heater_at(double water_c)
{
    struct heater_settings settings = heater_usual(250, 3600);
    struct heater heater;
    heater_init(&heater, &settings, water_c);
    return heater;
}

static long seconds_until_it_stops(struct heater *heater)
{
    long s = 0;
    for (double w; (w = heater_draw_w(heater, 240, true)) > 0; s++)
        heater_step(heater, 1, w, 0, 15);
    return s;
}

/* P = V^2 / R: 3.6 kW at 240 V is 3.3 kW at 230 V and 4.0 kW at 253 V. */
START_TEST(test_power_follows_the_square_of_the_voltage)
{
    struct heater heater = heater_at(40);
    ck_assert_double_eq_tol(heater_draw_w(&heater, 240, true), 3600, 1e-9);
    ck_assert_double_eq_tol(heater_draw_w(&heater, 230, true), 3306.25, 1e-9);
    ck_assert_double_eq_tol(heater_draw_w(&heater, 253, true), 4000.5625, 1e-9);
}
END_TEST

START_TEST(test_nothing_is_drawn_without_a_contactor)
{
    struct heater heater = heater_at(20);
    ck_assert_double_eq(heater_draw_w(&heater, 240, false), 0);
}
END_TEST

START_TEST(test_the_thermostat_opens_at_its_set_point_and_closes_a_hysteresis_below)
{
    struct heater heater = heater_at(50);
    ck_assert_int_gt((int)seconds_until_it_stops(&heater), 3600);
    ck_assert_double_ge(tank_at_c(&heater.tank, 0.25), 65);
    ck_assert_double_le(heater_top_c(&heater), 65.5);
    while (!heater.calls)
        heater_step(&heater, 60, 0, 0, 15);
    ck_assert_double_eq_tol(tank_at_c(&heater.tank, 0.25), 59, 0.1);
}
END_TEST

START_TEST(test_a_stuck_thermostat_ends_at_the_cut_out_and_stays_there)
{
    struct heater heater = heater_at(60);
    heater.fault = HEATER_THERMOSTAT_STUCK_CLOSED;
    seconds_until_it_stops(&heater);
    ck_assert(heater.cut_out);
    ck_assert_double_eq_tol(heater_top_c(&heater), 88, 0.5);
    for (int day = 0; day < 10; day++)
        heater_step(&heater, 86400, 0, 0, 15);
    ck_assert_double_eq(heater_draw_w(&heater, 240, true), 0);
}
END_TEST

START_TEST(test_a_broken_element_draws_nothing)
{
    struct heater heater = heater_at(20);
    heater.fault = HEATER_ELEMENT_BROKEN;
    ck_assert_double_eq(heater_draw_w(&heater, 240, true), 0);
    heater.fault = HEATER_THERMOSTAT_STUCK_OPEN;
    ck_assert_double_eq(heater_draw_w(&heater, 240, true), 0);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_power_follows_the_square_of_the_voltage,
        test_nothing_is_drawn_without_a_contactor,
        test_the_thermostat_opens_at_its_set_point_and_closes_a_hysteresis_below,
        test_a_stuck_thermostat_ends_at_the_cut_out_and_stays_there,
        test_a_broken_element_draws_nothing,
    };
    return RUN("heater", tests);
}
