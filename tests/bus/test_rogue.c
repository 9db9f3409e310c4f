/* test_rogue.c - a peer that does everything wrong, one thing at a time.
 *
 * For each: the outcome is named, no value of the wrong answer gets through, and
 * the next question is answered rightly. tests/peers/peer_rogue.py writes the
 * raw bytes; its registers hold their own address, so that an answer to another
 * question shows. */
#include "bus/rig.h"

#include <check.h>
#include <stdlib.h>
#include <string.h>

struct fault {
    const char *wire, *behaviour;
    enum bus_outcome outcome;
    const char *words; /* part of the detail */
};

static const struct fault read_faults[] = {
    {"pty", "silent", BUS_TIMEOUT, "does not answer"},
    {"tcp", "silent", BUS_TIMEOUT, "does not answer"},
    {"pty", "garbage", BUS_CORRUPT, "unit 1"},
    {"tcp", "garbage", BUS_CORRUPT, ""},
    {"pty", "wrong-unit", BUS_CORRUPT, "unit 18 replied"},
    {"tcp", "wrong-unit", BUS_CORRUPT, "unit 18 replied"},
    {"pty", "truncated", BUS_CORRUPT, "incomplete"},
    {"tcp", "truncated", BUS_CORRUPT, "incomplete"},
    {"pty", "bad-crc", BUS_CORRUPT, "garbled"},
    {"pty", "short", BUS_CORRUPT, ""},
    {"tcp", "short", BUS_CORRUPT, "bytes"},
    {"pty", "long", BUS_CORRUPT, "bytes"},
    {"tcp", "long", BUS_CORRUPT, "bytes"},
    {"pty", "other-function", BUS_CORRUPT, "function 4 to function 3"},
    {"tcp", "other-function", BUS_CORRUPT, "function 4 to function 3"},
    {"pty", "exception:2", BUS_EXCEPTION, "illegal data address"},
    {"tcp", "exception:6", BUS_EXCEPTION, "busy"},
    {"tcp", "number", BUS_CORRUPT, "header"},
    {"tcp", "protocol", BUS_CORRUPT, "header"},
    {"pty", "echo", BUS_CORRUPT, "echo off"},
    {"pty", "echo-only", BUS_CORRUPT, "echo off"},
    {"tcp", "close", BUS_DOWN, ""},
    {"pty", "drip:150", BUS_CORRUPT, "incomplete"},
    {"tcp", "drip:150", BUS_CORRUPT, "incomplete"},
};
enum { READ_FAULTS = sizeof read_faults / sizeof read_faults[0] };

static void assert_outcome(const struct bus_answer *answer, const struct fault *fault)
{
    ck_assert_msg(answer->outcome == fault->outcome, "%s %s: %s (%s)", fault->wire,
                  fault->behaviour, bus_outcome_text(answer->outcome), answer->detail);
    ck_assert_msg(strstr(answer->detail, fault->words) != NULL, "%s %s: %s", fault->wire,
                  fault->behaviour, answer->detail);
    ck_assert_msg(answer->detail[0] != '\0', "%s %s", fault->wire, fault->behaviour);
}

/* A second later, as the next poll would be: a line that broke is reopened. */
static void assert_goes_on(struct rig *rig, const struct fault *fault)
{
    rig->now = mono_after(rig->now, 1000);
    struct bus_answer answer = rig_ask(rig, rig_holding(300, 4));
    ck_assert_msg(answer.outcome == BUS_OK, "after %s %s: %s", fault->wire, fault->behaviour,
                  answer.detail);
    for (uint16_t i = 0; i < 4; i++) {
        ck_assert_uint_eq(answer.value[i], 300u + i);
    }
}

START_TEST(test_wrong_answer_gives_no_value_and_the_next_question_works)
{
    const struct fault *fault = &read_faults[_i];
    struct rig rig = rig_start("peer_rogue.py", fault->wire);
    peer_order(&rig.peer, "behave %s good", fault->behaviour);
    struct bus_answer answer = rig_ask(&rig, rig_holding(200, 4));
    assert_outcome(&answer, fault);
    ck_assert_uint_eq(answer.count, 0);
    for (int i = 0; i < 4; i++) {
        ck_assert_uint_eq(answer.value[i], 0);
    }
    assert_goes_on(&rig, fault);
    rig_stop(&rig);
}
END_TEST

