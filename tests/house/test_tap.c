/* Draws: the regulation's profile, the mixing, the spoilt shower. */
#include "house/tank.h"
#include "house/tap.h"
#include "suite.h"

static double run_day(struct tap *tap, double hot_c, double inlet_c)
{
    double litres = 0;
    for (int32_t s = 0; s < 86400; s++)
        litres += tap_step_l(tap, s, 1, hot_c, inlet_c);
    return litres;
}

/* EU regulation 812/2013, Annex VII: load profile M has a Qref of 5.845 kWh. */
START_TEST(test_profile_m_draws_5_845_kwh)
{
    struct tap tap;
    tap_init(&tap, tap_profile_m, tap_profile_m_count, 0);
    ck_assert_int_eq(tap_profile_m_count, 23);
    double litres = run_day(&tap, 55, 10);
    ck_assert_double_eq_tol(tap.drawn_j / 3.6e6, 5.845, 1e-6);
    /* 5.845 kWh / (1.1628 Wh/(L K) x 45 K) = 111.7 L at 55 C. */
    ck_assert_double_eq_tol(litres, 111.7, 0.1);
    ck_assert_double_eq(tap.spoilt_s, 0);
}
END_TEST

/* A 1.4 kWh shower takes 26.8 L at 55 C from 10 C. */
START_TEST(test_one_shower_takes_26_8_litres_at_55_c)
{
    struct tap_draw shower = {.at_s = 100, .flow_l_min = 6, .wanted_c = 40, .energy_kwh = 1.4};
    struct tap tap;
    tap_init(&tap, &shower, 1, 0);
    ck_assert_double_eq_tol(run_day(&tap, 55, 10), 26.8, 0.1);
}
END_TEST

/* 9 L/min at 40 C from 60 and 20 C: half of it is hot. */
START_TEST(test_the_tap_mixes)
{
    struct tap_draw draw = {.at_s = 100, .flow_l_min = 9, .wanted_c = 40, .seconds = 120};
    struct tap tap;
    tap_init(&tap, &draw, 1, 0);
    ck_assert_double_eq_tol(run_day(&tap, 60, 20), 9, 1e-9);
}
END_TEST

START_TEST(test_a_shower_from_a_cold_tank_is_spoilt_second_by_second)
{
    struct tap_draw draw = {.at_s = 100, .flow_l_min = 9, .wanted_c = 40, .seconds = 300};
    struct tap tap;
    tap_init(&tap, &draw, 1, 0);
    double litres = run_day(&tap, 37, 15);
    ck_assert_double_eq_tol(tap.spoilt_s, 300, 1e-9);
    ck_assert_double_eq_tol(litres, 45, 1e-9); /* all of it hot */
}
END_TEST

START_TEST(test_draws_come_again_the_next_day_and_past_midnight)
{
    struct tap_draw draw = {.at_s = 0, .flow_l_min = 6, .wanted_c = 40, .seconds = 60};
    struct tap tap;
    tap_init(&tap, &draw, 1, 1);
    double first = run_day(&tap, 60, 20), second = run_day(&tap, 60, 20);
    ck_assert_double_eq(first, 0); /* midnight had gone when it began */
    ck_assert_double_eq_tol(second, 3, 1e-9);
}
END_TEST

/* Spring: 02:00 to 03:00 doesn't exist; a draw in it comes with 03:00. */
START_TEST(test_a_draw_in_the_skipped_hour_comes_late)
{
    struct tap_draw draw = {.at_s = 2 * 3600 + 900, .flow_l_min = 6, .wanted_c = 40, .seconds = 60};
    struct tap tap;
    double litres = 0;
    tap_init(&tap, &draw, 1, 0);
    for (int32_t s = 0; s < 4 * 3600; s++)
        if (s < 2 * 3600 || s >= 3 * 3600)
            litres += tap_step_l(&tap, s, 1, 60, 20);
    ck_assert_double_eq_tol(litres, 3, 1e-9);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_profile_m_draws_5_845_kwh,
        test_one_shower_takes_26_8_litres_at_55_c,
        test_the_tap_mixes,
        test_a_shower_from_a_cold_tank_is_spoilt_second_by_second,
        test_draws_come_again_the_next_day_and_past_midnight,
        test_a_draw_in_the_skipped_hour_comes_late,
    };
    return RUN("tap", tests);
}
