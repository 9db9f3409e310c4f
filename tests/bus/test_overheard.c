/* test_overheard.c - samples out of another master's rounds, whatever it reads. */
#include "bus/overheard.h"

#include <check.h>
#include <stdlib.h>

/* Five whole-number points: total power at 0, the phases' at 2, 4, 6, volts at 8 and
 * imported energy at 10; watts, volts and Wh. */
static const struct {
    enum meter_quantity quantity;
    uint16_t address;
} points[] = {{METER_POWER, 0},    {METER_POWER_L1, 2},   {METER_POWER_L2, 4},
              {METER_POWER_L3, 6}, {METER_VOLTAGE_L1, 8}, {METER_IMPORT_ENERGY, 10}};
enum { POINTS = sizeof points / sizeof points[0] };

static struct overheard new_overheard(void)
{
    struct overheard overheard;
    struct meter_map map = {.name = "whole", .point_count = POINTS};
    for (int i = 0; i < POINTS; i++)
        map.point[i] = (struct meter_point){.quantity = points[i].quantity,
                                            .address = points[i].address,
                                            .type = METER_INT16,
                                            .scale_num = 1000,
                                            .scale_den = 1,
                                            .scale_register = METER_NO_REGISTER};
    overheard_begin(&overheard, 1, &map);
    return overheard;
}

static void hear(struct overheard *overheard, uint16_t address, uint16_t value, int64_t now_us)
{
    const struct meter_block block = {.address = address, .count = 1};
    overheard_take(overheard, &block, &value, now_us);
}

static void assert_sample(struct overheard *overheard, enum meter_quantity quantity, int64_t value,
                          int64_t at_us)
{
    struct meter_sample sample;
    int64_t taken_us;
    ck_assert(overheard_sample(overheard, &sample, &taken_us));
    ck_assert(sample.has & 1u << quantity);
    ck_assert_int_eq(sample.value[quantity], value);
    ck_assert_int_eq(taken_us, at_us);
}

static void assert_none(struct overheard *overheard)
{
    struct meter_sample sample;
    int64_t taken_us;
    ck_assert(!overheard_sample(overheard, &sample, &taken_us));
}

START_TEST(test_first_round_is_known_when_the_second_begins)
{
    struct overheard overheard = new_overheard();
    hear(&overheard, 0, 100, 1000);
    hear(&overheard, 8, 230, 2000);
    assert_none(&overheard);
    hear(&overheard, 0, 110, 3000);
    assert_sample(&overheard, METER_POWER, 100000, 1000);
}
END_TEST

START_TEST(test_later_rounds_are_whole_with_their_last_block)
{
    struct overheard overheard = new_overheard();
    for (int64_t round = 0; round < 5; round++) {
        hear(&overheard, 0, (uint16_t)(100 + round), 10 * round);
        hear(&overheard, 8, 230, 10 * round + 1);
        if (round > 0)
            assert_sample(&overheard, METER_VOLTAGE_L1, 230000, 10 * round);
    }
}
END_TEST

START_TEST(test_energy_that_comes_seldom_does_not_hold_up_power)
{
    struct overheard overheard = new_overheard();
    hear(&overheard, 0, 1, 1);
    hear(&overheard, 10, 7, 2);
    hear(&overheard, 0, 2, 3);
    hear(&overheard, 0, 3, 4);
    assert_sample(&overheard, METER_IMPORT_ENERGY, 7000, 4);
    hear(&overheard, 0, 4, 5);
    assert_sample(&overheard, METER_POWER, 4000, 5);
    ck_assert_uint_eq(overheard.totals.has, 0);
}
END_TEST

START_TEST(test_master_that_reads_less_than_before_is_followed)
{
    struct overheard overheard = new_overheard();
    hear(&overheard, 0, 1, 1);
    hear(&overheard, 8, 230, 2);
    hear(&overheard, 0, 2, 3);
    hear(&overheard, 8, 230, 4);
    assert_sample(&overheard, METER_POWER, 2000, 3);
    hear(&overheard, 0, 3, 5);
    assert_none(&overheard);
    hear(&overheard, 0, 4, 6);
    assert_sample(&overheard, METER_POWER, 4000, 6);
    hear(&overheard, 0, 5, 7);
    assert_sample(&overheard, METER_POWER, 5000, 7);
}
END_TEST

START_TEST(test_sum_of_the_phases_stands_for_a_total_that_is_never_asked_for)
{
    char words[256];
    struct text text = text_in(words, sizeof words);
    struct overheard overheard = new_overheard();
    for (int64_t round = 0; round < 2; round++) {
        hear(&overheard, 2, 100, 3 * round);
        hear(&overheard, 4, (uint16_t)-30, 3 * round + 1);
        hear(&overheard, 6, 20, 3 * round + 2);
    }
    assert_sample(&overheard, METER_POWER, 90000, 5);
    overheard_missing(&overheard, &text);
    ck_assert_str_eq(words, "total power is never polled; the sum of the phases is used instead. "
                            "Also never polled: voltage-l1, import-energy");
}
END_TEST

START_TEST(test_without_any_power_there_is_no_sample_and_the_nearest_is_named)
{
    char words[256];
    struct text text = text_in(words, sizeof words);
    struct overheard overheard = new_overheard();
    for (int64_t round = 0; round < 5; round++) {
        hear(&overheard, 8, 230, round);
        hear(&overheard, 2, 100, round);
    }
    assert_none(&overheard);
    overheard_missing(&overheard, &text);
    ck_assert_str_eq(words,
                     "total power is never polled; the nearest is power-l1, voltage-l1. Also "
                     "never polled: power-l2, power-l3, import-energy");
}
END_TEST

START_TEST(test_registers_that_the_map_does_not_name_are_passed_over)
{
    struct overheard overheard = new_overheard();
    for (int64_t round = 0; round < 5; round++)
        hear(&overheard, 100, 1, round);
    assert_none(&overheard);
    ck_assert_uint_eq(overheard.heard, 0);
}
END_TEST

int main(void)
{
    TCase *cases = tcase_create("overheard");
    tcase_add_test(cases, test_first_round_is_known_when_the_second_begins);
    tcase_add_test(cases, test_later_rounds_are_whole_with_their_last_block);
    tcase_add_test(cases, test_energy_that_comes_seldom_does_not_hold_up_power);
    tcase_add_test(cases, test_master_that_reads_less_than_before_is_followed);
    tcase_add_test(cases, test_sum_of_the_phases_stands_for_a_total_that_is_never_asked_for);
    tcase_add_test(cases, test_without_any_power_there_is_no_sample_and_the_nearest_is_named);
    tcase_add_test(cases, test_registers_that_the_map_does_not_name_are_passed_over);
    Suite *suite = suite_create("overheard");
    suite_add_tcase(suite, cases);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
