/* test_others.c - a second master is one that asks what we don't. */
#include "bus/others.h"

#include <check.h>
#include <stdlib.h>

enum { UNIT = 5, S = 1000000 };

static struct others others;
static int64_t now_us;

static void set_up(void)
{
    others_begin(&others);
    now_us = S;
}

static void hear(uint8_t unit, const uint8_t pdu[], size_t length)
{
    uint8_t frame[FRAME_RTU_MAX];
    size_t bytes = frame_rtu_build(frame, unit, pdu, length);
    now_us += S;
    others_hear(&others, frame, bytes, now_us);
    others_quiet(&others);
}

static void ask(const uint8_t pdu[static 5])
{
    const uint8_t question[] = {UNIT, pdu[0], pdu[1], pdu[2], pdu[3], pdu[4]};
    others_own(&others, question, sizeof question);
}

#define PDU(...) ((const uint8_t[5]){__VA_ARGS__})
#define READ PDU(READ_HOLDING, 0, 16, 0, 2)
#define CLOSE(coil) PDU(WRITE_COIL, 0, (coil), 0xff, 0)
#define OPEN(coil) PDU(WRITE_COIL, 0, (coil), 0, 0)

/* The answer to a write is the write again; a board or its adapter may send it twice, and
 * the second copy is found before our next question. */
START_TEST(test_our_own_writes_answered_twice_are_no_other_master)
{
    for (int switching = 0; switching < 20; switching++) {
        for (uint8_t coil = 0; coil < 4; coil++) {
            const uint8_t *write = switching % 2 ? OPEN(coil) : CLOSE(coil);
            ask(write);
            hear(UNIT, write, 5);
            ask(READ);
        }
    }
    ck_assert(!others_are_there(&others));
    ck_assert_uint_eq(others.questions, 0);
}
END_TEST

START_TEST(test_second_copy_that_comes_after_the_next_question_is_ours_too)
{
    for (int switching = 0; switching < 6; switching++) {
        const uint8_t *write = switching % 2 ? OPEN(1) : CLOSE(1);
        ask(write);
        ask(READ);
        hear(UNIT, write, 5);
        ask(PDU(READ_INPUT, 0, 0, 0, 2));
    }
    ck_assert_uint_eq(others.questions, 0);
}
END_TEST

START_TEST(test_writes_that_are_not_ours_are_another_masters)
{
    ask(CLOSE(1));
    for (uint8_t coil = 2; coil < 6; coil++)
        hear(UNIT, CLOSE(coil), 5);
    ck_assert(others_are_there(&others));
}
END_TEST

START_TEST(test_same_write_to_another_unit_is_not_ours)
{
    ask(CLOSE(1));
    for (int times = 0; times < 8; times++) /* each second one is the answer */
        hear(UNIT + 1, CLOSE(1), 5);
    ck_assert(others_are_there(&others));
}
END_TEST

START_TEST(test_reads_that_are_not_ours_are_another_masters)
{
    ask(READ);
    for (uint8_t address = 32; address < 36; address++)
        hear(UNIT, PDU(READ_HOLDING, 0, address, 0, 2), 5);
    ck_assert(others_are_there(&others));
}
END_TEST

/* An adapter that echoes gives our last question back. */
START_TEST(test_our_own_question_come_back_is_no_other_master)
{
    ask(READ);
    for (int times = 0; times < 6; times++)
        hear(UNIT, READ, 5);
    ck_assert_uint_eq(others.questions, 0);
}
END_TEST

int main(void)
{
    TCase *cases = tcase_create("others");
    tcase_add_checked_fixture(cases, set_up, NULL);
    tcase_add_test(cases, test_our_own_writes_answered_twice_are_no_other_master);
    tcase_add_test(cases, test_second_copy_that_comes_after_the_next_question_is_ours_too);
    tcase_add_test(cases, test_writes_that_are_not_ours_are_another_masters);
    tcase_add_test(cases, test_same_write_to_another_unit_is_not_ours);
    tcase_add_test(cases, test_reads_that_are_not_ours_are_another_masters);
    tcase_add_test(cases, test_our_own_question_come_back_is_no_other_master);
    Suite *suite = suite_create("others");
    suite_add_tcase(suite, cases);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
