/* Fingerprints: what is asked, and what each answer makes of the map. The meter is
 * invented; supply voltages and frequencies are those of IEC 60038 (230/400 V, 50 Hz
 * and 120/208 V, 60 Hz). */
#include <check.h>
#include <string.h>

#include "meter/recognise.h"

static const struct meter_map map = {
    .mark_count = 1,
    .mark = {{.table = METER_HOLDING,
              .address = 0xfc02,
              .type = METER_UINT16,
              .least = 112,
              .greatest = 114}},
    .point_count = 5,
    .point = {{.quantity = METER_POWER,
               .table = METER_INPUT,
               .address = 52,
               .type = METER_INT32,
               .scale_num = 1000,
               .scale_den = 1,
               .scale_register = METER_NO_REGISTER},
              {.quantity = METER_VOLTAGE_L1,
               .table = METER_INPUT,
               .address = 0,
               .type = METER_UINT16,
               .scale_num = 100,
               .scale_den = 1,
               .scale_register = METER_NO_REGISTER,
               .has_absent = true,
               .absent = 0xffff},
              {.quantity = METER_VOLTAGE_L2,
               .table = METER_INPUT,
               .address = 1,
               .type = METER_UINT16,
               .scale_num = 100,
               .scale_den = 1,
               .scale_register = METER_NO_REGISTER,
               .has_absent = true,
               .absent = 0xffff},
              {.quantity = METER_VOLTAGE_L3,
               .table = METER_INPUT,
               .address = 2,
               .type = METER_UINT16,
               .scale_num = 100,
               .scale_den = 1,
               .scale_register = METER_NO_REGISTER,
               .has_absent = true,
               .absent = 0xffff},
              {.quantity = METER_FREQUENCY,
               .table = METER_INPUT,
               .address = 70,
               .type = METER_UINT16,
               .scale_num = 10,
               .scale_den = 1,
               .scale_register = METER_NO_REGISTER}},
};

struct answered {
    const char *what;
    uint16_t mark, voltage[3], frequency;
    uint8_t refused; /* bit per read: 1 the mark, 2 the voltages, 4 the frequency */
    enum recognised verdict;
    const char *why;
};

static struct recognition judge(const struct meter_map *as, const struct answered *row,
                                uint8_t answered)
{
    struct meter_block reads[RECOGNISE_READS_MAX];
    const uint16_t *answers[] = {&row->mark, row->voltage, &row->frequency};
    const uint16_t **from = as->mark_count ? answers : answers + 1;
    struct recognition recognition;
    uint8_t refused = as->mark_count ? row->refused : row->refused >> 1;
    uint8_t count = meter_fingerprint_reads(as, reads);
    for (uint8_t k = 0; k < count; k++)
        from[k] = refused >> k & 1 ? NULL : from[k];
    meter_recognise(as, reads, from, answered < count ? answered : count, &recognition);
    return recognition;
}

START_TEST(test_what_is_asked_is_the_marks_first_and_then_voltages_and_frequency)
{
    struct meter_block reads[RECOGNISE_READS_MAX];
    ck_assert_uint_eq(meter_fingerprint_reads(&map, reads), 3);
    ck_assert_int_eq(reads[0].table, METER_HOLDING);
    ck_assert_uint_eq(reads[0].address, 0xfc02);
    ck_assert_uint_eq(reads[0].count, 1);
    ck_assert_int_eq(reads[1].table, METER_INPUT);
    ck_assert_uint_eq(reads[1].address, 0);
    ck_assert_uint_eq(reads[1].count, 3);
    ck_assert_uint_eq(reads[2].address, 70);
    ck_assert_uint_eq(reads[2].count, 1);
}
END_TEST

