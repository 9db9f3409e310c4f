/* Element, thermostat and cut-out. */
#include "house/heater.h"
#include "suite.h"
#include "twin.h"

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
    heater.faults.thermostat = THERMOSTAT_STUCK_CLOSED;
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
    heater.faults.gone[0] = 1;
    ck_assert_double_eq(heater_draw_w(&heater, 240, true), 0);
    heater.faults = (struct heater_faults){.thermostat = THERMOSTAT_STUCK_OPEN};
    ck_assert_double_eq(heater_draw_w(&heater, 240, true), 0);
}
END_TEST

/* ---- twin elements ---- */

static struct heater twin_at(double water_c)
{
    struct heater_settings settings = twin_heater(315, 3600);
    struct heater heater;
    heater_init(&heater, &settings, water_c);
    return heater;
}

static const struct tap_flow no_flow = {.wanted_c = 45, .inlet_c = 15};

/* Both contactors closed; a second at a time, as long as any element draws. */
static void heat_up(struct heater *heater, double *upper_j, double *lower_j, bool *both)
{
    for (bool draws = true; draws;) {
        bool upper = heater_passes(heater, HEATER_UPPER, false);
        bool lower = heater_passes(heater, HEATER_LOWER, upper);
        *both |= upper && lower;
        *upper_j += upper ? 3600 : 0;
        *lower_j += lower ? 3600 : 0;
        heater_advance(heater, 1, lower ? 3600 : 0, upper ? 3600 : 0, &no_flow);
        draws = upper || lower;
    }
}

START_TEST(test_the_upper_element_heats_first_and_the_lower_one_waits_for_it)
{
    struct heater heater = twin_at(20);
    double upper_j = 0, lower_j = 0;
    bool both = false;
    ck_assert(heater_passes(&heater, HEATER_LOWER, false));
    ck_assert(!heater_passes(&heater, HEATER_LOWER, true));
    heat_up(&heater, &upper_j, &lower_j, &both);
    ck_assert(!both);
    /* from its height (0.67, the 6 upper of 16 layers) up, by 45 K, and what conducts down */
    double upper_third_j = 315.0 * 6 / 16 * 45 * WATER_J_PER_L_K;
    ck_assert_double_ge(upper_j, upper_third_j - 3600);
    ck_assert_double_le(upper_j, 1.15 * upper_third_j);
    ck_assert_double_ge(heater_top_c(&heater), 64);
    ck_assert_double_gt(lower_j, upper_j);
}
END_TEST

START_TEST(test_an_upper_element_alone_leaves_the_bottom_cold)
{
    struct heater heater = twin_at(20);
    while (heater_passes(&heater, HEATER_UPPER, false))
        heater_advance(&heater, 1, 0, 3600, &no_flow);
    ck_assert_double_ge(heater_top_c(&heater), 64.9);
    ck_assert_double_le(heater_bottom_c(&heater), 21);
}
END_TEST

START_TEST(test_a_single_element_has_no_upper_one)
{
    struct heater heater = heater_at(20);
    ck_assert(!heater_passes(&heater, HEATER_UPPER, false));
    ck_assert(heater_passes(&heater, HEATER_LOWER, false));
}
END_TEST

/* The room told beforehand is the heat that it then takes, whatever stands how. */
START_TEST(test_the_thermostat_opens_after_the_heat_that_there_was_room_for)
{
    for (int layers = 1; layers <= 24; layers += 23) {
        struct heater_settings settings = heater_usual(250, 3600);
        settings.tank.loss_kwh_day = 0;
        settings.tank.conduction_w_k = 0;
        settings.tank.layers = layers;
        struct heater heater;
        heater_init(&heater, &settings, 58);
        tank_draw(&heater.tank, 60, 15);
        heater_advance(&heater, 1, 0, 0, &no_flow);
        double room_j = heater_room_j(&heater, HEATER_LOWER), taken_j = 0;
        for (; heater.calls; taken_j += 3600)
            heater_advance(&heater, 1, 3600, 0, &no_flow);
        ck_assert_double_gt(room_j, 1e6);
        ck_assert_double_eq_tol(taken_j, room_j, 3601);
    }
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
        test_the_upper_element_heats_first_and_the_lower_one_waits_for_it,
        test_an_upper_element_alone_leaves_the_bottom_cold,
        test_a_single_element_has_no_upper_one,
        test_the_thermostat_opens_after_the_heat_that_there_was_room_for,
    };
    return RUN("heater", tests);
}
