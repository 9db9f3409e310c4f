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

/* The same table: load profile L has a Qref of 11.655 kWh, 222.7 L at 55 C. */
START_TEST(test_profile_l_draws_11_655_kwh)
{
    struct tap tap;
    tap_init(&tap, tap_profile_l, tap_profile_l_count, 0);
    ck_assert_int_eq(tap_profile_l_count, 24);
    double litres = run_day(&tap, 55, 10);
    ck_assert_double_eq_tol(tap.drawn_j / 3.6e6, 11.655, 1e-6);
    ck_assert_double_eq_tol(litres, 222.7, 0.1);
}
END_TEST

static struct tank tank_at(double water_c, int layers)
{
    struct tank_settings settings = {.volume_l = 200, .ambient_c = 20, .layers = layers};
    struct tank tank;
    tank_fill(&tank, &settings, water_c);
    return tank;
}

/* 40 L at 40 C from 60 and 20 C are 20 L of hot water: 20 x 40 x 4186 J. */
START_TEST(test_litres_at_the_tap_take_their_heat_and_no_more)
{
    for (int layers = 1; layers <= 16; layers += 5) {
        struct tank tank = tank_at(60, layers);
        struct tap_flow flow = {.litres = 1, .wanted_c = 40, .inlet_c = 20};
        double before_j = tank_heat_j(&tank, 0), taken_j = 0;
        for (int i = 0; i < 40; i++) {
            struct tap_taken taken = tap_take(&tank, &flow);
            ck_assert_double_eq(taken.lack_j, 0);
            ck_assert_double_eq(taken.coldest_c, 40);
            taken_j += taken.heat_j;
        }
        ck_assert_double_eq_tol(taken_j, 20 * 40 * WATER_J_PER_L_K, 1);
        ck_assert_double_eq_tol(before_j - tank_heat_j(&tank, 0), taken_j, 1);
    }
}
END_TEST

START_TEST(test_what_a_cool_store_cannot_give_is_lack)
{
    struct tank tank = tank_at(35, 1);
    struct tap_flow flow = {.litres = 5, .wanted_c = 45, .inlet_c = 15};
    struct tap_taken taken = tap_take(&tank, &flow);
    ck_assert_double_eq_tol(taken.heat_j, 5 * 20 * WATER_J_PER_L_K, 1e-6);
    ck_assert_double_eq_tol(taken.lack_j, 5 * 10 * WATER_J_PER_L_K, 1e-6);
    ck_assert_double_eq(taken.coldest_c, 35);
}
END_TEST

START_TEST(test_a_store_colder_than_the_main_takes_no_heat_from_it)
{
    struct tank tank = tank_at(10, 4);
    struct tap_flow flow = {.litres = 5, .wanted_c = 45, .inlet_c = 15};
    struct tap_taken taken = tap_take(&tank, &flow);
    ck_assert_double_eq(taken.heat_j, 0);
    ck_assert_double_eq_tol(taken.lack_j, 5 * 30 * WATER_J_PER_L_K, 1e-6);
    ck_assert_double_eq(tank_at_c(&tank, 1), 10);
    flow.inlet_c = 50; /* a summer's main: nothing is wanted of the store */
    taken = tap_take(&tank, &flow);
    ck_assert_double_eq(taken.heat_j + taken.lack_j, 0);
}
END_TEST

/* A bath of more than the tank holds runs hot, then cold, layer by layer. */
START_TEST(test_a_long_draw_empties_the_tank_from_the_top)
{
    struct tank tank = tank_at(60, 16);
    struct tap_flow flow = {.litres = 600, .wanted_c = 45, .inlet_c = 15};
    double before_j = tank_heat_j(&tank, 15);
    struct tap_taken taken = tap_take(&tank, &flow);
    ck_assert_double_le(taken.heat_j, before_j);
    ck_assert_double_gt(taken.heat_j, 0.95 * before_j);
    ck_assert_double_lt(taken.coldest_c, 20);
    ck_assert_double_eq_tol(taken.heat_j + taken.lack_j, 600 * 30 * WATER_J_PER_L_K, 1);
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

/* 180 L a day at the tap, mixed to 40 C and a little of it to 55 C, from 60 and 10 C: hot
 * are 3/5 and 9/10. */
START_TEST(test_random_draws_keep_to_their_volume_and_differ_from_day_to_day)
{
    struct tap tap, again;
    tap_init_random(&tap, 180, 9, 0);
    tap_init_random(&again, 180, 9, 0);
    double sum = 0, least = 1e9, most = 0;
    for (int day = 0; day < 200; day++) {
        double litres = run_day(&tap, 60, 10);
        ck_assert_double_eq(litres, run_day(&again, 60, 10));
        sum += litres;
        least = litres < least ? litres : least;
        most = litres > most ? litres : most;
    }
    ck_assert_double_eq_tol(sum / 200, 180 * 0.62, 8);
    ck_assert_double_lt(least, 70);
    ck_assert_double_gt(most, 150);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_profile_m_draws_5_845_kwh,
        test_profile_l_draws_11_655_kwh,
        test_litres_at_the_tap_take_their_heat_and_no_more,
        test_what_a_cool_store_cannot_give_is_lack,
        test_a_store_colder_than_the_main_takes_no_heat_from_it,
        test_a_long_draw_empties_the_tank_from_the_top,
        test_one_shower_takes_26_8_litres_at_55_c,
        test_the_tap_mixes,
        test_a_shower_from_a_cold_tank_is_spoilt_second_by_second,
        test_draws_come_again_the_next_day_and_past_midnight,
        test_a_draw_in_the_skipped_hour_comes_late,
        test_random_draws_keep_to_their_volume_and_differ_from_day_to_day,
    };
    return RUN("tap", tests);
}