static const struct answered rows[] = {
    {"all as it should be",
     112,
     {2302, 2310, 2295},
     5001,
     0,
     RECOGNISED_SURE,
     "mark 112 at 0xfc02, 3 voltages, 50.0 Hz"},
    {"the end of the span; 120 V and 60 Hz",
     114,
     {1202, 1196, 1200},
     5994,
     0,
     RECOGNISED_SURE,
     "mark 114 at 0xfc02, 3 voltages, 59.9 Hz"},
    {"a relative",
     115,
     {2302, 2310, 2295},
     5001,
     0,
     RECOGNISED_NOT,
     "115 at 0xfc02 is not its mark"},
    {"no mark", 0, {2302, 2310, 2295}, 5001, 1, RECOGNISED_LIKELY, "3 voltages, 50.0 Hz"},
    {"one phase is connected",
     112,
     {2302, 3, 0},
     5001,
     0,
     RECOGNISED_SURE,
     "mark 112 at 0xfc02, 1 voltage, 50.0 Hz"},
    {"the others are not available",
     112,
     {2302, 0xffff, 0xffff},
     5001,
     0,
     RECOGNISED_SURE,
     "mark 112 at 0xfc02, 1 voltage, 50.0 Hz"},
    {"dead", 112, {0, 0, 0}, 5001, 0, RECOGNISED_NOT, "no voltage on any phase"},
    {"a voltage that no house has",
     112,
     {2302, 5000, 2295},
     5001,
     0,
     RECOGNISED_NOT,
     "voltage-l2 would be 500 V"},
    {"between none and some",
     112,
     {2302, 500, 2295},
     5001,
     0,
     RECOGNISED_NOT,
     "voltage-l2 would be 50 V"},
    {"no frequency",
     112,
     {2302, 2310, 2295},
     0,
     0,
     RECOGNISED_NOT,
     "the frequency would be 0.0 Hz"},
    {"of aircraft",
     112,
     {2302, 2310, 2295},
     40000,
     0,
     RECOGNISED_NOT,
     "the frequency would be 400.0 Hz"},
    {"voltages refused", 112, {0}, 5001, 2, RECOGNISED_NOT, "it has no 3 registers at 0x0000"},
    {"frequency refused",
     112,
     {2302, 2310, 2295},
     0,
     4,
     RECOGNISED_NOT,
     "it has no 1 register at 0x0046"},
};

START_TEST(test_each_answer_gives_its_verdict_and_says_why)
{
    struct recognition recognition = judge(&map, &rows[_i], 3);
    ck_assert_msg(recognition.verdict == rows[_i].verdict, "%s: %s", rows[_i].what,
                  recognition.why);
    ck_assert_str_eq(recognition.why, rows[_i].why);
    ck_assert((recognition.evidence > 0) == (recognition.verdict != RECOGNISED_NOT));
}
END_TEST

START_TEST(test_a_map_without_marks_is_likely_at_best)
{
    struct meter_map bare = map;
    bare.mark_count = 0;
    ck_assert_int_eq(judge(&bare, &rows[0], 3).verdict, RECOGNISED_LIKELY);
    ck_assert_int_eq(judge(&bare, &rows[7], 3).verdict, RECOGNISED_NOT);
    ck_assert_uint_lt(judge(&bare, &rows[0], 3).evidence, judge(&map, &rows[0], 3).evidence);
}
END_TEST

START_TEST(test_a_caller_may_stop_at_the_first_contradiction)
{
    ck_assert_int_eq(judge(&map, &rows[0], 0).verdict, RECOGNISED_LIKELY);
    ck_assert_int_eq(judge(&map, &rows[0], 1).verdict, RECOGNISED_LIKELY);
    ck_assert_int_eq(judge(&map, &rows[2], 1).verdict, RECOGNISED_NOT);
    ck_assert_int_eq(judge(&map, &rows[7], 2).verdict, RECOGNISED_NOT);
}
END_TEST

START_TEST(test_a_map_of_power_alone_can_be_known_by_nothing)
{
    struct meter_block reads[RECOGNISE_READS_MAX];
    struct meter_map power = {.point_count = 1, .point = {map.point[0]}};
    struct recognition recognition;
    ck_assert_uint_eq(meter_fingerprint_reads(&power, reads), 0);
    meter_recognise(&power, reads, NULL, 0, &recognition);
    ck_assert_int_eq(recognition.verdict, RECOGNISED_NOT);
    ck_assert_str_ne(recognition.why, "");
}
END_TEST

int main(void)
{
    Suite *suite = suite_create("recognise");
    TCase *cases = tcase_create("recognise");
    tcase_add_test(cases, test_what_is_asked_is_the_marks_first_and_then_voltages_and_frequency);
    tcase_add_loop_test(cases, test_each_answer_gives_its_verdict_and_says_why, 0,
                        sizeof rows / sizeof rows[0]);
    tcase_add_test(cases, test_a_map_without_marks_is_likely_at_best);
    tcase_add_test(cases, test_a_caller_may_stop_at_the_first_contradiction);
    tcase_add_test(cases, test_a_map_of_power_alone_can_be_known_by_nothing);
    suite_add_tcase(suite, cases);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? 1 : 0;
}
