/* An energy register over time: what of its rise counts. */
#include "meter/total.h"

#include <check.h>
#include <stdlib.h>

enum { MOST_W = 46000, MINUTE_MS = 60000, KWH = 1000000 };

static struct total total;
static struct mono now;
static int64_t counted_mwh;

static void begin(void)
{
    total = (struct total){0};
    now = (struct mono){60000};
    counted_mwh = 0;
}

/* One value later, by a minute. */
static enum total_finding next_of(int64_t mwh, int64_t most_w)
{
    int64_t risen;
    now = mono_after(now, MINUTE_MS);
    enum total_finding finding = total_take(&total, mwh, most_w, now, &risen);
    ck_assert_int_ge(risen, 0);
    counted_mwh += risen;
    return finding;
}

static enum total_finding next(int64_t mwh)
{
    return next_of(mwh, MOST_W);
}

START_TEST(test_first_value_counts_nothing)
{
    ck_assert_int_eq(next(INT64_C(1234) * KWH), TOTAL_RISEN);
    ck_assert_int_eq(counted_mwh, 0);
}
END_TEST

START_TEST(test_rise_is_counted)
{
    next(1000 * KWH);
    ck_assert_int_eq(next(1000 * KWH + 50000), TOTAL_RISEN);
    ck_assert_int_eq(next(1000 * KWH + 50000), TOTAL_RISEN);
    ck_assert_int_eq(next(1000 * KWH + 120000), TOTAL_RISEN);
    ck_assert_int_eq(counted_mwh, 120000);
}
END_TEST

/* 1,234 kWh, then 49,325: the 48,091 between them flowed through no wire of this house. */
START_TEST(test_exchanged_meter_counts_only_what_it_measured_itself)
{
    next(INT64_C(1234) * KWH);
    ck_assert_int_eq(next(INT64_C(49325) * KWH), TOTAL_DOUBTED);
    ck_assert_int_eq(next(INT64_C(49325) * KWH + 40000), TOTAL_REPLACED);
    ck_assert_int_eq(counted_mwh, 40000);
    ck_assert_int_eq(next(INT64_C(49325) * KWH + 90000), TOTAL_RISEN);
    ck_assert_int_eq(counted_mwh, 90000);
}
END_TEST

START_TEST(test_register_that_begins_anew_counts_from_there)
{
    next(INT64_C(99999) * KWH);
    ck_assert_int_eq(next(0), TOTAL_DOUBTED);
    ck_assert_int_eq(next(20000), TOTAL_REPLACED);
    ck_assert_int_eq(next(30000), TOTAL_RISEN);
    ck_assert_int_eq(counted_mwh, 30000);
}
END_TEST

/* Nothing is lost by it either. */
START_TEST(test_value_misread_once_changes_nothing)
{
    next(1000 * KWH);
    ck_assert_int_eq(next(INT64_C(900000) * KWH), TOTAL_DOUBTED);
    ck_assert_int_eq(next(1000 * KWH + 50000), TOTAL_RISEN);
    ck_assert_int_eq(next(0), TOTAL_DOUBTED);
    ck_assert_int_eq(next(INT64_C(3) * KWH * 100000), TOTAL_DOUBTED);
    ck_assert_int_eq(next(1000 * KWH + 90000), TOTAL_RISEN);
    ck_assert_int_eq(counted_mwh, 90000);
}
END_TEST

/* 46 kW for an hour are 46 kWh; registers may step by as much as 1 kWh, and late. */
START_TEST(test_rise_is_limited_by_what_can_have_flowed_meanwhile)
{
    next(0);
    now = mono_after(now, MS_PER_HOUR - MINUTE_MS);
    ck_assert_int_eq(next(48 * KWH), TOTAL_RISEN);
    now = mono_after(now, MS_PER_HOUR - MINUTE_MS);
    ck_assert_int_eq(next((48 + 48) * KWH + 1), TOTAL_DOUBTED);
    ck_assert_int_eq(counted_mwh, 48 * KWH);
}
END_TEST

/* As after a restart of the machine: the last value was read before it was on. */
START_TEST(test_time_away_allows_as_much_as_can_have_flowed)
{
    total = (struct total){.known = true, .mwh = 1000 * KWH, .at = {60000 - 10 * MS_PER_DAY}};
    ck_assert_int_eq(next(1000 * KWH + 200 * KWH), TOTAL_RISEN);
    ck_assert_int_eq(counted_mwh, 200 * KWH);
    begin();
    total = (struct total){.known = true, .mwh = 1000 * KWH, .at = {60000 - MS_PER_HOUR}};
    ck_assert_int_eq(next(1000 * KWH + 200 * KWH), TOTAL_DOUBTED);
}
END_TEST

START_TEST(test_without_a_limit_only_a_fall_is_doubted)
{
    next_of(1000 * KWH, 0);
    ck_assert_int_eq(next_of(INT64_C(900000) * KWH, 0), TOTAL_RISEN);
    ck_assert_int_eq(next_of(0, 0), TOTAL_DOUBTED);
}
END_TEST

START_TEST(test_values_at_the_ends_of_their_range_overflow_nothing)
{
    next(INT64_MIN);
    ck_assert_int_eq(next(INT64_MAX), TOTAL_DOUBTED);
    ck_assert_int_eq(next(INT64_MIN), TOTAL_RISEN);
    total = (struct total){.known = true, .mwh = 0, .at = {0}};
    now = (struct mono){INT64_MAX / 2};
    int64_t risen, mj;
    ck_assert_int_eq(total_take(&total, INT64_MAX / 3600, MOST_W, now, &risen), TOTAL_RISEN);
    ck_assert(!__builtin_mul_overflow(risen, 3600, &mj));
    now = (struct mono){INT64_MAX / 2 - 1}; /* a clock that ran backwards allows a step */
    ck_assert_int_eq(total_take(&total, INT64_MAX / 3600 + 1, MOST_W, now, &risen), TOTAL_RISEN);
}
END_TEST

int main(void)
{
    Suite *suite = suite_create("total");
    TCase *cases = tcase_create("total");
    tcase_add_checked_fixture(cases, begin, NULL);
    tcase_add_test(cases, test_first_value_counts_nothing);
    tcase_add_test(cases, test_rise_is_counted);
    tcase_add_test(cases, test_exchanged_meter_counts_only_what_it_measured_itself);
    tcase_add_test(cases, test_register_that_begins_anew_counts_from_there);
    tcase_add_test(cases, test_value_misread_once_changes_nothing);
    tcase_add_test(cases, test_rise_is_limited_by_what_can_have_flowed_meanwhile);
    tcase_add_test(cases, test_time_away_allows_as_much_as_can_have_flowed);
    tcase_add_test(cases, test_without_a_limit_only_a_fall_is_doubted);
    tcase_add_test(cases, test_values_at_the_ends_of_their_range_overflow_nothing);
    suite_add_tcase(suite, cases);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
