/* What a request gets: from the newest block within the age, or a place in the queue; a
 * SunSpec view that tells nothing wrong; a limit. */
#include <check.h>
#include <stdlib.h>
#include <string.h>

#include "gateway/rate_limit.h"
#include "gateway/service.h"

enum { BUS = 3, DEVICE = 9, UNIT = 17, VIEW = 18, S = 1000000, AGE_MS = 2000, NOW = 100 * S };

static struct gateway_settings settings;
static struct service service;

static void set_up(void)
{
    settings = (struct gateway_settings){
        .age_ms = AGE_MS,
        .served_count = 2,
        .served = {{.meter = "grid", .unit = UNIT, .bus_index = BUS, .bus_unit = DEVICE},
                   {.meter = "grid",
                    .unit = VIEW,
                    .view = GATEWAY_SUNSPEC,
                    .wiring = GATEWAY_WYE,
                    .device = "a-meter",
                    .current_exp = -2}}};
    memset(&service, 0x5a, sizeof(service));
    service_begin(&service, &settings, "0.1");
}

static void read_block(uint16_t address, uint16_t count, uint16_t first, int64_t at_us)
{
    struct pass_news news = {.kind = PASS_BLOCK, .bus = BUS, .unit = DEVICE, .at_us = at_us};
    news.read.block =
        (struct meter_block){.table = METER_HOLDING, .address = address, .count = count};
    for (uint16_t i = 0; i < count; i++)
        news.read.value[i] = (uint16_t)(first + i);
    register_cache_keep(&service.cache, &news);
}

static struct judgement ask(uint8_t unit, uint8_t function, uint16_t address, uint16_t count)
{
    const uint8_t pdu[] = {function, (uint8_t)(address >> 8), (uint8_t)address,
                           (uint8_t)(count >> 8), (uint8_t)count};
    return service_judge(&service, unit, pdu, sizeof(pdu), NOW);
}

static uint16_t word(const struct judgement *judgement, int index)
{
    ck_assert_int_eq(judgement->verdict, VERDICT_ANSWER);
    ck_assert_int_lt(index, judgement->reply.pdu[1] / 2);
    return (uint16_t)(judgement->reply.pdu[2 + 2 * index] << 8 |
                      judgement->reply.pdu[3 + 2 * index]);
}

START_TEST(test_a_block_answers_for_every_part_of_itself_and_no_more)
{
    read_block(100, 4, 7, NOW - S);
    for (uint16_t address = 98; address < 106; address++)
        for (uint16_t count = 1; count < 7; count++) {
            struct judgement judgement = ask(UNIT, 3, address, count);
            bool within = address >= 100 && address + count <= 104;
            ck_assert_int_eq(judgement.verdict, within ? VERDICT_ANSWER : VERDICT_PASS);
            for (int i = 0; within && i < count; i++)
                ck_assert_int_eq(word(&judgement, i), 7 + address - 100 + i);
        }
    ck_assert_int_eq(ask(UNIT, 4, 100, 4).verdict, VERDICT_PASS); /* another table */
    struct judgement passed = ask(UNIT, 3, 200, 1);
    ck_assert_int_eq(passed.bus, BUS);
    ck_assert_int_eq(passed.unit, DEVICE);
}
END_TEST

START_TEST(test_two_blocks_are_not_put_together)
{
    read_block(100, 2, 1, NOW - S);
    read_block(102, 2, 1, NOW - S);
    ck_assert_int_eq(ask(UNIT, 3, 101, 2).verdict, VERDICT_PASS);
}
END_TEST

START_TEST(test_the_newest_answers_while_it_is_young_enough)
{
    read_block(100, 4, 1, NOW - 3 * S);
    ck_assert_int_eq(ask(UNIT, 3, 100, 1).verdict, VERDICT_PASS);
    read_block(100, 4, 2, NOW - 2 * S);
    struct judgement judgement = ask(UNIT, 3, 100, 1);
    ck_assert_int_eq(word(&judgement, 0), 2);
    read_block(98, 4, 70, NOW - S);
    judgement = ask(UNIT, 3, 100, 1);
    ck_assert_int_eq(word(&judgement, 0), 72);
    read_block(100, 4, 3, NOW);
    judgement = ask(UNIT, 3, 100, 1);
    ck_assert_int_eq(word(&judgement, 0), 3);
    register_cache_forget(&service.cache, BUS, DEVICE);
    ck_assert_int_eq(ask(UNIT, 3, 100, 1).verdict, VERDICT_PASS);
}
END_TEST

