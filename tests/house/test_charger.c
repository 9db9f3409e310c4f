/* The car: 6 A or nothing, soon, and in the end enough. */
#include "house/charger.h"
#include "suite.h"

static struct charger car(int phases)
{
    struct charger_settings settings = {
        .most_a = 32, .capacity_kwh = 60, .efficiency = 0.9, .phases = phases};
    struct charger charger;
    charger_init(&charger, &settings, 20);
    return charger;
}

static double settled_a(struct charger *charger, double offered_a)
{
    double a = 0;
    for (int s = 0; s < 10; s++)
        a = charger_step_a(charger, 0, 1, offered_a, 230);
    return a;
}

/* IEC 61851-1: at least 6 A, which is 1380 W on one phase and 4140 W on three
 * at 230 V; what is offered below that is no charging. */
START_TEST(test_below_six_amps_there_is_no_charging)
{
    struct charger charger = car(1);
    ck_assert_double_eq(settled_a(&charger, 5.9), 0);
    ck_assert_double_eq(settled_a(&charger, 6) * 230, 1380);
    ck_assert_double_eq(settled_a(&charger, 6) * 230 * 3, 4140);
    ck_assert_double_eq(settled_a(&charger, 0), 0);
}
END_TEST

/* IEC 61851-1, from memory: a car follows within 5 s. */
START_TEST(test_it_follows_within_five_seconds_but_not_at_once)
{
    struct charger charger = car(1);
    settled_a(&charger, 16);
    ck_assert_double_eq(charger_step_a(&charger, 0, 1, 8, 230), 16);
    double a = 0;
    for (int s = 1; s < 5; s++)
        a = charger_step_a(&charger, 0, 1, 8, 230);
    ck_assert_double_eq(a, 8);
}
END_TEST

START_TEST(test_the_battery_fills_and_then_takes_nothing)
{
    struct charger charger = car(1);
    double socket_j = 0, a = 0;
    for (long s = 0; s < 12 * 3600L; s++) {
        a = charger_step_a(&charger, 0, 1, 32, 230);
        socket_j += a * 230;
    }
    ck_assert_double_eq(a, 0);
    ck_assert_double_eq_tol(charger.charged_kwh, 60, 0.01);
    ck_assert_double_eq_tol(socket_j / 3.6e6 * 0.9, 40, 0.01);
}
END_TEST

START_TEST(test_no_car_no_current)
{
    struct charger charger = car(1);
    charger.settings.arrives_s = 17 * 3600;
    charger.settings.leaves_s = 7 * 3600 + 1800; /* over midnight */
    for (int s = 0; s < 10; s++)
        ck_assert_double_eq(charger_step_a(&charger, 12 * 3600 + s, 1, 16, 230), 0);
    ck_assert_double_eq(charger_step_a(&charger, 23 * 3600, 1, 16, 230), 16);
    ck_assert_double_eq(charger_step_a(&charger, 7 * 3600, 1, 16, 230), 16);
    ck_assert_double_eq(charger_step_a(&charger, 8 * 3600, 1, 16, 230), 0);
}
END_TEST

/* Out from 8:00 to 17:30, 8 kWh a day: what comes back is what went in less the trips. */
START_TEST(test_a_car_that_is_driven_comes_back_with_less)
{
    struct charger_settings settings = {.most_a = 16,
                                        .capacity_kwh = 40,
                                        .efficiency = 0.9,
                                        .phases = 1,
                                        .arrives_s = 17 * 3600 + 1800,
                                        .leaves_s = 8 * 3600,
                                        .trip_kwh = 8};
    struct charger charger;
    double taken_kwh = 0;
    charger_init(&charger, &settings, 40);
    for (int32_t s = 0; s < 3 * 86400; s += 10)
        taken_kwh += charger_step_a(&charger, s % 86400, 10, 16, 230) * 230 * 10 / 3.6e6;
    ck_assert_double_eq_tol(charger.driven_kwh, 3 * 8, 1e-9);
    ck_assert_double_eq(charger.lacked_kwh, 0);
    ck_assert_double_eq_tol(charger.charged_kwh, 40 + taken_kwh * 0.9 - 3 * 8, 1e-9);
    ck_assert_double_gt(taken_kwh, 16);
}
END_TEST

START_TEST(test_a_trip_longer_than_the_battery_is_driven_on_charge_from_elsewhere)
{
    struct charger_settings settings = {.most_a = 16,
                                        .capacity_kwh = 40,
                                        .efficiency = 0.9,
                                        .phases = 1,
                                        .arrives_s = 18 * 3600,
                                        .leaves_s = 8 * 3600,
                                        .trip_kwh = 8};
    struct charger charger;
    charger_init(&charger, &settings, 5);
    for (int32_t s = 0; s < 86400; s += 10)
        charger_step_a(&charger, s, 10, 0, 230);
    ck_assert_double_eq(charger.charged_kwh, 0);
    ck_assert_double_eq_tol(charger.driven_kwh, 5, 1e-9);
    ck_assert_double_eq_tol(charger.lacked_kwh, 3, 1e-9);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_below_six_amps_there_is_no_charging,
        test_it_follows_within_five_seconds_but_not_at_once,
        test_the_battery_fills_and_then_takes_nothing,
        test_no_car_no_current,
        test_a_car_that_is_driven_comes_back_with_less,
        test_a_trip_longer_than_the_battery_is_driven_on_charge_from_elsewhere,
    };
    return RUN("charger", tests);
}
