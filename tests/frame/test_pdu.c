/* PDUs against the worked examples of the Modbus Application Protocol
 * Specification V1.1b3, section 6 (quoted by two independent public test suites:
 * node-modbus/stream, test/tests.js, and a conformance suite of the V1.1b3
 * examples), and malformed ones that must be refused. */
#include <check.h>
#include <string.h>

#include "frame/frame.h"
#include "hex.h"

/* 2B 0E: three objects, the texts as the standard gives them. */
#define IDENTIFIED                                                                                 \
    "2B 0E 01 01 00 00 03 "                                                                        \
    "00 16 43 6F 6D 70 61 6E 79 20 69 64 65 6E 74 69 66 69 63 61 74 69 6F 6E "                     \
    "01 0F 50 72 6F 64 75 63 74 20 63 6F 64 65 20 58 58 "                                          \
    "02 05 56 32 2E 31 31"

static const struct {
    const char *request, *response;
} examples[] = {
    {"01 00 13 00 13", "01 03 CD 6B 05"},                /* 6.1 */
    {"02 00 C4 00 16", "02 03 AC DB 35"},                /* 6.2 */
    {"03 00 6B 00 03", "03 06 02 2B 00 00 00 64"},       /* 6.3 */
    {"04 00 08 00 01", "04 02 00 0A"},                   /* 6.4 */
    {"05 00 AC FF 00", "05 00 AC FF 00"},                /* 6.5 */
    {"06 00 01 00 03", "06 00 01 00 03"},                /* 6.6 */
    {"08 00 00 A5 37", "08 00 00 A5 37"},                /* 6.8 */
    {"0F 00 13 00 0A 02 CD 01", "0F 00 13 00 0A"},       /* 6.11 */
    {"10 00 01 00 02 04 00 0A 01 02", "10 00 01 00 02"}, /* 6.12 */
    {"17 00 03 00 06 00 0E 00 03 06 00 FF 00 FF 00 FF",
     "17 0C 00 FE 0A CD 00 01 00 03 00 0D 00 FF"}, /* 6.17 */
    {"2B 0E 01 00", IDENTIFIED},                   /* 6.21 */
};
enum { EXAMPLES = sizeof(examples) / sizeof(examples[0]) };

/* The length is told early and then does not change; before that it is unknown. */
static void assert_told_early(int (*length_of)(const uint8_t[], size_t), const uint8_t pdu[],
                              size_t whole)
{
    bool told = false;
    for (size_t have = 0; have <= whole; have++) {
        int length = length_of(pdu, have);
        ck_assert_msg(length == (int)whole || (length == 0 && !told), "%zu of %zu bytes: %d", have,
                      whole, length);
        told = length > 0;
    }
    ck_assert(told);
}

START_TEST(test_example_request_is_measured_and_valid)
{
    uint8_t pdu[FRAME_PDU_MAX];
    size_t length = bytes_of_hex(examples[_i].request, pdu);
    assert_told_early(frame_request_length, pdu, length);
    ck_assert_uint_eq(frame_request_fault(pdu, length), 0);
}
END_TEST

START_TEST(test_example_response_is_measured_and_answers_its_request)
{
    uint8_t request[FRAME_PDU_MAX], response[FRAME_PDU_MAX];
    size_t asked = bytes_of_hex(examples[_i].request, request);
    size_t length = bytes_of_hex(examples[_i].response, response);
    assert_told_early(frame_response_length, response, length);
    ck_assert(frame_answers(request, asked, response, length));
}
END_TEST

START_TEST(test_examples_answer_no_other_request)
{
    uint8_t request[FRAME_PDU_MAX], response[FRAME_PDU_MAX];
    size_t asked = bytes_of_hex(examples[_i].request, request);
    for (int other = 0; other < EXAMPLES; other++) {
        size_t length = bytes_of_hex(examples[other].response, response);
        ck_assert_int_eq(frame_answers(request, asked, response, length), other == _i);
    }
}
END_TEST

