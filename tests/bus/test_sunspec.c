/* test_sunspec.c - a SunSpec meter found on the wire by walking its models, and
 * found again after it was lost. Marker, model 1 and model 203 as published in
 * github.com/sunspec/models: tests/peers/registers.py. */
#include "bus/rig.h"

#include <check.h>
#include <stdlib.h>
#include <string.h>

static const struct {
    const char *program, *wire;
} peers[] = {
    {"peer_pymodbus.py", "tcp"},
    {"peer_pymodbus.py", "rtu"},
    {"peer_rogue.py", "pty"},
    {"peer_rogue.py", "tcp"},
};
enum { PEERS = sizeof peers / sizeof peers[0] };

static struct bus_answer read_meter(struct rig *rig, uint8_t meter)
{
    return rig_ask(rig, (struct bus_job){.kind = BUS_READ_METER, .meter = meter});
}

static void assert_power(const struct bus_answer *answer, int64_t power_mw)
{
    ck_assert_msg(answer->outcome == BUS_OK, "%s", answer->detail);
    ck_assert_uint_ne(answer->sample.has & 1u << METER_POWER, 0);
    ck_assert_int_eq(answer->sample.value[METER_POWER], power_mw);
}

/* W = -1234, W_SF = 1: value = raw x 10^SF. */
START_TEST(test_meter_is_found_by_its_models_and_read)
{
    struct rig rig = rig_start(peers[_i].program, peers[_i].wire);
    uint8_t meter = bus_add_meter(rig.bus, RIG_UNIT, NULL, SUNSPEC_EITHER);
    struct bus_answer answer = read_meter(&rig, meter);
    assert_power(&answer, -12340000);
    ck_assert_uint_eq(answer.sample.has & 1u << METER_POWER_L1, 0); /* not implemented */
    rig_stop(&rig);
}
END_TEST

/* How many questions the peer has reported so far; an order's "done" comes after
 * them, so none is missed. */
static int questions(struct rig *rig)
{
    peer_order(&rig->peer, "behave good");
    return peer_asked_count(&rig->peer);
}

/* The walk is for the first round only. */
START_TEST(test_second_round_asks_for_the_meter_alone)
{
    struct rig rig = rig_start("peer_rogue.py", "pty");
    uint8_t meter = bus_add_meter(rig.bus, RIG_UNIT, NULL, SUNSPEC_EITHER);
    read_meter(&rig, meter);
    int walked = questions(&rig);
    struct bus_answer answer = read_meter(&rig, meter);
    assert_power(&answer, -12340000);
    int second = questions(&rig) - walked;
    ck_assert_int_ge(second, 1);
    ck_assert_int_le(second, 2); /* power, currents and voltages, at most a gap between */
    ck_assert_int_gt(walked, second);
    rig_stop(&rig);
}
END_TEST

/* A walk that silence or garbage cuts short begins anew; a refusal is an answer:
 * the marker is sought elsewhere. */
START_TEST(test_walk_that_is_cut_short_is_walked_again)
{
    static const char *const cuts[] = {"silent", "garbage", "bad-crc", "truncated"};
    for (size_t i = 0; i < sizeof cuts / sizeof cuts[0]; i++) {
        struct rig rig = rig_start("peer_rogue.py", "pty");
        uint8_t meter = bus_add_meter(rig.bus, RIG_UNIT, NULL, SUNSPEC_EITHER);
        peer_order(&rig.peer, "behave good good %s good", cuts[i]);
        struct bus_answer answer = read_meter(&rig, meter);
        ck_assert_msg(answer.outcome != BUS_OK, "%s", cuts[i]);
        ck_assert_msg(answer.outcome != BUS_NOT_FOUND, "%s", cuts[i]);
        ck_assert_uint_eq(answer.sample.has, 0);
        answer = read_meter(&rig, meter);
        assert_power(&answer, -12340000);
        rig_stop(&rig);
    }
}
END_TEST

/* Pulled out and replaced by a device that has another model first: its power
 * stands at another address. */
START_TEST(test_lost_device_is_walked_again_when_it_returns)
{
    struct rig rig = rig_start("peer_rogue.py", "pty");
    uint8_t meter = bus_add_meter(rig.bus, RIG_UNIT, NULL, SUNSPEC_EITHER);
    struct bus_answer answer = read_meter(&rig, meter);
    assert_power(&answer, -12340000);
    peer_order(&rig.peer, "vanish");
    ck_assert_int_eq(read_meter(&rig, meter).outcome, BUS_DOWN);
    /* 40070: a vendor's model of the same length; 40177: the meter; 40284: end. */
    static const struct {
        unsigned address, value;
    } moved[] = {{40070, 64001}, {40177, 203},    {40178, 105}, {40195, 555},
                 {40199, 0},     {40284, 0xffff}, {40285, 0}};
    for (size_t i = 0; i < sizeof moved / sizeof moved[0]; i++) {
        peer_order(&rig.peer, "register %u %u", moved[i].address, moved[i].value);
    }
    peer_order(&rig.peer, "return");
    rig.now = mono_after(rig.now, 1000);
    answer = read_meter(&rig, meter);
    assert_power(&answer, 555000);
    rig_stop(&rig);
}
END_TEST

int main(void)
{
    TCase *cases = tcase_create("sunspec");
    tcase_set_timeout(cases, 60);
    tcase_add_loop_test(cases, test_meter_is_found_by_its_models_and_read, 0, PEERS);
    tcase_add_test(cases, test_second_round_asks_for_the_meter_alone);
    tcase_add_test(cases, test_walk_that_is_cut_short_is_walked_again);
    tcase_add_test(cases, test_lost_device_is_walked_again_when_it_returns);
    Suite *suite = suite_create("sunspec");
    suite_add_tcase(suite, cases);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