/* All or nothing: the second of a round's two blocks goes wrong. */
START_TEST(test_round_with_one_wrong_block_gives_no_sample)
{
    static const char *const second[] = {"silent",    "garbage", "wrong-unit",
                                         "truncated", "short",   "exception:4"};
    for (size_t i = 0; i < sizeof second / sizeof second[0]; i++) {
        struct rig rig = rig_start("peer_rogue.py", i % 2 ? "tcp" : "pty");
        uint8_t meter = bus_add_meter(rig.bus, RIG_UNIT, rig_map(), SUNSPEC_EITHER);
        struct bus_job job = {.kind = BUS_READ_METER, .meter = meter};
        peer_order(&rig.peer, "behave good %s good", second[i]);
        struct bus_answer answer = rig_ask(&rig, job);
        ck_assert_msg(answer.outcome != BUS_OK, "%s", second[i]);
        ck_assert_msg(answer.sample.has == 0, "%s", second[i]);
        rig.now = mono_after(rig.now, 1000);
        answer = rig_ask(&rig, job);
        ck_assert_msg(answer.outcome == BUS_OK, "%s: %s", second[i], answer.detail);
        ck_assert_int_eq(answer.sample.value[METER_POWER], -1500000);
        rig_stop(&rig);
    }
}
END_TEST

/* The one that nothing in the frame gives away: same unit, function, length, and
 * a good checksum. Waited out and flushed (serial) or cut off (TCP). */
START_TEST(test_late_answer_is_not_taken_for_the_next_one)
{
    struct rig rig = rig_start("peer_rogue.py", _i ? "tcp" : "pty");
    peer_order(&rig.peer, "behave late:%d good", RIG_ANSWER_MS + RIG_ANSWER_MS / 2);
    struct bus_answer late = rig_ask(&rig, rig_holding(200, 4));
    ck_assert_int_eq(late.outcome, BUS_TIMEOUT);
    struct bus_answer next = rig_ask(&rig, rig_holding(300, 4));
    ck_assert_msg(next.outcome == BUS_OK, "%s", next.detail);
    for (uint16_t i = 0; i < 4; i++) {
        ck_assert_uint_eq(next.value[i], 300u + i);
    }
    rig_stop(&rig);
}
END_TEST

/* Left over from before, or another master's: a whole and plausible answer lies
 * in the buffer when the question goes out. 11 03 02 03 E7 is "999"; its checksum
 * by Serial Line V1.02, appendix B. */
START_TEST(test_what_came_unasked_is_no_answer)
{
    static const char *const left[] = {"11030203e7393d", "00010000000511030203e7"};
    struct rig rig = rig_start("peer_rogue.py", _i ? "tcp" : "pty");
    ck_assert_uint_eq(rig_ask(&rig, rig_holding(300, 1)).value[0], 300);
    peer_order(&rig.peer, "say %s", left[_i]);
    struct bus_answer answer = rig_ask(&rig, rig_holding(301, 1));
    ck_assert_msg(answer.outcome == BUS_OK, "%s", answer.detail);
    ck_assert_uint_eq(answer.value[0], 301);
    rig_stop(&rig);
}
END_TEST

/* A peer that lags one question behind: where the shapes differ it shows; over
 * TCP the transaction's number always shows it. */
START_TEST(test_answer_to_the_previous_question_is_refused)
{
    struct rig rig = rig_start("peer_rogue.py", "pty");
    peer_order(&rig.peer, "behave good previous previous good");
    ck_assert_int_eq(rig_ask(&rig, rig_holding(200, 4)).outcome, BUS_OK);
    ck_assert_int_eq(rig_ask(&rig, rig_holding(210, 2)).outcome, BUS_CORRUPT);
    ck_assert_int_eq(rig_ask(&rig, rig_set_coil(2, true)).outcome, BUS_CORRUPT);
    ck_assert_uint_eq(rig_ask(&rig, rig_holding(220, 1)).value[0], 220);
    rig_stop(&rig);

    rig = rig_start("peer_rogue.py", "tcp");
    peer_order(&rig.peer, "behave good previous good");
    ck_assert_int_eq(rig_ask(&rig, rig_holding(200, 4)).outcome, BUS_OK);
    ck_assert_int_eq(rig_ask(&rig, rig_holding(300, 4)).outcome, BUS_CORRUPT);
    ck_assert_uint_eq(rig_ask(&rig, rig_holding(300, 4)).value[0], 300);
    rig_stop(&rig);
}
END_TEST

