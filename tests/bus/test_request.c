/* test_request.c - questions and answers against the worked examples of the
 * Modbus Application Protocol Specification V1.1b3 (sections 6.1-6.12, as quoted
 * by public conformance suites) and what must be refused. */
#include "bus/request.h"

#include <check.h>
#include <stdlib.h>
#include <string.h>

enum { BYTES = 64 };

static size_t from_hex(const char *hex, uint8_t bytes[BYTES])
{
    size_t length = 0;
    for (; *hex; hex += hex[2] ? 3 : 2) {
        bytes[length++] = (uint8_t)strtoul(hex, NULL, 16);
    }
    return length;
}

static void assert_encodes(const struct exchange *exchange, const char *hex)
{
    uint8_t expected[BYTES], bytes[REQUEST_BYTES_MAX];
    size_t length = from_hex(hex, expected);
    ck_assert_uint_eq(request_encode(exchange, bytes), length);
    ck_assert_mem_eq(bytes, expected, length);
}

static struct exchange judged(struct exchange exchange, const char *hex)
{
    uint8_t bytes[BYTES];
    size_t length = from_hex(hex, bytes);
    request_decode(&exchange, bytes, length);
    return exchange;
}

static struct exchange question(enum frame_function function, uint16_t address, uint16_t count)
{
    return (struct exchange){
        .unit = 0x11, .function = function, .address = address, .count = count};
}

START_TEST(test_questions_are_those_of_the_standard)
{
    struct exchange coils = question(READ_COILS, 0x13, 0x13); /* 6.1 */
    assert_encodes(&coils, "11 01 00 13 00 13");
    struct exchange holding = question(READ_HOLDING, 0x6b, 3); /* 6.3 */
    assert_encodes(&holding, "11 03 00 6b 00 03");
    struct exchange input = question(READ_INPUT, 8, 1); /* 6.4 */
    assert_encodes(&input, "11 04 00 08 00 01");
    struct exchange on = question(WRITE_COIL, 0xac, 1); /* 6.5 */
    on.value[0] = 1;
    assert_encodes(&on, "11 05 00 ac ff 00");
    on.value[0] = 0;
    assert_encodes(&on, "11 05 00 ac 00 00");
    struct exchange one = question(WRITE_REGISTER, 1, 1); /* 6.6 */
    one.value[0] = 3;
    assert_encodes(&one, "11 06 00 01 00 03");
    struct exchange two = question(WRITE_REGISTERS, 1, 2); /* 6.12 */
    two.value[0] = 0x000a;
    two.value[1] = 0x0102;
    assert_encodes(&two, "11 10 00 01 00 02 04 00 0a 01 02");
}
END_TEST

START_TEST(test_answers_of_the_standard_are_understood)
{
    struct exchange coils = judged(question(READ_COILS, 0x13, 0x13), "11 01 03 cd 6b 05");
    ck_assert_int_eq(coils.outcome, BUS_OK);
    /* 6.1: coils 27-20 are CD = 1100 1101, 35-28 are 6B, 38-36 are 05. */
    static const char states[] = "1011001111010110101";
    for (size_t i = 0; i < 19; i++) {
        ck_assert_uint_eq(coils.value[i], (unsigned)(states[i] - '0'));
    }
    struct exchange holding = judged(question(READ_HOLDING, 0x6b, 3), "11 03 06 02 2b 00 00 00 64");
    ck_assert_int_eq(holding.outcome, BUS_OK);
    ck_assert_uint_eq(holding.value[0], 555);
    ck_assert_uint_eq(holding.value[1], 0);
    ck_assert_uint_eq(holding.value[2], 100);
    struct exchange input = judged(question(READ_INPUT, 8, 1), "11 04 02 00 0a");
    ck_assert_int_eq(input.outcome, BUS_OK);
    ck_assert_uint_eq(input.value[0], 10);
    struct exchange on = question(WRITE_COIL, 0xac, 1);
    on.value[0] = 1;
    ck_assert_int_eq(judged(on, "11 05 00 ac ff 00").outcome, BUS_OK);
    struct exchange two = question(WRITE_REGISTERS, 1, 2);
    ck_assert_int_eq(judged(two, "11 10 00 01 00 02").outcome, BUS_OK);
}
END_TEST

/* Section 7: function | 0x80, then the code. */
START_TEST(test_a_refusal_is_named)
{
    struct exchange refused = judged(question(READ_HOLDING, 0x6b, 3), "11 83 02");
    ck_assert_int_eq(refused.outcome, BUS_EXCEPTION);
    ck_assert_uint_eq(refused.exception, 2);
    ck_assert_str_eq(refused.detail, "unit 17 refuses: illegal data address (exception 2)");
    struct exchange odd = judged(question(READ_HOLDING, 0x6b, 3), "11 83 63");
    ck_assert_str_eq(odd.detail, "unit 17 refuses: unknown exception (exception 99)");
}
END_TEST

/* From the list of malformed answers in public conformance suites. */
START_TEST(test_what_does_not_answer_the_question_is_corrupt)
{
    static const struct {
        const char *bytes, *why;
    } bad[] = {
        {"11", "nothing but a unit"},
        {"11 03", "no data"},
        {"12 03 06 02 2b 00 00 00 64", "another unit"},
        {"11 04 06 02 2b 00 00 00 64", "another function"},
        {"11 03 04 02 2b 00 00", "one register too few"},
        {"11 03 08 02 2b 00 00 00 64 00 00", "one register too many"},
        {"11 03 06 02 2b 00 00 00", "fewer bytes than declared"},
        {"11 03 04 02 2b 00 00 00 64", "more bytes than declared"},
        {"11 83", "a refusal without a code"},
        {"11 83 00", "a refusal without a reason"},
        {"11 83 02 02", "a refusal that goes on"},
        {"11 84 02", "a refusal of another function"},
    };
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        struct exchange exchange = judged(question(READ_HOLDING, 0x6b, 3), bad[i].bytes);
        ck_assert_msg(exchange.outcome == BUS_CORRUPT, "%s", bad[i].why);
        ck_assert_msg(exchange.detail[0] != '\0', "%s", bad[i].why);
        ck_assert_msg(exchange.value[0] == 0, "%s", bad[i].why);
    }
}
END_TEST

START_TEST(test_a_confirmation_of_another_order_is_corrupt)
{
    static const char *const bad[] = {"11 05 00 ad ff 00", "11 05 00 ac 00 00", "11 05 00 ac 12 34",
                                      "11 05 00 ac ff"};
    struct exchange on = question(WRITE_COIL, 0xac, 1);
    on.value[0] = 1;
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        ck_assert_msg(judged(on, bad[i]).outcome == BUS_CORRUPT, "%s", bad[i]);
    }
    struct exchange two = question(WRITE_REGISTERS, 1, 2);
    ck_assert_int_eq(judged(two, "11 10 00 01 00 01").outcome, BUS_CORRUPT);
}
END_TEST

int main(void)
{
    TCase *cases = tcase_create("request");
    tcase_add_test(cases, test_questions_are_those_of_the_standard);
    tcase_add_test(cases, test_answers_of_the_standard_are_understood);
    tcase_add_test(cases, test_a_refusal_is_named);
    tcase_add_test(cases, test_what_does_not_answer_the_question_is_corrupt);
    tcase_add_test(cases, test_a_confirmation_of_another_order_is_corrupt);
    Suite *suite = suite_create("request");
    suite_add_tcase(suite, cases);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
