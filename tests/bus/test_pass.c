/* Questions of others passed on, and what polls have read told, on real lines. */
#include <check.h>
#include <stdlib.h>
#include <string.h>

#include "bus/pass.h"
#include "bus/rig.h"

enum { NUMBER = 5 };

static struct rig rig;
static struct mailbox *news;

static void begin(const char *wire)
{
    rig = rig_start("peer_rogue.py", wire);
    news = mailbox_new(16, sizeof(struct pass_news));
    bus_pass_tell(rig.bus, news, NUMBER);
    rig_ask(&rig, rig_holding(10, 1)); /* the line is open, and the worker knows the time */
}

static void end(void)
{
    bus_pass_tell(rig.bus, NULL, 0);
    mailbox_free(news);
    rig_stop(&rig);
}

static struct pass_question question(uint32_t id, const uint8_t pdu[], size_t length)
{
    struct pass_question question = {.id = id, .unit = RIG_UNIT, .length = (uint8_t)length};
    memcpy(question.pdu, pdu, length);
    return question;
}

static struct pass_news hear(void)
{
    struct pass_news heard;
    mailbox_wait(news);
    ck_assert(mailbox_take(news, &heard));
    ck_assert_int_eq(heard.bus, NUMBER);
    ck_assert_int_eq(heard.unit, RIG_UNIT);
    return heard;
}

static struct pass_news ask(const uint8_t pdu[], size_t length)
{
    static uint32_t id;
    struct pass_question asked = question(++id, pdu, length);
    ck_assert(bus_pass_post(rig.bus, &asked));
    struct pass_news heard = hear();
    ck_assert_int_eq(heard.kind, PASS_ANSWER);
    ck_assert_uint_eq(heard.answer.id, id);
    return heard;
}

static void expect_answer(const uint8_t pdu[], size_t length, const uint8_t answer[], size_t size)
{
    struct pass_news heard = ask(pdu, length);
    ck_assert_int_eq(heard.answer.outcome, BUS_OK);
    ck_assert_uint_eq(heard.answer.length, size);
    ck_assert_mem_eq(heard.answer.pdu, answer, size);
}

/* Modbus Application Protocol V1.1b3, 6.1, 6.3, 6.5, 6.6, 6.12. */
static const uint8_t read_coils[] = {1, 0, 0x13, 0, 0x13}, coils[] = {1, 3, 0xcd, 0x6b, 5};
static const uint8_t read_three[] = {3, 0, 0x6b, 0, 3}, three[] = {3, 6, 2, 0x2b, 0, 0, 0, 0x64};
static const uint8_t write_one[] = {6, 0, 1, 0, 3};
static const uint8_t write_two[] = {0x10, 0, 1, 0, 2, 4, 0, 0x0a, 1, 2},
                     wrote_two[] = {0x10, 0, 1, 0, 2};

static const char *const wires[] = {"tcp", "pty"};

START_TEST(test_a_question_comes_back_with_its_answer_word_for_word)
{
    begin(wires[_i]);
    expect_answer(read_coils, sizeof(read_coils), coils, sizeof(coils));
    expect_answer(read_three, sizeof(read_three), three, sizeof(three));
    expect_answer(write_one, sizeof(write_one), write_one, sizeof(write_one));
    expect_answer(write_two, sizeof(write_two), wrote_two, sizeof(wrote_two));
    end();
}
END_TEST

START_TEST(test_an_exception_comes_back_as_it_is)
{
    static const uint8_t no[] = {0x83, 2};
    begin(wires[_i]);
    peer_order(&rig.peer, "behave exception:2");
    struct pass_news heard = ask(read_three, sizeof(read_three));
    ck_assert_int_eq(heard.answer.outcome, BUS_EXCEPTION);
    ck_assert_uint_eq(heard.answer.length, 2);
    ck_assert_mem_eq(heard.answer.pdu, no, 2);
    end();
}
END_TEST

