/* test_verdict.c - what a test of a load has shown, from its numbers alone. */
#include "sluice/live/test_verdict.h"

#include "../core/suite.h"
#include <string.h>

static struct test_subject subject;
static struct test_look looks[TEST_LOOKS_MAX];
static int count;
static struct test_verdict verdict;

static void heater(void)
{
    subject = (struct test_subject){.nameplate_w = 3600,
                                    .nominal_mv = 230000,
                                    .phases = 1,
                                    .resistive = true,
                                    .thermostat = true,
                                    .off_shown = true};
    memset(looks, 0, sizeof(looks));
    count = 0;
}

static struct test_look *saw(bool stop, int64_t step_w)
{
    looks[count] = (struct test_look){.stop = stop, .step_w = step_w, .voltage_mv = 230000};
    return &looks[count++];
}

static bool judged(void)
{
    return test_judge(&subject, looks, count, &verdict);
}

static void says(const char *wanted)
{
    char buffer[1200];
    struct text text = text_in(buffer, sizeof(buffer));
    test_verdict_write(&subject, &verdict, &text);
    test_verdict_write_first(&subject, &verdict, &text);
    ck_assert_msg(strstr(buffer, wanted) != NULL, "\"%s\" is not in \"%s\"", wanted, buffer);
}

START_TEST(test_a_start_and_a_stop_that_agree_settle_it)
{
    heater();
    saw(false, 3580);
    ck_assert(!judged()); /* one look may be the kettle's */
    saw(true, -3560);
    ck_assert(judged());
    ck_assert_int_eq(verdict.outcome, TEST_AS_EXPECTED);
    ck_assert_int_eq(verdict.power_w, 3570);
    ck_assert_int_eq(verdict.element_mohm, 14817); /* 230 V squared / 3570 W */
    ck_assert_int_eq(verdict.expected_mohm, 14694);
    says("draws 3.57 kW on L1: as expected");
}
END_TEST

/* 3.6 kW at 240 V are 16 ohm: 3.02 kW at 220 V and 3.84 kW at 248 V of the same element. */
START_TEST(test_the_voltage_is_not_the_elements_fault)
{
    for (int k = 0; k < 2; k++) {
        heater();
        subject.nominal_mv = 240000;
        int64_t mv = k ? 248000 : 220000, power_w = mv * mv / 16000000;
        saw(false, power_w)->voltage_mv = mv;
        saw(true, -power_w)->voltage_mv = mv;
        ck_assert(judged());
        ck_assert_int_eq(verdict.outcome, TEST_AS_EXPECTED);
        ck_assert_int_le(llabs(verdict.element_mohm - 16000), 10);
    }
}
END_TEST

START_TEST(test_most_looks_decide_where_an_appliance_switched_in_between)
{
    heater();
    saw(false, 5600);
    saw(true, -3580);
    ck_assert(!judged());
    saw(false, 3600);
    ck_assert(judged());
    ck_assert_int_eq(verdict.power_w, 3590);
    ck_assert_int_eq(verdict.agreeing, 2);
}
END_TEST

START_TEST(test_looks_that_never_agree_are_not_clear)
{
    static const int64_t steps[] = {5600, -1500, 3600, -2500, 7600, -700};
    heater();
    for (int k = 0; k < 6; k++)
        saw(k % 2, steps[k]);
    ck_assert(!judged());
    ck_assert_int_eq(verdict.outcome, TEST_UNCLEAR);
    says("Test again when the house is quieter");
}
END_TEST

START_TEST(test_what_was_mixed_or_unseen_says_nothing)
{
    heater();
    saw(false, 3580)->seen = LOOK_MIXED;
    saw(true, -3580)->seen = LOOK_UNSEEN;
    ck_assert(!judged());
    ck_assert_int_eq(verdict.outcome, TEST_UNCLEAR);
}
END_TEST

START_TEST(test_no_step_is_possibly_no_power_with_what_to_measure)
{
    heater();
    saw(false, 12);
    saw(true, 25);
    ck_assert(judged());
    ck_assert_int_eq(verdict.outcome, TEST_NO_DRAW);
    ck_assert_int_eq(verdict.finding.kind, FINDING_NO_POWER);
    says("possible: no power reaches the element");
    says("about 14.7 ohm expected");
    says("an open thermostat looks the same");
    subject.off_shown = false;
    says("or its contact stays closed or is bypassed");
}
END_TEST

START_TEST(test_a_sensed_contact_tells_contactor_from_element)
{
    for (int closed = 0; closed < 2; closed++) {
        heater();
        subject.contact = closed ? CONTACT_CLOSED : CONTACT_OPEN;
        saw(false, 0);
        saw(true, 0);
        ck_assert(judged());
        ck_assert_int_eq(verdict.finding.kind, closed ? FINDING_ELEMENT_OPEN : FINDING_NOT_CLOSING);
    }
}
END_TEST

START_TEST(test_an_open_thermostat_is_no_fault)
{
    heater();
    saw(false, 0)->hot = true;
    saw(true, 0);
    ck_assert(judged());
    ck_assert_int_eq(verdict.outcome, TEST_THERMOSTAT);
    ck_assert_int_eq(verdict.finding.kind, FINDING_NONE);
    says("Nothing is shown about the element");
}
END_TEST

