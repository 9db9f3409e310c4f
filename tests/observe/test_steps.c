/* test_steps.c - what the house does by itself. */
#include "core/suite.h"

#include "observe/stat_steps.h"

START_TEST(test_all_that_can_happen_comes_to_one)
{
    struct stat_steps steps;
    steps_begin(&steps);
    for (int k = 0; k < 100000; k++)
        steps_note(&steps, k % 1000 == 0 ? 2200 : k % 1000 == 60 ? -2200 : k % 3 ? 0 : 30, 1000);
    double sum = 0, junk = 0.02 / 40000;
    for (int rest_w = -80000; rest_w <= 80000; rest_w += 2)
        sum += 2 * ((double)steps_density(&steps, rest_w, 0, 1000) / 1e15 - junk);
    ck_assert_double_eq_tol(sum, 1, 0.02);
}
END_TEST

START_TEST(test_a_kettles_size_is_likelier_where_there_is_a_kettle)
{
    struct stat_steps without, with;
    steps_begin(&without);
    steps_begin(&with);
    for (int k = 0; k < 7 * 86400; k++) {
        steps_note(&without, 0, 1000);
        steps_note(&with, k % 3600 == 0 ? 2200 : k % 3600 == 180 ? -2200 : 0, 1000);
    }
    ck_assert_int_gt(steps_rate_ppm(&with, 2200, 2200, 3600000),
                     20 * steps_rate_ppm(&without, 2200, 2200, 3600000));
    ck_assert_int_gt(steps_density(&with, 2200, 100, 5000),
                     steps_density(&without, 2200, 100, 5000));
    ck_assert_int_gt(steps_density(&with, 0, 0, 5000), 100 * steps_density(&with, 2200, 100, 5000));
}
END_TEST

START_TEST(test_a_longer_window_lets_more_happen)
{
    struct stat_steps steps;
    steps_begin(&steps);
    ck_assert_int_gt(steps_density(&steps, 500, 0, 60000), steps_density(&steps, 500, 0, 1000));
    ck_assert_int_lt(steps_density(&steps, 0, 0, 60000), steps_density(&steps, 0, 0, 1000));
}
END_TEST

START_TEST(test_old_kettles_are_forgotten)
{
    struct stat_steps steps;
    steps_begin(&steps);
    for (int k = 0; k < 86400; k++)
        steps_note(&steps, k % 600 == 0 ? 2200 : 0, 1000);
    int64_t then = steps_rate_ppm(&steps, 2200, 2200, 3600000);
    for (int day = 0; day < 60; day++) {
        steps_fade(&steps);
        for (int k = 0; k < 86400; k++)
            steps_note(&steps, 0, 1000);
    }
    ck_assert_int_lt(steps_rate_ppm(&steps, 2200, 2200, 3600000), then / 10);
}
END_TEST

START_TEST(test_anything_a_meter_can_say_has_a_likelihood)
{
    struct stat_steps steps;
    steps_begin(&steps);
    int32_t extreme[] = {INT32_MIN, -1, 0, 1, INT32_MAX};
    for (int k = 0; k < 5; k++) {
        steps_note(&steps, extreme[k], INT32_MAX);
        for (int j = 0; j < 5; j++)
            ck_assert_int_gt(steps_density(&steps, extreme[j], 100000, INT32_MAX), 0);
    }
    steps_note(&steps, 5, 0);
    steps_note(&steps, 5, -7);
    ck_assert_int_gt(steps.watched_ms, 0);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_all_that_can_happen_comes_to_one,
        test_a_kettles_size_is_likelier_where_there_is_a_kettle,
        test_a_longer_window_lets_more_happen,
        test_old_kettles_are_forgotten,
        test_anything_a_meter_can_say_has_a_likelihood,
    };
    return suite_run("steps", tests, COUNT_OF(tests));
}
