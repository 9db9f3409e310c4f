/* test_heater.c - a heater whose heat is known is put into a household's use, and found and
 * taken out again. */
#include "days/heater.h"

#include <math.h>
#include <string.h>

#include "../core/suite.h"
#include "made_days.h"

enum { DAYS = 60 };

static const struct date first = {2026, 6, 1};
static const struct days_heater night = {22 * 3600, 6 * 3600, 3600};

/* 3.6 kW from 22:00 on, for 90 to 210 min from night to night: the mean is 2 h 30 min. */
static double heater_w(int day, int32_t second)
{
    int evening = second >= 12 * 3600 ? day : day - 1;
    int32_t since_s = (second + 2 * 3600) % 86400;
    return since_s < 5400 + evening % 5 * 1800 ? 3600 : 0;
}

static void with_heater(int day, int32_t second, double *use_w, double *solar_w)
{
    made_ordinary(day, second, use_w, solar_w);
    *use_w += heater_w(day, second);
}

/* On and off within a half hour: the first has 20 min of it. */
static void off_the_clock(int day, int32_t second, double *use_w, double *solar_w)
{
    with_heater(day, second + 600 < 86400 ? second + 600 : second + 600 - 86400, use_w, solar_w);
}

static bool take(struct days *days, const struct zone *zone, const struct days_heater *heater,
                 struct days_heater_taken *taken, struct trouble *trouble)
{
    *trouble = (struct trouble){.text = ""};
    return days_heater_take(days, zone, heater, taken, trouble);
}

START_TEST(test_a_heater_is_taken_out_and_the_household_is_left)
{
    static const int32_t steps_s[] = {300, 1800, 3600};
    for (size_t s = 0; s < COUNT_OF(steps_s); s++) {
        struct days days, without;
        struct days fine = made_days(&brisbane, first, DAYS, 300, with_heater);
        struct days fine_without = made_days(&brisbane, first, DAYS, 300, made_ordinary);
        ck_assert(days_in_steps(&fine, steps_s[s], &days) &&
                  days_in_steps(&fine_without, steps_s[s], &without));
        struct days_heater_taken taken;
        struct trouble trouble;
        ck_assert_msg(take(&days, &brisbane, &night, &taken, &trouble), "%s", trouble.text);
        ck_assert_double_eq_tol(taken.day_kwh, 9, 0.3);
        ck_assert_int_eq(taken.of, DAYS - 1);
        ck_assert_int_eq(taken.spans, taken.of);
        double left_kwh = 0;
        for (size_t k = 0; k < days.count; k++) {
            ck_assert_float_ge(days.use_w[k], 0);
            left_kwh += (double)(days.use_w[k] - without.use_w[k]) * steps_s[s] / 3.6e6;
        }
        /* the first and the last night are not whole */
        ck_assert_double_eq_tol(left_kwh / DAYS, 0.2, 0.3);
        days_free(&fine);
        days_free(&fine_without);
        days_free(&days);
        days_free(&without);
    }
}
END_TEST

START_TEST(test_parts_of_steps_at_either_end_are_taken_too)
{
    struct days minutes = made_days(&brisbane, first, DAYS, 600, off_the_clock), days;
    struct days_heater_taken taken;
    struct trouble trouble;
    ck_assert(days_in_steps(&minutes, 1800, &days));
    const struct days_heater around = {21 * 3600, 6 * 3600, 3600};
    ck_assert_msg(take(&days, &brisbane, &around, &taken, &trouble), "%s", trouble.text);
    ck_assert_double_eq_tol(taken.day_kwh, 9, 0.4);
    days_free(&minutes);
    days_free(&days);
}
END_TEST

static void expect_refused(struct days *days, const struct days_heater *heater, const char *wanted)
{
    struct days_heater_taken taken;
    struct trouble trouble;
    float before = days->use_w[44], sum = 0, sum_after = 0;
    for (size_t k = 0; k < days->count; k++)
        sum += days->use_w[k];
    ck_assert(!take(days, &brisbane, heater, &taken, &trouble));
    ck_assert_msg(strstr(trouble.text, wanted), "wanted %s; got %s", wanted, trouble.text);
    for (size_t k = 0; k < days->count; k++)
        sum_after += days->use_w[k];
    ck_assert_float_eq(days->use_w[44], before);
    ck_assert_float_eq(sum, sum_after);
}

START_TEST(test_what_does_not_fit_is_refused_and_nothing_changes)
{
    struct days days = made_days(&brisbane, first, DAYS, 1800, with_heater);
    struct days bare = made_days(&brisbane, first, DAYS, 1800, made_ordinary);
    struct days one = made_days(&brisbane, first, 1, 1800, with_heater);
    expect_refused(&days, &(struct days_heater){22 * 3600, 6 * 3600, 2400},
                   "the steps within these hours are of 3.6 kW, not 2.4 kW");
    expect_refused(&days, &(struct days_heater){22 * 3600, 6 * 3600, 4800},
                   "the steps within these hours are of 3.6 kW, not 4.8 kW");
    expect_refused(&days, &(struct days_heater){2 * 3600, 6 * 3600, 3600},
                   "steps of 3.6 kW show on 0 of 60 days only");
    expect_refused(&bare, &night, "steps of 3.6 kW show on 0 of 59 days only");
    expect_refused(&one, &night, "no whole span of these hours");
    days_free(&days);
    days_free(&bare);
    days_free(&one);
}
END_TEST

