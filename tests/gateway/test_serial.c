/* Requests found on a serial line that others use too, that garbles, and that may echo.
 * The line is at 9600 baud; time is the test's. */
#include <check.h>
#include <stdlib.h>
#include <string.h>

#include "gateway/rtu.h"

enum { UNIT = 17, OTHER = 5, S = 1000000, LONG_US = S };

static const struct gateway_settings settings = {
    .baud = 9600, .served_count = 1, .served = {{.meter = "grid", .unit = UNIT, .bus_unit = UNIT}}};
static struct service service;
static struct rtu rtu;

/* A line: what has come and is not done with, and what was found. */
static struct {
    uint8_t bytes[2048];
    size_t length;
    int64_t now_us;
    int found;
    uint8_t unit, pdu[FRAME_PDU_MAX];
    size_t pdu_length;
} line;

static void set_up(void)
{
    service_begin(&service, &settings, "");
    rtu_begin(&rtu, &settings);
    memset(&line, 0, sizeof(line));
    line.now_us = 100 * S;
}

static void look(void)
{
    for (;;) {
        struct frame_content content;
        bool found = false;
        size_t done =
            rtu_find(&rtu, &service, line.bytes, line.length, line.now_us, &content, &found);
        ck_assert_uint_le(done, line.length);
        if (found) {
            line.found++;
            line.unit = content.unit;
            line.pdu_length = content.length;
            memcpy(line.pdu, content.pdu, content.length);
        }
        line.length -= done;
        memmove(line.bytes, line.bytes + done, line.length);
        if (!found || line.length == 0)
            return;
    }
}

static void come(const uint8_t bytes[], size_t length)
{
    memcpy(line.bytes + line.length, bytes, length);
    line.length += length;
    rtu.last_us = line.now_us;
    look();
}

static void stay_quiet(void)
{
    line.now_us += LONG_US;
    look();
}

static size_t frame(uint8_t into[FRAME_RTU_MAX], uint8_t unit, const uint8_t pdu[], size_t length)
{
    return frame_rtu_build(into, unit, pdu, length);
}

/* Modbus Application Protocol V1.1b3, section 6.3: the example of function 03. */
static const uint8_t request[] = {3, 0, 0x6b, 0, 3};
static const uint8_t answer[] = {3, 6, 2, 0x2b, 0, 0, 0, 0x64};

static size_t our_request(uint8_t into[FRAME_RTU_MAX])
{
    return frame(into, UNIT, request, sizeof(request));
}

START_TEST(test_a_request_is_found_however_it_is_cut)
{
    uint8_t bytes[FRAME_RTU_MAX];
    size_t length = our_request(bytes);
    for (size_t cut = 1; cut < length; cut++) {
        int before = line.found;
        come(bytes, cut);
        ck_assert_int_eq(line.found, before);
        line.now_us += 16000; /* what an adapter on USB keeps back */
        come(bytes + cut, length - cut);
        ck_assert_int_eq(line.found, before + 1);
        ck_assert_mem_eq(line.pdu, request, sizeof(request));
    }
    ck_assert_uint_eq(line.length, 0);
}
END_TEST

START_TEST(test_noise_before_a_request_does_not_hide_it)
{
    uint8_t bytes[64 + FRAME_RTU_MAX];
    for (unsigned noise = 1; noise < 64; noise++)
        for (unsigned seed = 0; seed < 50; seed++) {
            int before = line.found;
            for (unsigned i = 0; i < noise; i++)
                bytes[i] = (uint8_t)(seed * 37 + i * 101 + (i * seed) / 3);
            size_t length = noise + our_request(bytes + noise);
            come(bytes, length);
            stay_quiet();
            ck_assert_msg(line.found == before + 1, "noise %u, seed %u", noise, seed);
            ck_assert_uint_eq(line.length, 0);
        }
}
END_TEST

START_TEST(test_a_wrong_checksum_is_met_with_silence)
{
    uint8_t bytes[FRAME_RTU_MAX];
    size_t length = our_request(bytes);
    for (size_t bit = 0; bit < 8 * length; bit++) {
        bytes[bit / 8] ^= (uint8_t)(1 << bit % 8);
        come(bytes, length);
        stay_quiet();
        bytes[bit / 8] ^= (uint8_t)(1 << bit % 8);
    }
    ck_assert_int_eq(line.found, 0);
    come(bytes, length);
    ck_assert_int_eq(line.found, 1);
}
END_TEST

START_TEST(test_what_others_say_to_each_other_is_none_of_ours)
{
    uint8_t bytes[FRAME_RTU_MAX];
    for (int k = 0; k < 100; k++) {
        come(bytes, frame(bytes, OTHER, request, sizeof(request)));
        line.now_us += 4010;
        come(bytes, frame(bytes, OTHER, answer, sizeof(answer)));
        line.now_us += 4010;
        come(bytes, our_request(bytes));
        line.now_us += 4010;
        ck_assert_int_eq(line.found, k + 1);
        ck_assert_int_eq(line.unit, UNIT);
    }
    /* An answer to a write is a request as well; it is still another's. */
    static const uint8_t write[] = {6, 0, 1, 0, 3};
    come(bytes, frame(bytes, OTHER, write, sizeof(write)));
    come(bytes, frame(bytes, OTHER, write, sizeof(write)));
    ck_assert_int_eq(line.found, 100);
    come(bytes, our_request(bytes));
    ck_assert_int_eq(line.found, 101);
}
END_TEST