START_TEST(test_a_contact_stays_closed_where_it_rose_once_and_never_fell)
{
    heater();
    saw(false, 3580);
    saw(true, 0);
    subject.stuck = true;
    ck_assert(!judged());
    saw(false, 5);
    saw(true, -9);
    ck_assert(judged());
    ck_assert_int_eq(verdict.outcome, TEST_STAYS_ON);
    says("possible: contact welded or bypassed");
}
END_TEST

START_TEST(test_part_of_an_element_is_told_as_a_part)
{
    heater();
    saw(false, 1790);
    saw(true, -1800);
    ck_assert(judged());
    ck_assert_int_eq(verdict.outcome, TEST_LESS);
    ck_assert_int_eq(verdict.finding.kind, FINDING_ELEMENT_PART);
    says("possible: part of the element is gone: draws 1.80 kW on L1, less than its nameplate's");
}
END_TEST

START_TEST(test_without_a_voltage_a_tenth_off_is_no_news)
{
    heater();
    saw(false, 3050)->voltage_mv = 0;
    saw(true, -3050)->voltage_mv = 0;
    ck_assert(judged());
    ck_assert_int_eq(verdict.outcome, TEST_AS_EXPECTED);
    ck_assert_int_eq(verdict.element_mohm, 0);
    heater();
    saw(false, 5200)->voltage_mv = 0;
    saw(true, -5200)->voltage_mv = 0;
    ck_assert(judged());
    ck_assert_int_eq(verdict.outcome, TEST_MORE);
    says("(voltage not measured)");
}
END_TEST

START_TEST(test_import_that_falls_is_a_reversed_sign)
{
    heater();
    saw(false, -3580);
    saw(true, 3580);
    ck_assert(judged());
    ck_assert_int_eq(verdict.outcome, TEST_REVERSED);
    ck_assert_int_eq(verdict.finding.kind, FINDING_GRID_REVERSED);
    says("import fell by 3.58 kW");
}
END_TEST

static void on_phase(int64_t own_w, int phase)
{
    for (int k = 0; k < 2; k++) {
        struct test_look *look = saw(k, k ? -own_w : own_w);
        look->has_phases = true;
        look->phase_step_w[phase] = k ? -3580 : 3580;
    }
}

START_TEST(test_a_step_on_another_phase_is_told_with_both)
{
    heater();
    on_phase(0, 1);
    ck_assert(judged());
    ck_assert_int_eq(verdict.outcome, TEST_OTHER_PHASE);
    ck_assert_int_eq(verdict.seen_phase, 2);
    says("3.58 kW seen on L2, not on L1");
    heater();
    on_phase(3580, 2); /* with a solar meter the level is of all phases */
    ck_assert(judged());
    ck_assert_int_eq(verdict.outcome, TEST_OTHER_PHASE);
    heater();
    on_phase(3580, 0);
    ck_assert(judged());
    ck_assert_int_eq(verdict.outcome, TEST_AS_EXPECTED);
}
END_TEST

START_TEST(test_three_phases_have_an_element_each)
{
    heater();
    subject.nameplate_w = 9000;
    subject.phases = 7;
    saw(false, 9000);
    saw(true, -9000);
    ck_assert(judged());
    ck_assert_int_eq(verdict.element_mohm, 17633); /* 230 V squared / 3 kW */
}
END_TEST

START_TEST(test_one_look_must_do_for_a_motor)
{
    heater();
    subject.nameplate_w = 1100;
    subject.resistive = subject.thermostat = false;
    subject.once = true;
    saw(false, 1250);
    ck_assert(judged());
    ck_assert_int_eq(verdict.outcome, TEST_AS_EXPECTED);
    ck_assert_int_eq(verdict.element_mohm, 0);
}
END_TEST

START_TEST(test_every_outcome_has_a_name_of_its_own)
{
    for (int a = 0; a < TEST_OUTCOMES; a++)
        for (int b = 0; b < a; b++)
            ck_assert_str_ne(test_outcome_name((enum test_outcome)a),
                             test_outcome_name((enum test_outcome)b));
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_a_start_and_a_stop_that_agree_settle_it,
        test_the_voltage_is_not_the_elements_fault,
        test_most_looks_decide_where_an_appliance_switched_in_between,
        test_looks_that_never_agree_are_not_clear,
        test_what_was_mixed_or_unseen_says_nothing,
        test_no_step_is_possibly_no_power_with_what_to_measure,
        test_a_sensed_contact_tells_contactor_from_element,
        test_an_open_thermostat_is_no_fault,
        test_a_contact_stays_closed_where_it_rose_once_and_never_fell,
        test_part_of_an_element_is_told_as_a_part,
        test_without_a_voltage_a_tenth_off_is_no_news,
        test_import_that_falls_is_a_reversed_sign,
        test_a_step_on_another_phase_is_told_with_both,
        test_three_phases_have_an_element_each,
        test_one_look_must_do_for_a_motor,
        test_every_outcome_has_a_name_of_its_own,
    };
    return suite_run("verdict", tests, COUNT_OF(tests));
}