/* Exceptions, APP section 7: the function with its highest bit set, then a code. */
START_TEST(test_exception_answers_its_request)
{
    uint8_t request[FRAME_PDU_MAX];
    size_t asked = bytes_of_hex(examples[_i].request, request);
    const uint8_t exception[] = {request[0] | 0x80, 2}, other[] = {(request[0] ^ 0x80) + 1, 2};
    assert_told_early(frame_response_length, exception, 2);
    ck_assert(frame_answers(request, asked, exception, 2));
    ck_assert(!frame_answers(request, asked, other, 2));
    ck_assert(!frame_answers(request, asked, exception, 1));
    ck_assert(!frame_answers(request, asked, exception, 0));
}
END_TEST

/* Quantities allowed: 1-2000, 1-125, 1-1968, 1-123; read 1-125 and write 1-121
 * (APP section 6, as both suites test it). Outside of them: exception 3. */
static const struct {
    const char *request;
    uint8_t fault;
} requests[] = {
    {"03 00 00 00 00", 3},
    {"03 00 00 00 7D", 0},
    {"03 00 00 00 7E", 3},
    {"04 00 00 00 7E", 3},
    {"01 00 00 07 D0", 0},
    {"01 00 00 07 D1", 3},
    {"02 00 00 00 00", 3},
    {"05 00 AC 00 00", 0},
    {"05 00 AC 12 34", 3},
    {"10 00 01 00 02 03 00 0A 01", 3},       /* byte count is not 2 x quantity */
    {"10 00 01 00 02 04 00 0A 01", 3},       /* one byte short */
    {"10 00 01 00 02 04 00 0A 01 02 03", 3}, /* one byte long */
    {"10 00 01 00 00 00", 3},
    {"0F 00 13 00 0A 01 CD", 3},
    {"17 00 03 00 7E 00 0E 00 01 02 00 FF", 3},
    {"17 00 03 00 06 00 0E 00 00 00", 3},
    {"17 00 03 00 06 00 0E 00 03 04 00 FF 00 FF", 3},
    {"03 00 6B 00", 3},
    {"03", 3},
    {"14 00", 1},
    {"2B 0D 00 00", 1},
    {"83 02", 1}, /* an exception is no request */
    {"", 1},
};
enum { REQUESTS = sizeof(requests) / sizeof(requests[0]) };

START_TEST(test_request_is_refused_for_the_standards_reason)
{
    uint8_t pdu[FRAME_PDU_MAX];
    size_t length = bytes_of_hex(requests[_i].request, pdu);
    ck_assert_msg(frame_request_fault(pdu, length) == requests[_i].fault, "%s: %u",
                  requests[_i].request, frame_request_fault(pdu, length));
}
END_TEST

START_TEST(test_most_registers_of_a_write_just_fit)
{
    uint8_t pdu[FRAME_PDU_MAX] = {0x10, 0, 0, 0, 123, 246};
    ck_assert_uint_eq(frame_request_fault(pdu, 252), 0);
    pdu[4] = 124;
    pdu[5] = 248;
    ck_assert_int_eq(frame_request_length(pdu, 6), -1); /* 254 bytes: no PDU */
    ck_assert_uint_eq(frame_request_fault(pdu, FRAME_PDU_MAX), 3);
}
END_TEST

/* What a meter may send instead of the six bytes of three registers. */
START_TEST(test_answer_of_another_size_is_no_answer)
{
    static const char *const wrong[] = {
        "03 02 02 2B",                   /* one register for three */
        "03 06 02 2B 00 00",             /* six declared, four there */
        "03 06 02 2B 00 00 00 64 00",    /* one byte too many */
        "03 08 02 2B 00 00 00 64 00 00", /* four registers */
        "04 06 02 2B 00 00 00 64",       /* another table */
        "03 00",
        "03",
        "03 FF",
        "06 00 01 00 03",
    };
    uint8_t request[FRAME_PDU_MAX], response[FRAME_PDU_MAX];
    size_t asked = bytes_of_hex("03 00 6B 00 03", request);
    size_t length = bytes_of_hex(wrong[_i], response);
    ck_assert(!frame_answers(request, asked, response, length));
}
END_TEST

