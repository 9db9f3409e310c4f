/* test_wire.c - the very bytes that go over a serial line, as the peer saw them,
 * against the worked frames: PDUs of the Modbus Application Protocol V1.1b3,
 * checksums as printed by node-modbus/stream's tests and computed from Serial
 * Line V1.02, appendix B. Unit 0x11 = 17. */
#include "bus/rig.h"

#include <check.h>
#include <stdlib.h>
#include <string.h>

static void assert_asks(struct rig *rig, struct bus_job job, const char *frame)
{
    char hex[256];
    struct bus_answer answer = rig_ask(rig, job);
    peer_asked(&rig->peer, hex, sizeof hex);
    ck_assert_str_eq(hex, frame);
    ck_assert_msg(answer.outcome == BUS_OK, "%s", answer.detail);
}

START_TEST(test_frames_on_the_serial_line_are_those_of_the_standard)
{
    struct rig rig = rig_start("peer_rogue.py", "pty");
    struct bus_job input = rig_holding(8, 1);
    input.table = METER_INPUT;
    struct bus_job two = rig_set_register(1, 0x000a);
    two.count = 2;
    two.value[1] = 0x0102;
    assert_asks(&rig, rig_holding(0x6b, 3), "1103006b00037687");
    assert_asks(&rig, input, "110400080001b298");
    assert_asks(&rig, rig_set_coil(0xac, true), "110500acff004e8b");
    assert_asks(&rig, rig_set_register(1, 3), "1106000100039a9b");
    assert_asks(&rig, two, "11100001000204000a0102c6f0");
    rig_stop(&rig);
}
END_TEST

/* Modbus Messaging on TCP/IP Implementation Guide V1.0b, 3.1.3: transaction,
 * protocol 0, length of unit and PDU. */
START_TEST(test_frames_over_tcp_carry_a_new_transaction_each)
{
    struct rig rig = rig_start("peer_rogue.py", "tcp");
    assert_asks(&rig, rig_holding(0x6b, 3), "0001000000061103006b0003");
    assert_asks(&rig, rig_set_coil(0xac, true), "000200000006110500acff00");
    rig_stop(&rig);
}
END_TEST

/* A SunSpec search begins at 40000, 9C40; the marker is taken away, so it goes on to 50000 and 0
 * and then says so. */
START_TEST(test_device_without_the_sunspec_marker_is_not_found)
{
    struct rig rig = rig_start("peer_rogue.py", "pty");
    char hex[256];
    static const char *const asks[] = {"11039c40", "1103c350", "11030000"};
    uint8_t meter = bus_add_meter(rig.bus, RIG_UNIT, NULL, SUNSPEC_EITHER);
    peer_order(&rig.peer, "register 40000 0");
    struct bus_answer answer =
        rig_ask(&rig, (struct bus_job){.kind = BUS_READ_METER, .meter = meter});
    ck_assert_int_eq(answer.outcome, BUS_NOT_FOUND);
    ck_assert_uint_eq(answer.sample.has, 0);
    for (size_t i = 0; i < sizeof asks / sizeof asks[0]; i++) {
        peer_asked(&rig.peer, hex, sizeof hex);
        ck_assert_msg(strncmp(hex, asks[i], 8) == 0, "%s", hex);
    }
    rig_stop(&rig);
}
END_TEST

int main(void)
{
    TCase *cases = tcase_create("wire");
    tcase_set_timeout(cases, 60);
    tcase_add_test(cases, test_frames_on_the_serial_line_are_those_of_the_standard);
    tcase_add_test(cases, test_frames_over_tcp_carry_a_new_transaction_each);
    tcase_add_test(cases, test_device_without_the_sunspec_marker_is_not_found);
    Suite *suite = suite_create("wire");
    suite_add_tcase(suite, cases);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