/* Serial Line V1.02, 2.2: nobody answers a broadcast; and it is a write, which is not ours
 * to pass on. */
START_TEST(test_a_broadcast_is_not_answered)
{
    static const uint8_t write[] = {5, 0, 0xac, 0xff, 0};
    uint8_t bytes[FRAME_RTU_MAX];
    come(bytes, frame(bytes, 0, write, sizeof(write)));
    stay_quiet();
    ck_assert_int_eq(line.found, 0);
}
END_TEST

START_TEST(test_an_unknown_function_or_a_wrong_length_is_found_once_the_line_is_quiet)
{
    uint8_t bytes[FRAME_RTU_MAX], pdu[FRAME_PDU_MAX] = {0};
    for (int function = 1; function < 0x80; function++)
        for (size_t length = 1; length <= FRAME_PDU_MAX; length += 7) {
            int before = line.found;
            pdu[0] = (uint8_t)function;
            come(bytes, frame(bytes, UNIT, pdu, length));
            stay_quiet();
            ck_assert_msg(line.found == before + 1, "function %d, %zu bytes", function, length);
            ck_assert_uint_eq(line.length, 0);
        }
}
END_TEST

/* The answer to a write is byte for byte its request: come back, it would be obeyed anew,
 * and for ever. */
START_TEST(test_our_own_answer_come_back_is_no_request)
{
    static const uint8_t write[] = {6, 0, 1, 0, 3};
    uint8_t bytes[FRAME_RTU_MAX];
    size_t length = frame(bytes, UNIT, write, sizeof(write));
    come(bytes, length);
    ck_assert_int_eq(line.found, 1);
    memcpy(rtu.answer, bytes, length);
    rtu.sent = length;
    rtu.sent_us = line.now_us + (int64_t)length * rtu.byte_us;
    line.now_us += 5000;
    come(bytes, 3); /* it comes while it goes */
    line.now_us += 5000;
    come(bytes + 3, length - 3);
    ck_assert_int_eq(line.found, 1);
    ck_assert_uint_eq(line.length, 0);
    line.now_us += 2 * S; /* the master orders the same once more */
    come(bytes, length);
    ck_assert_int_eq(line.found, 2);
}
END_TEST

START_TEST(test_an_echo_and_a_request_in_one_piece_are_told_apart)
{
    static const uint8_t said[] = {3, 2, 0, 1};
    uint8_t bytes[2 * FRAME_RTU_MAX];
    size_t echo = frame(bytes, UNIT, said, sizeof(said));
    memcpy(rtu.answer, bytes, echo);
    rtu.sent = echo;
    rtu.sent_us = line.now_us;
    come(bytes, echo + our_request(bytes + echo));
    ck_assert_int_eq(line.found, 1);
    ck_assert_mem_eq(line.pdu, request, sizeof(request));
}
END_TEST

START_TEST(test_endless_noise_is_left_out_and_a_request_in_it_is_found)
{
    uint8_t bytes[FRAME_RTU_MAX];
    uint32_t seed = 1;
    int sent = 0;
    for (int k = 0; k < 20000; k++) {
        seed = seed * 1664525 + 1013904223; /* Numerical Recipes, 7.1 */
        uint8_t byte = (uint8_t)(seed >> 24);
        line.now_us += 1146;
        come(&byte, 1);
        ck_assert_uint_le(line.length, FRAME_RTU_MAX);
        if (k % 1000 == 999) {
            stay_quiet();
            come(bytes, our_request(bytes));
            stay_quiet();
            ck_assert_int_ge(line.found, ++sent);
        }
    }
    ck_assert_int_le(line.found, sent + 1); /* 20,000 chances of 1 in 65,536 */
}
END_TEST

int main(void)
{
    Suite *suite = suite_create("serial");
    TCase *tests = tcase_create("all");
    tcase_set_timeout(tests, 60);
    tcase_add_checked_fixture(tests, set_up, NULL);
    tcase_add_test(tests, test_a_request_is_found_however_it_is_cut);
    tcase_add_test(tests, test_noise_before_a_request_does_not_hide_it);
    tcase_add_test(tests, test_a_wrong_checksum_is_met_with_silence);
    tcase_add_test(tests, test_what_others_say_to_each_other_is_none_of_ours);
    tcase_add_test(tests, test_a_broadcast_is_not_answered);
    tcase_add_test(tests,
                   test_an_unknown_function_or_a_wrong_length_is_found_once_the_line_is_quiet);
    tcase_add_test(tests, test_our_own_answer_come_back_is_no_request);
    tcase_add_test(tests, test_an_echo_and_a_request_in_one_piece_are_told_apart);
    tcase_add_test(tests, test_endless_noise_is_left_out_and_a_request_in_it_is_found);
    suite_add_tcase(suite, tests);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