START_TEST(test_write_that_echoes_another_value_is_no_answer)
{
    uint8_t request[FRAME_PDU_MAX], response[FRAME_PDU_MAX];
    size_t asked = bytes_of_hex("05 00 AC FF 00", request);
    size_t length = bytes_of_hex("05 00 AC 00 00", response);
    ck_assert(!frame_answers(request, asked, response, length));
}
END_TEST

START_TEST(test_unknown_function_has_no_length)
{
    const uint8_t pdu[] = {0x63, 0, 0, 0, 0}, exception[] = {0xe3, 1};
    ck_assert_int_eq(frame_request_length(pdu, sizeof pdu), -1);
    ck_assert_int_eq(frame_response_length(pdu, sizeof pdu), -1);
    ck_assert_int_eq(frame_response_length(exception, 2), -1);
}
END_TEST

START_TEST(test_identification_that_passes_the_longest_pdu_is_refused)
{
    const uint8_t pdu[] = {0x2b, 0x0e, 1, 1, 0, 0, 1, 0, 0xf5};
    ck_assert_int_eq(frame_response_length(pdu, sizeof pdu), -1); /* 7 + 2 + 245 = 254 */
}
END_TEST

/* Noise from a fixed seed, in memory of its exact size so that a sanitizer sees a
 * step beyond. Whatever is told keeps the door's promises. */
static uint64_t noise(uint64_t *state)
{
    *state ^= *state << 13; /* xorshift64, G. Marsaglia 2003 */
    *state ^= *state >> 7;
    return *state ^= *state << 17;
}

START_TEST(test_noise_is_measured_within_bounds)
{
    static const uint8_t codes[] = {1, 2, 3, 4, 5, 6, 8, 0x0f, 0x10, 0x16, 0x17, 0x2b, 0x83, 0x63};
    uint64_t seed = 0x5eed0001;
    for (int round = 0; round < 20000; round++) {
        size_t length = noise(&seed) % 24;
        uint8_t *bytes = malloc(length + 1);
        for (size_t i = 0; i < length; i++)
            bytes[i] = (uint8_t)(noise(&seed) >> 8 & (noise(&seed) % 2 ? 0xff : 0x0f));
        if (length > 0)
            bytes[0] = codes[noise(&seed) % sizeof codes];
        uint8_t *exact = realloc(bytes, length ? length : 1);
        int request = frame_request_length(exact, length);
        int response = frame_response_length(exact, length);
        struct frame_content content = {.length = 0};
        ck_assert(request >= -1 && request <= FRAME_PDU_MAX);
        ck_assert(response >= -1 && response <= FRAME_PDU_MAX);
        ck_assert(frame_request_fault(exact, length) != 0 || request == (int)length);
        ck_assert(!frame_answers(exact, length, exact, length) || response == (int)length);
        ck_assert(frame_mbap_check(exact, length, &content) <= (int)length);
        if (frame_rtu_check(exact, length, &content))
            ck_assert_uint_eq(content.length + 3, length);
        free(exact);
    }
}
END_TEST

int main(void)
{
    Suite *suite = suite_create("pdu");
    TCase *cases = tcase_create("pdu");
    tcase_add_loop_test(cases, test_example_request_is_measured_and_valid, 0, EXAMPLES);
    tcase_add_loop_test(cases, test_example_response_is_measured_and_answers_its_request, 0,
                        EXAMPLES);
    tcase_add_loop_test(cases, test_examples_answer_no_other_request, 0, EXAMPLES);
    tcase_add_loop_test(cases, test_exception_answers_its_request, 0, EXAMPLES);
    tcase_add_loop_test(cases, test_request_is_refused_for_the_standards_reason, 0, REQUESTS);
    tcase_add_test(cases, test_most_registers_of_a_write_just_fit);
    tcase_add_loop_test(cases, test_answer_of_another_size_is_no_answer, 0, 9);
    tcase_add_test(cases, test_write_that_echoes_another_value_is_no_answer);
    tcase_add_test(cases, test_unknown_function_has_no_length);
    tcase_add_test(cases, test_identification_that_passes_the_longest_pdu_is_refused);
    tcase_add_test(cases, test_noise_is_measured_within_bounds);
    suite_add_tcase(suite, cases);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? 1 : 0;
}
