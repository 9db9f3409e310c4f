/* test_quality.c - what is counted of a bus, and how long its units take. */
#include "bus/quality.h"

#include <check.h>
#include <stdlib.h>

static struct bus_quality read_of(struct quality *quality)
{
    struct bus_quality read;
    quality_read(quality, &read);
    quality_end(quality);
    return read;
}

START_TEST(test_each_outcome_counts_in_its_place_and_a_question_after_a_failure_is_a_retry)
{
    struct quality quality;
    quality_begin(&quality);
    quality_count(&quality, 7, BUS_OK, 1000);
    quality_count(&quality, 7, BUS_TIMEOUT, 0);
    quality_count(&quality, 7, BUS_CORRUPT, 0);
    quality_count(&quality, 7, BUS_EXCEPTION, 1000);
    quality_count(&quality, 9, BUS_OK, 1000);
    struct bus_quality read = read_of(&quality);
    ck_assert_uint_eq(read.unit_count, 2);
    ck_assert_uint_eq(read.unit[0].unit, 7);
    ck_assert_uint_eq(read.unit[0].asked, 4);
    ck_assert_uint_eq(read.unit[0].answered, 2);
    ck_assert_uint_eq(read.unit[0].timeouts, 1);
    ck_assert_uint_eq(read.unit[0].corrupt, 1);
    ck_assert_uint_eq(read.unit[0].exceptions, 1);
    ck_assert_uint_eq(read.unit[0].retries, 2);
    ck_assert_uint_eq(read.unit[1].retries, 0);
}
END_TEST

/* A hundred answers of 1 ms to 100 ms: a bucket is a fifth wide. */
START_TEST(test_percentiles_are_right_to_a_fifth)
{
    struct quality quality;
    quality_begin(&quality);
    for (int ms = 1; ms <= 100; ms++)
        quality_count(&quality, 1, BUS_OK, ms * 1000);
    struct bus_quality read = read_of(&quality);
    ck_assert_int_ge(read.unit[0].p50_us, 50000);
    ck_assert_int_le(read.unit[0].p50_us, 60000);
    ck_assert_int_ge(read.unit[0].p95_us, 95000);
    ck_assert_int_le(read.unit[0].p95_us, 114000);
    ck_assert_int_ge(read.unit[0].p99_us, 99000);
    ck_assert_int_le(read.unit[0].p99_us, 119000);
}
END_TEST

START_TEST(test_old_answer_times_fade)
{
    struct quality quality;
    quality_begin(&quality);
    for (int i = 0; i < 4096; i++)
        quality_count(&quality, 1, BUS_OK, 200000);
    for (int i = 0; i < 3 * 4096; i++)
        quality_count(&quality, 1, BUS_OK, 10000);
    struct bus_quality read = read_of(&quality);
    ck_assert_uint_eq(read.unit[0].answered, 4 * 4096);
    ck_assert_int_le(read.unit[0].p95_us, 12000);
}
END_TEST

START_TEST(test_unit_that_never_answered_has_no_times)
{
    struct quality quality;
    quality_begin(&quality);
    quality_count(&quality, 1, BUS_TIMEOUT, 0);
    struct bus_quality read = read_of(&quality);
    ck_assert_int_eq(read.unit[0].p50_us, 0);
    ck_assert_int_eq(read.unit[0].p99_us, 0);
}
END_TEST

/* Somebody else's scan passes 247 units. */
START_TEST(test_more_units_than_places_do_no_harm)
{
    struct quality quality;
    quality_begin(&quality);
    for (int unit = 1; unit <= 247; unit++)
        quality_count(&quality, (uint8_t)unit, BUS_TIMEOUT, 0);
    struct bus_quality read = read_of(&quality);
    ck_assert_uint_eq(read.unit_count, BUS_QUALITY_UNITS_MAX);
    ck_assert_uint_eq(read.unit[BUS_QUALITY_UNITS_MAX - 1].unit, BUS_QUALITY_UNITS_MAX);
}
END_TEST

int main(void)
{
    TCase *cases = tcase_create("quality");
    tcase_add_test(cases,
                   test_each_outcome_counts_in_its_place_and_a_question_after_a_failure_is_a_retry);
    tcase_add_test(cases, test_percentiles_are_right_to_a_fifth);
    tcase_add_test(cases, test_old_answer_times_fade);
    tcase_add_test(cases, test_unit_that_never_answered_has_no_times);
    tcase_add_test(cases, test_more_units_than_places_do_no_harm);
    Suite *suite = suite_create("quality");
    suite_add_tcase(suite, cases);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
