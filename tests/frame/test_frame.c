/* Envelopes against published frames.
 *
 * SER = Modbus over Serial Line V1.02; the frames named "node-modbus" are those of
 * the public test suite node-modbus/stream, test/tests.js; "computed" ones follow
 * from the rule of SER 6.2.2 and were worked out apart from this code. */
#include <check.h>
#include <string.h>

#include "frame/frame.h"
#include "hex.h"

static const struct {
    const char *frame, *crc;
} published[] = {
    {"02 07", "41 12"},                      /* SER 6.2.2, page 41 */
    {"31 32 33 34 35 36 37 38 39", "37 4B"}, /* check value 4B37 of the catalogues */
    {"11 01 00 13 00 25", "0E 84"},          /* node-modbus, as the next six */
    {"11 02 00 C4 00 16", "BA A9"},
    {"11 03 00 6B 00 03", "76 87"},
    {"11 04 00 08 00 01", "B2 98"},
    {"11 05 00 AC FF 00", "4E 8B"},
    {"11 06 00 01 00 03", "9A 9B"},
    {"11 0F 00 13 00 0A 02 CD 01", "BF 0B"},
    {"11 10 00 01 00 02 04 00 0A 01 02", "C6 F0"}, /* computed, as all that follow */
    {"11 03 06 02 2B 00 00 00 64", "C8 BA"},
    {"11 04 02 00 0A", "F8 F4"},
    {"11 83 02", "C1 34"},
    {"01 03 00 00 00 0A", "C5 CD"},
    {"01 04 00 34 00 02", "30 05"},
    {"01 04 00 0C 00 02", "B1 C8"},
    {"01 04 00 48 00 02", "F1 DD"},
    {"01 03 9C 40 00 02", "EB 8F"},
    {"00 05 00 AC FF 00", "4D CA"},
};
enum { PUBLISHED = sizeof(published) / sizeof(published[0]) };

START_TEST(test_published_frame_is_built_byte_for_byte)
{
    uint8_t body[FRAME_RTU_MAX], crc[2], frame[FRAME_RTU_MAX];
    size_t length = bytes_of_hex(published[_i].frame, body);
    bytes_of_hex(published[_i].crc, crc);
    ck_assert_uint_eq(frame_rtu_build(frame, body[0], body + 1, length - 1), length + 2);
    ck_assert_mem_eq(frame, body, length);
    ck_assert_mem_eq(frame + length, crc, 2);
}
END_TEST

START_TEST(test_published_frame_is_taken)
{
    uint8_t frame[FRAME_RTU_MAX];
    size_t length = bytes_of_hex(published[_i].frame, frame);
    bytes_of_hex(published[_i].crc, frame + length);
    struct frame_content content;
    ck_assert(frame_rtu_check(frame, length + 2, &content));
    ck_assert_uint_eq(content.unit, frame[0]);
    ck_assert_ptr_eq(content.pdu, frame + 1);
    ck_assert_uint_eq(content.length, length - 1);
}
END_TEST

START_TEST(test_any_single_wrong_bit_is_seen)
{
    uint8_t frame[FRAME_RTU_MAX];
    size_t length = bytes_of_hex("11 03 06 02 2B 00 00 00 64 C8 BA", frame);
    struct frame_content content;
    for (size_t bit = 0; bit < 8 * length; bit++) {
        frame[bit / 8] ^= (uint8_t)(1 << bit % 8);
        ck_assert_msg(!frame_rtu_check(frame, length, &content), "bit %zu", bit);
        frame[bit / 8] ^= (uint8_t)(1 << bit % 8);
    }
    ck_assert(frame_rtu_check(frame, length, &content));
}
END_TEST

START_TEST(test_truncated_frame_is_refused)
{
    uint8_t frame[FRAME_RTU_MAX];
    size_t whole = bytes_of_hex("11 03 06 02 2B 00 00 00 64 C8 BA", frame);
    struct frame_content content;
    for (size_t length = 0; length < whole; length++)
        ck_assert_msg(!frame_rtu_check(frame, length, &content), "%zu bytes", length);
}
END_TEST

START_TEST(test_frame_is_at_most_256_bytes)
{
    uint8_t pdu[FRAME_PDU_MAX + 1] = {3}, frame[FRAME_RTU_MAX + 1], tcp[FRAME_TCP_MAX];
    struct frame_content content;
    ck_assert_uint_eq(frame_rtu_build(frame, 1, pdu, FRAME_PDU_MAX), 256); /* SER 2.5.1 */
    ck_assert(frame_rtu_check(frame, FRAME_RTU_MAX, &content));
    ck_assert_uint_eq(content.length, FRAME_PDU_MAX);
    ck_assert_uint_eq(frame_rtu_build(frame, 1, pdu, FRAME_PDU_MAX + 1), 0);
    ck_assert_uint_eq(frame_rtu_build(frame, 1, pdu, 0), 0);
    ck_assert_uint_eq(frame_mbap_build(tcp, 1, 1, pdu, FRAME_PDU_MAX), 260); /* from memory */
    ck_assert_uint_eq(frame_mbap_build(tcp, 1, 1, pdu, FRAME_PDU_MAX + 1), 0);
    ck_assert_uint_eq(frame_mbap_build(tcp, 1, 1, pdu, 0), 0);
}
END_TEST

