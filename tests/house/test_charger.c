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

int main(void)
{
    const TTest *const tests[] = {
        test_below_six_amps_there_is_no_charging,
        test_it_follows_within_five_seconds_but_not_at_once,
        test_the_battery_fills_and_then_takes_nothing,
        test_no_car_no_current,
    };
    return RUN("charger", tests);
}
