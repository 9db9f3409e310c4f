/* test_refused.c - a unit that refuses registers: in a gap that the plan reads across, a
 * quantity that it lacks, or everything. */
#include "bus/rig.h"

#include <check.h>
#include <string.h>

static struct meter_point point(enum meter_quantity quantity, uint16_t address,
                                enum meter_type type)
{
    return (struct meter_point){.quantity = quantity,
                                .table = METER_INPUT,
                                .address = address,
                                .type = type,
                                .scale_num = 1000,
                                .scale_den = 1,
                                .scale_register = METER_NO_REGISTER};
}

/* Watts at 52 and 53, a current at 58, a voltage right behind it: one block with a gap. */
static struct rig begin(uint8_t *meter)
{
    struct meter_map map = {.name = "gap", .unit = RIG_UNIT, .point_count = 3};
    map.point[0] = point(METER_POWER, 52, METER_FLOAT32);
    map.point[1] = point(METER_CURRENT_L1, 58, METER_UINT16);
    map.point[2] = point(METER_VOLTAGE_L1, 59, METER_UINT16);
    struct rig rig = rig_start("peer_rogue.py", "pty");
    *meter = bus_add_meter(rig.bus, RIG_UNIT, &map, SUNSPEC_EITHER);
    return rig;
}

static struct bus_answer read_meter(struct rig *rig, uint8_t meter)
{
    rig->now = mono_after(rig->now, 1000);
    return rig_ask(
        rig,
        (struct bus_job){.kind = BUS_READ_METER, .unit = RIG_UNIT, .meter = meter, .totals = true});
}

static int questions(struct rig *rig)
{
    peer_order(&rig->peer, "behave good");
    return peer_asked_count(&rig->peer);
}

static bool has(const struct bus_answer *answer, enum meter_quantity quantity)
{
    return answer->sample.has >> quantity & 1;
}

START_TEST(test_a_block_whose_gap_is_refused_is_read_in_parts_from_then_on)
{
    uint8_t meter;
    struct rig rig = begin(&meter);
    peer_order(&rig.peer, "refuse 55 56");
    struct bus_answer answer = read_meter(&rig, meter);
    ck_assert_msg(answer.outcome == BUS_OK, "%s", answer.detail);
    ck_assert(has(&answer, METER_POWER) && has(&answer, METER_CURRENT_L1));
    ck_assert_int_eq(answer.sample.value[METER_CURRENT_L1], 58000);
    ck_assert(!answer.left_out);
    ck_assert_str_eq(answer.detail,
                     "unit 17 refuses unused input 0x0036 to 0x0039: read in 2 parts");
    ck_assert_int_eq(questions(&rig), 3); /* the whole, and its two parts */
    answer = read_meter(&rig, meter);
    ck_assert_int_eq(answer.outcome, BUS_OK);
    ck_assert_str_eq(answer.detail, ""); /* said once */
    ck_assert_int_eq(questions(&rig), 5);
    rig_stop(&rig);
}
END_TEST

START_TEST(test_a_value_that_is_refused_is_left_out_and_named_and_tried_again)
{
    uint8_t meter;
    struct rig rig = begin(&meter);
    peer_order(&rig.peer, "refuse 59 59");
    for (int round = 0; round < 3; round++) {
        struct bus_answer one = read_meter(&rig, meter);
        ck_assert_msg(one.outcome == BUS_OK, "%s", one.detail);
        ck_assert(has(&one, METER_POWER) && has(&one, METER_CURRENT_L1));
        ck_assert(!has(&one, METER_VOLTAGE_L1));
        ck_assert(one.left_out);
        ck_assert_str_eq(one.detail, "unit 17 refuses input 0x003b (voltage-l1)");
    }
    /* all, watts, the two behind the gap, each of them; then two rounds of two */
    ck_assert_int_eq(questions(&rig), 5 + 2 + 2);
    peer_order(&rig.peer, "refuse 1 0");
    struct bus_answer answer = read_meter(&rig, meter);
    ck_assert(!has(&answer, METER_VOLTAGE_L1)); /* not asked for again yet */
    rig.now = mono_after(rig.now, 10 * MS_PER_MIN);
    answer = read_meter(&rig, meter);
    ck_assert(has(&answer, METER_VOLTAGE_L1));
    ck_assert(!answer.left_out);
    ck_assert_str_eq(answer.detail, "");
    rig_stop(&rig);
}
END_TEST

START_TEST(test_a_unit_that_refuses_everything_has_said_no_and_nothing_more)
{
    uint8_t meter;
    struct rig rig = begin(&meter);
    peer_order(&rig.peer, "refuse 0 65535");
    struct bus_answer answer = read_meter(&rig, meter);
    ck_assert_int_eq(answer.outcome, BUS_EXCEPTION);
    ck_assert_uint_eq(answer.exception, 2);
    ck_assert_uint_eq(answer.sample.has, 0);
    ck_assert_ptr_nonnull(strstr(answer.detail, "illegal data address"));
    int asked = questions(&rig);
    peer_order(&rig.peer, "refuse 1 0");
    answer = read_meter(&rig, meter);
    ck_assert_int_eq(answer.outcome, BUS_OK);
    ck_assert(has(&answer, METER_VOLTAGE_L1));
    ck_assert_int_eq(questions(&rig), asked + 1); /* as one, as before */
    rig_stop(&rig);
}
END_TEST

/* Busy, or a fault of its own: that is no word about addresses. */
START_TEST(test_another_refusal_is_not_split)
{
    uint8_t meter;
    struct rig rig = begin(&meter);
    peer_order(&rig.peer, "behave exception:6 good");
    struct bus_answer answer = read_meter(&rig, meter);
    ck_assert_int_eq(answer.outcome, BUS_EXCEPTION);
    ck_assert_int_eq(questions(&rig), 1);
    ck_assert_int_eq(read_meter(&rig, meter).outcome, BUS_OK);
    ck_assert_int_eq(questions(&rig), 2);
    rig_stop(&rig);
}
END_TEST

/* Silence among the parts: no sample of half a round. */
START_TEST(test_a_part_that_is_silent_fails_the_round)
{
    uint8_t meter;
    struct rig rig = begin(&meter);
    peer_order(&rig.peer, "refuse 55 56");
    peer_order(&rig.peer, "behave good good silent good");
    struct bus_answer answer = read_meter(&rig, meter);
    ck_assert_int_eq(answer.outcome, BUS_TIMEOUT);
    ck_assert_uint_eq(answer.sample.has, 0);
    answer = read_meter(&rig, meter);
    ck_assert_msg(answer.outcome == BUS_OK, "%s", answer.detail);
    rig_stop(&rig);
}
END_TEST

int main(void)
{
    TCase *cases = tcase_create("refused");
    tcase_set_timeout(cases, 60);
    tcase_add_test(cases, test_a_block_whose_gap_is_refused_is_read_in_parts_from_then_on);
    tcase_add_test(cases, test_a_value_that_is_refused_is_left_out_and_named_and_tried_again);
    tcase_add_test(cases, test_a_unit_that_refuses_everything_has_said_no_and_nothing_more);
    tcase_add_test(cases, test_another_refusal_is_not_split);
    tcase_add_test(cases, test_a_part_that_is_silent_fails_the_round);
    Suite *suite = suite_create("refused");
    suite_add_tcase(suite, cases);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? 1 : 0;
}