START_TEST(test_relay_board_that_says_no_or_confirms_another_order)
{
    static const struct fault faults[] = {
        {"pty", "exception:4", BUS_EXCEPTION, "device failure"},
        {"tcp", "exception:2", BUS_EXCEPTION, "illegal data address"},
        {"pty", "other-order", BUS_CORRUPT, "different write"},
        {"tcp", "other-order", BUS_CORRUPT, "different write"},
        {"pty", "silent", BUS_TIMEOUT, "does not answer"},
        {"pty", "bad-crc", BUS_CORRUPT, "garbled"},
    };
    for (size_t i = 0; i < sizeof faults / sizeof faults[0]; i++) {
        struct rig rig = rig_start("peer_rogue.py", faults[i].wire);
        peer_order(&rig.peer, "behave %s good", faults[i].behaviour);
        struct bus_answer answer = rig_ask(&rig, rig_set_coil(4, true));
        assert_outcome(&answer, &faults[i]);
        ck_assert_int_eq(rig_ask(&rig, rig_set_coil(4, true)).outcome, BUS_OK);
        ck_assert_uint_eq(rig_ask(&rig, rig_coil(4)).value[0], 1);
        rig_stop(&rig);
    }
}
END_TEST

/* The acknowledgement of a write repeats it, and so does an echo: once a read
 * has shown that there is one, no write is believed until it is gone. */
START_TEST(test_echoing_adapter_does_not_pass_for_a_relay_board)
{
    struct rig rig = rig_start("peer_rogue.py", "pty");
    peer_order(&rig.peer, "behave echo-only");
    ck_assert_int_eq(rig_ask(&rig, rig_coil(4)).outcome, BUS_CORRUPT);
    struct bus_answer write = rig_ask(&rig, rig_set_coil(4, true));
    ck_assert_int_eq(write.outcome, BUS_CORRUPT);
    ck_assert_str_eq(write.detail, "the adapter echoes what is sent: switch its echo off");
    peer_order(&rig.peer, "behave good");
    write = rig_ask(&rig, rig_set_coil(4, true)); /* looks whether the echo is gone */
    ck_assert_msg(write.outcome == BUS_OK, "%s", write.detail);
    ck_assert_uint_eq(rig_ask(&rig, rig_coil(4)).value[0], 1);
    rig_stop(&rig);
}
END_TEST

/* A checksum error in an acknowledgement looks like an echo up to there. */
START_TEST(test_garbled_acknowledgement_is_no_echo)
{
    struct rig rig = rig_start("peer_rogue.py", "pty");
    peer_order(&rig.peer, "behave bad-crc good");
    struct bus_answer answer = rig_ask(&rig, rig_set_coil(4, true));
    ck_assert_int_eq(answer.outcome, BUS_CORRUPT);
    ck_assert_ptr_null(strstr(answer.detail, "echo"));
    ck_assert_int_eq(rig_ask(&rig, rig_set_coil(4, true)).outcome, BUS_OK);
    rig_stop(&rig);
}
END_TEST

int main(void)
{
    TCase *cases = tcase_create("rogue");
    tcase_set_timeout(cases, 120);
    tcase_add_loop_test(cases, test_wrong_answer_gives_no_value_and_the_next_question_works, 0,
                        READ_FAULTS);
    tcase_add_test(cases, test_round_with_one_wrong_block_gives_no_sample);
    tcase_add_loop_test(cases, test_late_answer_is_not_taken_for_the_next_one, 0, 2);
    tcase_add_loop_test(cases, test_what_came_unasked_is_no_answer, 0, 2);
    tcase_add_test(cases, test_answer_to_the_previous_question_is_refused);
    tcase_add_test(cases, test_relay_board_that_says_no_or_confirms_another_order);
    tcase_add_test(cases, test_echoing_adapter_does_not_pass_for_a_relay_board);
    tcase_add_test(cases, test_garbled_acknowledgement_is_no_echo);
    Suite *suite = suite_create("rogue");
    suite_add_tcase(suite, cases);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