START_TEST(test_longer_than_a_frame_is_refused_even_with_the_right_crc)
{
    uint8_t frame[FRAME_RTU_MAX + 1] = {1, 3};
    uint16_t crc = frame_crc(frame, FRAME_RTU_MAX - 1);
    frame[FRAME_RTU_MAX - 1] = (uint8_t)crc;
    frame[FRAME_RTU_MAX] = (uint8_t)(crc >> 8);
    struct frame_content content;
    ck_assert(!frame_rtu_check(frame, FRAME_RTU_MAX + 1, &content));
}
END_TEST

/* Example that two public test suites give for FC03 over TCP. */
static const char tcp_request[] = "00 01 00 00 00 06 FF 03 00 6B 00 03";
static const char tcp_response[] = "00 01 00 00 00 09 FF 03 06 02 2B 00 00 00 64";

START_TEST(test_tcp_frame_is_built_byte_for_byte)
{
    uint8_t expected[FRAME_TCP_MAX], frame[FRAME_TCP_MAX];
    size_t length = bytes_of_hex(_i ? tcp_response : tcp_request, expected);
    ck_assert_uint_eq(frame_mbap_build(frame, 1, 0xff, expected + 7, length - 7), length);
    ck_assert_mem_eq(frame, expected, length);
}
END_TEST

START_TEST(test_tcp_frames_are_cut_from_the_stream_one_after_another)
{
    uint8_t stream[2 * FRAME_TCP_MAX];
    size_t first = bytes_of_hex(tcp_request, stream);
    size_t all = first + bytes_of_hex(tcp_response, stream + first);
    struct frame_content content;
    ck_assert_int_eq(frame_mbap_check(stream, all, &content), (int)first);
    ck_assert_uint_eq(content.transaction, 1);
    ck_assert_uint_eq(content.unit, 0xff);
    ck_assert_uint_eq(content.length, 5);
    ck_assert_int_eq(frame_mbap_check(stream + first, all - first, &content), (int)(all - first));
    ck_assert_ptr_eq(content.pdu, stream + first + FRAME_MBAP_BYTES);
    ck_assert_uint_eq(content.length, 8);
}
END_TEST

START_TEST(test_unfinished_tcp_frame_is_waited_for)
{
    uint8_t stream[FRAME_TCP_MAX];
    size_t whole = bytes_of_hex(tcp_response, stream);
    struct frame_content content;
    for (size_t length = 0; length < whole; length++)
        ck_assert_msg(frame_mbap_check(stream, length, &content) == 0, "%zu bytes", length);
}
END_TEST

START_TEST(test_tcp_header_that_is_no_modbus_is_refused)
{
    static const char *const wrong[] = {
        "00 01 00 01 00 06 FF 03 00 6B 00 03", /* protocol 1 */
        "00 01 00 00 00 00 FF 03",             /* nothing follows */
        "00 01 00 00 00 01 FF 03",             /* a unit alone */
        "00 01 00 00 00 FF FF 03",             /* 255: more than unit and PDU can be */
        "47 45 54 20 2F 20 48 54 54 50",       /* GET / HTTP */
    };
    uint8_t stream[FRAME_TCP_MAX];
    struct frame_content content;
    size_t length = bytes_of_hex(wrong[_i], stream);
    ck_assert_int_eq(frame_mbap_check(stream, length, &content), -1);
}
END_TEST

/* Serial Line V1.02, 2.5.1.1: 3.5 characters of 11 bits; above 19200 baud 1.750 ms. */
START_TEST(test_frames_are_as_far_apart_as_the_standard_says)
{
    static const struct {
        int32_t baud;
        int64_t gap_us;
    } rows[] = {{2400, 16041}, {4800, 8020},  {9600, 4010},  {19200, 2005},
                {38400, 1750}, {57600, 1750}, {115200, 1750}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        ck_assert_int_eq(frame_gap_us(rows[i].baud), rows[i].gap_us);
}
END_TEST

int main(void)
{
    Suite *suite = suite_create("frame");
    TCase *cases = tcase_create("frame");
    tcase_add_loop_test(cases, test_published_frame_is_built_byte_for_byte, 0, PUBLISHED);
    tcase_add_loop_test(cases, test_published_frame_is_taken, 0, PUBLISHED);
    tcase_add_test(cases, test_any_single_wrong_bit_is_seen);
    tcase_add_test(cases, test_truncated_frame_is_refused);
    tcase_add_test(cases, test_frame_is_at_most_256_bytes);
    tcase_add_test(cases, test_longer_than_a_frame_is_refused_even_with_the_right_crc);
    tcase_add_loop_test(cases, test_tcp_frame_is_built_byte_for_byte, 0, 2);
    tcase_add_test(cases, test_tcp_frames_are_cut_from_the_stream_one_after_another);
    tcase_add_test(cases, test_unfinished_tcp_frame_is_waited_for);
    tcase_add_test(cases, test_frames_are_as_far_apart_as_the_standard_says);
    tcase_add_loop_test(cases, test_tcp_header_that_is_no_modbus_is_refused, 0, 5);
    suite_add_tcase(suite, cases);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? 1 : 0;
}