START_TEST(test_more_blocks_than_there_is_room_for_push_out_the_oldest)
{
    for (uint16_t k = 0; k <= CACHED_BLOCKS_MAX; k++)
        read_block((uint16_t)(10 * k), 2, k, NOW - S + k);
    ck_assert_int_eq(ask(UNIT, 3, 0, 1).verdict, VERDICT_PASS);
    ck_assert_int_eq(ask(UNIT, 3, 10, 1).verdict, VERDICT_ANSWER);
    ck_assert_int_eq(ask(UNIT, 3, 10 * CACHED_BLOCKS_MAX, 1).verdict, VERDICT_ANSWER);
}
END_TEST

START_TEST(test_a_view_is_silent_before_the_first_reading_and_after_the_age)
{
    struct meter_sample sample = {.has = 1u << METER_POWER, .value = {[METER_POWER] = -1500000}};
    ck_assert_int_eq(ask(VIEW, 3, 40000, 72).verdict, VERDICT_ANSWER); /* up to its header */
    ck_assert_int_eq(ask(VIEW, 3, 40072, 1).reply.pdu[1], TARGET_SILENT);
    ck_assert_int_eq(ask(VIEW, 3, 40071, 2).reply.pdu[1], TARGET_SILENT);
    ck_assert_int_eq(ask(VIEW, 3, 40177, 2).verdict, VERDICT_ANSWER); /* the end */
    service_sample(&service, 0, &sample, NOW - AGE_MS * 1000);
    struct judgement judgement = ask(VIEW, 3, 40070, 100);
    ck_assert_int_eq((int16_t)word(&judgement, 18), -1500);
    service_sample(&service, 1, &sample, NOW); /* another meter */
    service_sample(&service, 0, &sample, NOW - AGE_MS * 1000 - 1);
    ck_assert_int_eq(ask(VIEW, 3, 40072, 1).reply.pdu[1], TARGET_SILENT);
}
END_TEST

/* int16: 8000 is "not implemented"; github.com/sunspec/models, model_203.json. */
START_TEST(test_a_value_that_does_not_fit_is_not_told)
{
    static const struct {
        int64_t power_mw;
        uint16_t word;
    } cases[] = {{32767499, 32767},
                 {32767500, 0x8000},
                 {-32767499, 0x8001},
                 {-32767500, 0x8000},
                 {499, 0},
                 {500, 1},
                 {-500, 0xffff},
                 {0, 0},
                 {INT64_C(1000000000000), 0x8000}};
    for (size_t k = 0; k < sizeof(cases) / sizeof(cases[0]); k++) {
        struct meter_sample sample = {.has = 1u << METER_POWER,
                                      .value = {[METER_POWER] = cases[k].power_mw}};
        service_sample(&service, 0, &sample, NOW);
        struct judgement judgement = ask(VIEW, 3, 40070, 100);
        ck_assert_msg(word(&judgement, 18) == cases[k].word, "%lld", (long long)cases[k].power_mw);
    }
}
END_TEST

START_TEST(test_sum_and_mean_are_told_once_each_phase_is_known)
{
    struct meter_sample sample = {.has = 7u << METER_CURRENT_L1 | 3u << METER_VOLTAGE_L1,
                                  .value = {[METER_CURRENT_L1] = 10000,
                                            [METER_CURRENT_L2] = 1230,
                                            [METER_CURRENT_L3] = 5,
                                            [METER_VOLTAGE_L1] = 230000,
                                            [METER_VOLTAGE_L2] = 231000}};
    service_sample(&service, 0, &sample, NOW);
    struct judgement judgement = ask(VIEW, 3, 40070, 100);
    ck_assert_int_eq((int16_t)word(&judgement, 2), 1124); /* 11.235 A, in 0.01 A */
    ck_assert_int_eq((int16_t)word(&judgement, 6), -2);
    ck_assert_int_eq(word(&judgement, 7), 0x8000);
    sample.has |= 1u << METER_VOLTAGE_L3;
    sample.value[METER_VOLTAGE_L3] = 232000;
    service_sample(&service, 0, &sample, NOW);
    judgement = ask(VIEW, 3, 40070, 100);
    ck_assert_int_eq(word(&judgement, 7), 2310);
}
END_TEST

