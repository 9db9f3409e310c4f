/* test_peers.c - the same readings and switchings against servers that share no
 * code with us: python3-pymodbus (TCP, and RTU on a pty) and the npm package
 * jsmodbus (TCP). What they serve: tests/peers/registers.py. */
#include "bus/rig.h"

#include <check.h>
#include <stdlib.h>

static const struct {
    const char *program, *wire;
} peers[] = {
    {"peer_pymodbus.py", "tcp"},
    {"peer_pymodbus.py", "rtu"},
    {"peer_jsmodbus.js", "tcp"},
};
enum { PEERS = sizeof peers / sizeof peers[0] };

/* IEEE 754: 230.2 = 43 66 33 33, -1500.0 = C4 BB 80 00, 1234.5 = 44 9A 50 00. */
START_TEST(test_float_meter_is_read)
{
    struct rig rig = rig_start(peers[_i].program, peers[_i].wire);
    uint8_t meter = bus_add_meter(rig.bus, RIG_UNIT, rig_map(), SUNSPEC_EITHER);
    struct bus_answer answer =
        rig_ask(&rig, (struct bus_job){.kind = BUS_READ_METER, .meter = meter, .totals = true});
    ck_assert_msg(answer.outcome == BUS_OK, "%s", answer.detail);
    ck_assert_uint_eq(answer.sample.has,
                      1u << METER_VOLTAGE_L1 | 1u << METER_POWER | 1u << METER_IMPORT_ENERGY);
    ck_assert_int_eq(answer.sample.value[METER_POWER], -1500000);
    ck_assert_int_eq(answer.sample.value[METER_IMPORT_ENERGY], 1234500000);
    ck_assert_int_ge(answer.sample.value[METER_VOLTAGE_L1], 230199); /* the float's own step */
    ck_assert_int_le(answer.sample.value[METER_VOLTAGE_L1], 230200);
    ck_assert_int_gt(answer.took_us, 0);
    rig_stop(&rig);
}
END_TEST

START_TEST(test_totals_are_read_only_when_asked_for)
{
    struct rig rig = rig_start(peers[_i].program, peers[_i].wire);
    uint8_t meter = bus_add_meter(rig.bus, RIG_UNIT, rig_map(), SUNSPEC_EITHER);
    struct bus_answer answer =
        rig_ask(&rig, (struct bus_job){.kind = BUS_READ_METER, .meter = meter});
    ck_assert_msg(answer.outcome == BUS_OK, "%s", answer.detail);
    ck_assert_uint_eq(answer.sample.has, 1u << METER_VOLTAGE_L1 | 1u << METER_POWER);
    rig_stop(&rig);
}
END_TEST

START_TEST(test_registers_of_the_standard_are_read)
{
    struct rig rig = rig_start(peers[_i].program, peers[_i].wire);
    struct bus_answer holding = rig_ask(&rig, rig_holding(107, 3));
    ck_assert_msg(holding.outcome == BUS_OK, "%s", holding.detail);
    ck_assert_uint_eq(holding.count, 3);
    ck_assert_uint_eq(holding.value[0], 555);
    ck_assert_uint_eq(holding.value[1], 0);
    ck_assert_uint_eq(holding.value[2], 100);
    struct bus_job job = rig_holding(8, 1);
    job.table = METER_INPUT;
    ck_assert_uint_eq(rig_ask(&rig, job).value[0], 10);
    /* Application Protocol V1.1b3, 6.1: coils 27-20 (addresses 26-19) are CD. */
    struct bus_job coils = rig_coil(19);
    coils.count = 8;
    struct bus_answer read = rig_ask(&rig, coils);
    for (int i = 0; i < 8; i++) {
        ck_assert_uint_eq(read.value[i], (0xcdu >> i) & 1);
    }
    rig_stop(&rig);
}
END_TEST

START_TEST(test_coils_and_registers_are_written_and_read_back)
{
    struct rig rig = rig_start(peers[_i].program, peers[_i].wire);
    for (int on = 1; on >= 0; on--) {
        struct bus_answer written = rig_ask(&rig, rig_set_coil(3, on));
        ck_assert_msg(written.outcome == BUS_OK, "%s", written.detail);
        ck_assert_int_eq(rig_ask(&rig, rig_coil(3)).value[0], on);
    }
    ck_assert_int_eq(rig_ask(&rig, rig_set_register(200, 0xbeef)).outcome, BUS_OK);
    struct bus_job two = rig_set_register(201, 1);
    two.count = 2;
    two.value[1] = 0xffff;
    ck_assert_int_eq(rig_ask(&rig, two).outcome, BUS_OK);
    struct bus_answer read = rig_ask(&rig, rig_holding(200, 3));
    ck_assert_uint_eq(read.value[0], 0xbeef);
    ck_assert_uint_eq(read.value[1], 1);
    ck_assert_uint_eq(read.value[2], 0xffff);
    rig_stop(&rig);
}
END_TEST

/* Application Protocol V1.1b3, section 7: an address outside is exception 02. (A
 * write: jsmodbus answers a read from outside with no bytes at all, which is
 * refused as corrupt.) */
START_TEST(test_address_that_does_not_exist_is_a_refusal)
{
    struct rig rig = rig_start(peers[_i].program, peers[_i].wire);
    struct bus_answer answer = rig_ask(&rig, rig_set_register(5000, 1));
    ck_assert_int_eq(answer.outcome, BUS_EXCEPTION);
    ck_assert_uint_eq(answer.exception, 2);
    ck_assert_int_ne(rig_ask(&rig, rig_holding(5000, 2)).outcome, BUS_OK);
    rig.now = mono_after(rig.now, 1000);
    ck_assert_int_eq(rig_ask(&rig, rig_holding(107, 1)).value[0], 555);
    rig_stop(&rig);
}
END_TEST

int main(void)
{
    TCase *cases = tcase_create("peers");
    tcase_set_timeout(cases, 60);
    tcase_add_loop_test(cases, test_float_meter_is_read, 0, PEERS);
    tcase_add_loop_test(cases, test_totals_are_read_only_when_asked_for, 0, PEERS);
    tcase_add_loop_test(cases, test_registers_of_the_standard_are_read, 0, PEERS);
    tcase_add_loop_test(cases, test_coils_and_registers_are_written_and_read_back, 0, PEERS);
    tcase_add_loop_test(cases, test_address_that_does_not_exist_is_a_refusal, 0, PEERS);
    Suite *suite = suite_create("peers");
    suite_add_tcase(suite, cases);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