/* 1.2 to 3.2 kW for an hour from 19:00. */
static void cooking(int day, int32_t second, double *use_w, double *solar_w)
{
    *solar_w = 0;
    *use_w = 300;
    if (second >= 19 * 3600 && second < 20 * 3600)
        *use_w += 1200 + day * 7 % 11 * 200;
}

START_TEST(test_cooking_is_no_heater)
{
    struct days days = made_days(&brisbane, first, DAYS, 1800, cooking);
    expect_refused(&days, &(struct days_heater){17 * 3600, 23 * 3600, 2000},
                   "of another size from day to day");
    days_free(&days);
}
END_TEST

static void by_day(int day, int32_t second, double *use_w, double *solar_w)
{
    made_ordinary(day, second, use_w, solar_w);
    *use_w += second >= 11 * 3600 && second < 13 * 3600 ? 3600 : 0;
}

/* What is imported then is not what the heater takes. */
START_TEST(test_by_day_the_roof_must_be_known)
{
    struct days days = made_days(&brisbane, first, DAYS, 1800, by_day);
    struct days_heater_taken taken;
    struct trouble trouble;
    const struct days_heater heater = {10 * 3600, 14 * 3600, 3600};
    days.at_meter = true;
    expect_refused(&days, &heater, "the roof gives power within these hours");
    days.at_meter = false;
    ck_assert_msg(take(&days, &brisbane, &heater, &taken, &trouble), "%s", trouble.text);
    ck_assert_double_eq_tol(taken.day_kwh, 7.2, 0.1);
    days_free(&days);
}
END_TEST

START_TEST(test_night_steps_of_one_size_are_a_heater)
{
    struct days days = made_days(&brisbane, first, DAYS, 1800, with_heater);
    struct days_halves halves;
    struct days_heater_seen seen;
    ck_assert(days_halves_make(&days, &brisbane, &halves));
    ck_assert(days_heater_look(&halves, &seen));
    ck_assert_double_eq(seen.like.power_w, 3600);
    ck_assert_int_eq(seen.begins_s, 22 * 3600);
    ck_assert_int_eq(seen.like.from_s, 22 * 3600);
    ck_assert_int_eq(seen.like.to_s, 2 * 3600);
    ck_assert_int_eq(seen.nights, DAYS - 1);
    ck_assert_int_eq(seen.of, DAYS - 1);
    /* and what was found can be taken out as it was found */
    struct days_heater_taken taken;
    struct trouble trouble;
    ck_assert_msg(take(&days, &brisbane, &seen.like, &taken, &trouble), "%s", trouble.text);
    ck_assert_double_eq_tol(taken.day_kwh, 9, 0.4);
    days_halves_free(&halves);
    ck_assert(days_halves_make(&days, &brisbane, &halves));
    ck_assert(!days_heater_look(&halves, &seen));
    days_halves_free(&halves);
    days_free(&days);
}
END_TEST

/* A timer that does not know of summer time begins at 23:00 there. */
static void by_standard_time(int day, int32_t second, double *use_w, double *solar_w)
{
    bool summer = day < 92 || day >= 276; /* Sydney, days of 2026 */
    int32_t standard = summer ? second - 3600 : second;
    made_ordinary(day, second, use_w, solar_w);
    *use_w += heater_w(standard < 0 ? day - 1 : day, (standard + 86400) % 86400);
}

START_TEST(test_a_timer_without_summer_time_is_found_as_well)
{
    struct days days = made_days(&sydney, (struct date){2026, 1, 1}, 365, 1800, by_standard_time);
    struct days_halves halves;
    struct days_heater_seen seen;
    ck_assert(days_halves_make(&days, &sydney, &halves));
    ck_assert(days_heater_look(&halves, &seen));
    ck_assert_int_eq(seen.like.from_s, 22 * 3600);
    ck_assert_int_eq(seen.like.to_s, 3 * 3600);
    ck_assert_int_ge(seen.nights, 350);
    days_halves_free(&halves);
    days_free(&days);
}
END_TEST

/* Appliances at any time and of any size are none. */
static void evenings(int day, int32_t second, double *use_w, double *solar_w)
{
    made_ordinary(day, second, use_w, solar_w);
    int slot = second / 1800;
    *use_w += slot == 42 + day * 7 % 6 ? 600 + day * 389 % 2400 : 0;
}

START_TEST(test_dishwashers_are_no_heater)
{
    struct days days = made_days(&brisbane, first, DAYS, 1800, evenings);
    struct days_halves halves;
    struct days_heater_seen seen;
    ck_assert(days_halves_make(&days, &brisbane, &halves));
    ck_assert(!days_heater_look(&halves, &seen));
    days_halves_free(&halves);
    days_free(&days);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_a_heater_is_taken_out_and_the_household_is_left,
        test_parts_of_steps_at_either_end_are_taken_too,
        test_what_does_not_fit_is_refused_and_nothing_changes,
        test_cooking_is_no_heater,
        test_by_day_the_roof_must_be_known,
        test_night_steps_of_one_size_are_a_heater,
        test_a_timer_without_summer_time_is_found_as_well,
        test_dishwashers_are_no_heater,
    };
    return suite_run("heater", tests, COUNT_OF(tests));
}