START_TEST(test_energy_goes_on_from_zero_beyond_32_bits)
{
    struct meter_sample sample = {
        .has = 1u << METER_IMPORT_ENERGY,
        .value = {[METER_IMPORT_ENERGY] = (INT64_C(4294967296) + 5) * 1000}};
    service_sample(&service, 0, &sample, NOW);
    struct judgement judgement = ask(VIEW, 3, 40070, 100);
    ck_assert_int_eq(word(&judgement, 46), 0);
    ck_assert_int_eq(word(&judgement, 47), 5);
}
END_TEST

/* Every PDU of up to seven bytes' worth of chance: nothing but answers and exceptions. */
START_TEST(test_no_bytes_get_anything_but_an_answer_or_an_exception)
{
    uint32_t seed = 12345;
    for (int k = 0; k < 200000; k++) {
        uint8_t pdu[FRAME_PDU_MAX];
        seed = seed * 1664525 + 1013904223; /* Numerical Recipes, 7.1 */
        size_t length = 1 + (seed >> 16) % 12;
        for (size_t i = 0; i < length; i++) {
            seed = seed * 1664525 + 1013904223;
            pdu[i] = (uint8_t)(seed >> 24);
        }
        pdu[0] = (uint8_t)(pdu[0] % 0x30);
        struct judgement judgement = service_judge(&service, VIEW, pdu, length, NOW);
        ck_assert(judgement.verdict == VERDICT_ANSWER || judgement.verdict == VERDICT_REFUSE);
        ck_assert_int_eq(judgement.reply.pdu[0] & 0x7f, pdu[0]);
        judgement = service_judge(&service, UNIT, pdu, length, NOW);
        if (judgement.verdict == VERDICT_PASS)
            ck_assert(service_only_reads(pdu) && frame_request_fault(pdu, length) == 0);
        else
            ck_assert_int_eq(judgement.verdict, VERDICT_REFUSE);
    }
}
END_TEST

START_TEST(test_who_asks_in_time_is_never_slowed_and_who_does_not_is)
{
    struct rate_limit limit = rate_limit_begin(10, NOW);
    int64_t now_us = NOW;
    for (int k = 0; k < 100; k++, now_us += S / 10) {
        ck_assert_int_le(rate_limit_next_us(&limit), now_us);
        rate_limit_take(&limit, now_us);
    }
    int taken = 0; /* after a rest of a minute: two at once beyond the rate, then ten a second */
    for (now_us += 60 * S; taken < 1000 && rate_limit_next_us(&limit) <= now_us; taken++)
        rate_limit_take(&limit, now_us);
    ck_assert_int_eq(taken, 3);
    ck_assert_int_eq(rate_limit_next_us(&limit), now_us + S / 10);
}
END_TEST

START_TEST(test_connecting_anew_gains_nothing)
{
    struct rate_limit limit = rate_limit_begin(10, NOW);
    ck_assert_int_le(rate_limit_next_us(&limit), NOW);
    rate_limit_take(&limit, NOW);
    ck_assert_int_gt(rate_limit_next_us(&limit), NOW);
}
END_TEST

int main(void)
{
    Suite *suite = suite_create("service");
    TCase *tests = tcase_create("all");
    tcase_set_timeout(tests, 60);
    tcase_add_checked_fixture(tests, set_up, NULL);
    tcase_add_test(tests, test_a_block_answers_for_every_part_of_itself_and_no_more);
    tcase_add_test(tests, test_two_blocks_are_not_put_together);
    tcase_add_test(tests, test_the_newest_answers_while_it_is_young_enough);
    tcase_add_test(tests, test_more_blocks_than_there_is_room_for_push_out_the_oldest);
    tcase_add_test(tests, test_a_view_is_silent_before_the_first_reading_and_after_the_age);
    tcase_add_test(tests, test_a_value_that_does_not_fit_is_not_told);
    tcase_add_test(tests, test_sum_and_mean_are_told_once_each_phase_is_known);
    tcase_add_test(tests, test_energy_goes_on_from_zero_beyond_32_bits);
    tcase_add_test(tests, test_no_bytes_get_anything_but_an_answer_or_an_exception);
    tcase_add_test(tests, test_who_asks_in_time_is_never_slowed_and_who_does_not_is);
    tcase_add_test(tests, test_connecting_anew_gains_nothing);
    suite_add_tcase(suite, tests);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