/* What a late, wrong or doubled answer may do: never pass for the right one. */
START_TEST(test_what_is_no_answer_never_passes_for_one)
{
    static const char *const wrong[] = {"silent", "wrong-unit",     "truncated", "short",
                                        "long",   "other-function", "garbage",   "late:800"};
    static const uint8_t other[] = {3, 0, 0x10, 0, 3}, right[] = {3, 6, 0, 0x10, 0, 0x11, 0, 0x12};
    begin(wires[_i % 2]);
    peer_order(&rig.peer, "behave %s good", wrong[_i / 2]);
    struct pass_news heard = ask(read_three, sizeof(read_three));
    ck_assert_msg(heard.answer.outcome == BUS_TIMEOUT || heard.answer.outcome == BUS_CORRUPT,
                  "%s: %s", wrong[_i / 2], bus_outcome_text(heard.answer.outcome));
    ck_assert_uint_eq(heard.answer.length, 0);
    expect_answer(other, sizeof(other), right, sizeof(right));
    end();
}
END_TEST

START_TEST(test_an_echo_is_no_answer_to_a_read)
{
    begin("pty");
    peer_order(&rig.peer, "behave echo");
    struct pass_news heard = ask(read_three, sizeof(read_three));
    ck_assert_int_eq(heard.answer.outcome, BUS_CORRUPT);
    end();
}
END_TEST

START_TEST(test_each_block_of_a_poll_is_told_in_its_own_words)
{
    struct bus_job job = {.kind = BUS_READ_METER, .totals = true};
    begin("tcp");
    job.meter = bus_add_meter(rig.bus, RIG_UNIT, rig_map(), SUNSPEC_EITHER);
    struct bus_answer answer = rig_ask(&rig, job);
    ck_assert_int_eq(answer.outcome, BUS_OK);
    struct pass_news heard = hear(); /* volts; the peer's registers.py says what they are */
    ck_assert_int_eq(heard.kind, PASS_BLOCK);
    ck_assert_int_eq(heard.read.block.table, METER_INPUT);
    ck_assert_int_eq(heard.read.block.address, 0);
    ck_assert_int_eq(heard.read.value[0], 0x4366);
    ck_assert_int_eq(heard.read.value[1], 0x3333);
    end();
}
END_TEST

START_TEST(test_what_cannot_be_passed_is_not_taken)
{
    static const uint8_t pdus[][6] = {{0x2b, 0x0e, 1, 0},
                                      {8, 0, 4, 0, 0},
                                      {3, 0, 0, 0, 0},
                                      {0x41, 0, 0, 0, 0},
                                      {5, 0, 0, 0x12, 0x34}};
    static const size_t lengths[] = {4, 5, 5, 5, 5};
    begin("tcp");
    for (size_t k = 0; k < sizeof(pdus) / sizeof(pdus[0]); k++) {
        struct pass_question asked = question(1, pdus[k], lengths[k]);
        ck_assert_msg(!bus_pass_post(rig.bus, &asked), "function %d", pdus[k][0]);
    }
    expect_answer(read_three, sizeof(read_three), three, sizeof(three));
    end();
}
END_TEST

/* Whoever has gone hears nothing, and leaves nobody waiting. */
START_TEST(test_a_listener_may_go_while_its_question_is_under_way)
{
    begin("tcp");
    peer_order(&rig.peer, "behave late:300");
    struct pass_question asked = question(1, read_three, sizeof(read_three));
    ck_assert(bus_pass_post(rig.bus, &asked));
    bus_pass_tell(rig.bus, NULL, 0);
    mailbox_free(news);
    struct bus_answer answer = rig_ask(&rig, rig_holding(10, 1));
    ck_assert_int_eq(answer.outcome, BUS_OK);
    news = mailbox_new(16, sizeof(struct pass_news));
    bus_pass_tell(rig.bus, news, NUMBER);
    end();
}
END_TEST

int main(void)
{
    Suite *suite = suite_create("pass");
    TCase *tests = tcase_create("all");
    tcase_set_timeout(tests, 60);
    tcase_add_loop_test(tests, test_a_question_comes_back_with_its_answer_word_for_word, 0, 2);
    tcase_add_loop_test(tests, test_an_exception_comes_back_as_it_is, 0, 2);
    tcase_add_loop_test(tests, test_what_is_no_answer_never_passes_for_one, 0, 16);
    tcase_add_test(tests, test_an_echo_is_no_answer_to_a_read);
    tcase_add_test(tests, test_each_block_of_a_poll_is_told_in_its_own_words);
    tcase_add_test(tests, test_what_cannot_be_passed_is_not_taken);
    tcase_add_test(tests, test_a_listener_may_go_while_its_question_is_under_way);
    suite_add_tcase(suite, tests);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
