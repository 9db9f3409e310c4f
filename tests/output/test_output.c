/* test_output.c - orders, confirmations, retries and fail states, against a
 * board and a broker that live in this file and obey as told. */
#include "output/own.h"
#include "output/world.h"

#include <check.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

START_TEST(test_order_is_written_read_back_and_confirmed)
{
    struct world *world = world_new(a_coil());
    assert_state(world, OUTPUT_UNKNOWN, 0);
    outputs_want(world->outputs, 0, 3600, 1, world->now);
    ck_assert(outputs_busy(world->outputs));
    assert_state(world, OUTPUT_PENDING, 0);
    ck_assert(settle(world));
    assert_state(world, OUTPUT_CONFIRMED, 3600);
    ck_assert_uint_eq(world->written_count, 1);
    ck_assert_uint_eq(world->reads, 1);
    ck_assert_uint_eq(world->value[2], 1);
    ck_assert(!want(world, 3600, 1)); /* the same order again is none */
    ck_assert_uint_eq(world->written_count, 1);
    ck_assert(want(world, 0, 0));
    assert_state(world, OUTPUT_CONFIRMED, 0);
    ck_assert_str_eq(outputs_detail(world->outputs, 0), "");
    world_free(world);
}
END_TEST

/* After a restart the truth is asked for before anything is switched. */
START_TEST(test_probe_tells_what_is_on_without_switching)
{
    struct world *world = world_new(a_coil());
    world->value[2] = 1;
    outputs_probe(world->outputs, world->now);
    ck_assert(settle(world));
    assert_state(world, OUTPUT_CONFIRMED, 1); /* on; its power is not known here */
    ck_assert_uint_eq(world->written_count, 0);
    world_free(world);
}
END_TEST

/* Says yes and does not: once, then three more times a second apart. */
START_TEST(test_board_that_says_yes_and_does_not_is_unsafe_after_the_retries)
{
    struct world *world = world_new(a_coil());
    want(world, 3600, 1);
    world->manner = LIES;
    want(world, 0, 0);
    for (int retry = 1; retry <= 3; retry++) {
        assert_state(world, OUTPUT_PENDING, 3600);
        pass(world, 999);
        ck_assert_uint_eq(world->written_count, 1u + (unsigned)retry);
        pass(world, 1);
        ck_assert_uint_eq(world->written_count, 2u + (unsigned)retry);
    }
    assert_state(world, OUTPUT_UNSAFE, 3600); /* what is in force is what was read */
    ck_assert_str_eq(outputs_detail(world->outputs, 0),
                     "coil 2 of unit 5 on relays reads on where off was ordered");
    pass(world, 9999);
    ck_assert_uint_eq(world->written_count, 5);
    world->manner = OBEYS; /* the contact came unstuck: it is still tried */
    ck_assert(pass(world, 1));
    assert_state(world, OUTPUT_CONFIRMED, 0);
    ck_assert_str_eq(outputs_detail(world->outputs, 0), "");
    world_free(world);
}
END_TEST

START_TEST(test_refusing_board_has_failed_after_the_retries_and_is_tried_on)
{
    struct world *world = world_new(a_coil());
    world->manner = REFUSES;
    want(world, 3600, 1);
    pass(world, 1000);
    pass(world, 1000);
    assert_state(world, OUTPUT_PENDING, 0);
    ck_assert(pass(world, 1000));
    assert_state(world, OUTPUT_FAILED, 0);
    ck_assert_str_eq(outputs_detail(world->outputs, 0),
                     "coil 2 of unit 5 on relays: unit 5 says no");
    ck_assert_uint_eq(world->written_count, 4);
    for (int slow = 1; slow <= 5; slow++) {
        ck_assert(!pass(world, 10000));
        ck_assert_uint_eq(world->written_count, 4u + (unsigned)slow);
    }
    world->manner = OBEYS;
    ck_assert(pass(world, 10000));
    assert_state(world, OUTPUT_CONFIRMED, 3600);
    world_free(world);
}
END_TEST

START_TEST(test_silent_board_has_failed_after_a_minute_and_is_tried_on)
{
    struct world *world = world_new(a_coil());
    world->manner = SILENT;
    want(world, 3600, 1);
    for (int s = 1; s < 60; s++) {
        pass(world, 1000);
        assert_state(world, OUTPUT_PENDING, 0);
    }
    ck_assert(pass(world, 1000));
    assert_state(world, OUTPUT_FAILED, 0);
    ck_assert_str_eq(outputs_detail(world->outputs, 0),
                     "coil 2 of unit 5 on relays: unit 5 is silent");
    world->manner = OBEYS;
    ck_assert(pass(world, 1000));
    assert_state(world, OUTPUT_CONFIRMED, 3600);
    world_free(world);
}
END_TEST

/* Boards with a communication time-out let go when nobody speaks to them. */
START_TEST(test_settled_output_is_read_every_ten_seconds_and_rewritten_every_thirty)
{
    struct world *world = world_new(a_coil());
    want(world, 3600, 1);
    for (int s = 0; s < 120; s++) {
        ck_assert(!pass(world, 1000));
    }
    ck_assert_uint_eq(world->written_count, 1 + 4);
    ck_assert_uint_eq(world->reads, 1 + 12 + 4); /* before each write, and after it */
    world_free(world);
}
END_TEST

START_TEST(test_output_that_cannot_be_read_is_confirmed_by_its_acknowledgement)
{
    struct output_settings blind = a_coil();
    blind.read_back = false;
    struct world *world = world_new(blind);
    want(world, 3600, 1);
    assert_state(world, OUTPUT_CONFIRMED, 3600);
    ck_assert_uint_eq(world->reads, 0);
    world->manner = SILENT;
    for (int s = 0; s < 89; s++) {
        pass(world, 1000);
    }
    assert_state(world, OUTPUT_UNCONFIRMED, 3600);
    pass(world, 1000);
    assert_state(world, OUTPUT_FAILED, 3600);
    world_free(world);
}
END_TEST

START_TEST(test_order_that_changes_while_an_answer_is_outstanding_goes_next)
{
    struct world *world = world_new(a_coil());
    outputs_want(world->outputs, 0, 3600, 1, world->now);
    outputs_turn(world->outputs, world->now);
    ck_assert_uint_eq(world->posted_count, 1);
    outputs_want(world->outputs, 0, 0, 0, world->now);
    outputs_turn(world->outputs, world->now);
    ck_assert_uint_eq(world->posted_count, 1); /* one at a time */
    settle(world);
    assert_state(world, OUTPUT_CONFIRMED, 0);
    ck_assert_uint_eq(world->written_count, 2);
    ck_assert_uint_eq(world->value[2], 0);
    world_free(world);
}
END_TEST

/* The answer to a job of before must not confirm the one of now. */
START_TEST(test_answers_that_are_not_awaited_change_nothing)
{
    struct world *world = world_new(a_coil());
    outputs_want(world->outputs, 0, 3600, 1, world->now);
    outputs_turn(world->outputs, world->now);
    uint32_t id = world->posted[0].id;
    static const int32_t offsets[] = {-4096, -1, 1, 256, 255 * 256, 65536, 1000000};
    for (size_t i = 0; i < sizeof offsets / sizeof offsets[0]; i++) {
        struct bus_answer stray = {.id = id + (uint32_t)offsets[i], .kind = BUS_WRITE_COIL};
        ck_assert(!outputs_answer(world->outputs, &stray));
        assert_state(world, OUTPUT_PENDING, 0);
    }
    settle(world);
    struct bus_answer again = {.id = id, .kind = BUS_WRITE_COIL, .outcome = BUS_TIMEOUT};
    ck_assert(!outputs_answer(world->outputs, &again));
    assert_state(world, OUTPUT_CONFIRMED, 3600);
    world_free(world);
}
END_TEST

START_TEST(test_answer_that_never_comes_does_not_hold_the_output_for_ever)
{
    struct world *world = world_new(a_coil());
    outputs_want(world->outputs, 0, 3600, 1, world->now);
    outputs_turn(world->outputs, world->now);
    world->posted_count = 0; /* the bus was taken down with the job in it */
    world->now = mono_after(world->now, 60000);
    settle(world);
    pass(world, 1000);
    assert_state(world, OUTPUT_CONFIRMED, 3600);
    world_free(world);
}
END_TEST

START_TEST(test_full_bus_is_tried_again)
{
    struct world *world = world_new(a_coil());
    world->full = true;
    want(world, 3600, 1);
    assert_state(world, OUTPUT_PENDING, 0);
    world->full = false;
    pass(world, 1000);
    assert_state(world, OUTPUT_CONFIRMED, 3600);
    world_free(world);
}
END_TEST

static struct output_settings three_contactors(void)
{
    struct output_settings settings = a_coil();
    settings.contactors = 3;
    settings.address[0] = 4;
    settings.address[1] = 1;
    settings.address[2] = 6;
    return settings;
}

START_TEST(test_stages_close_from_first_to_last_and_open_from_last_to_first)
{
    struct world *world = world_new(three_contactors());
    want(world, 2400, 2);
    ck_assert_uint_eq(world->value[4], 1);
    ck_assert_uint_eq(world->value[1], 1);
    ck_assert_uint_eq(world->value[6], 0);
    assert_state(world, OUTPUT_CONFIRMED, 2400);
    want(world, 3600, 3);
    ck_assert_uint_eq(world->value[6], 1);
    world->written_count = 0;
    want(world, 0, 0);
    ck_assert_uint_eq(world->written_count, 3);
    ck_assert_uint_eq(world->written[0].address, 6);
    ck_assert_uint_eq(world->written[1].address, 1);
    ck_assert_uint_eq(world->written[2].address, 4);
    world->written_count = 0;
    want(world, 3600, 3);
    ck_assert_uint_eq(world->written[0].address, 4);
    ck_assert_uint_eq(world->written[1].address, 1);
    ck_assert_uint_eq(world->written[2].address, 6);
    world_free(world);
}
END_TEST

START_TEST(test_staged_load_is_as_well_as_its_worst_contactor)
{
    struct world *world = world_new(three_contactors());
    want(world, 3600, 3);
    world->manner = LIES;
    want(world, 1200, 1);
    for (int i = 0; i < 3; i++) {
        pass(world, 1000);
    }
    assert_state(world, OUTPUT_UNSAFE, 3600); /* three still closed */
    world_free(world);
}
END_TEST

START_TEST(test_normally_closed_contact_opens_to_switch_on)
{
    struct output_settings settings = a_coil();
    settings.normally_closed = true;
    struct world *world = world_new(settings);
    world->value[2] = 1;
    want(world, 3600, 1);
    ck_assert_uint_eq(world->value[2], 0);
    assert_state(world, OUTPUT_CONFIRMED, 3600);
    want(world, 0, 0);
    ck_assert_uint_eq(world->value[2], 1);
    assert_state(world, OUTPUT_CONFIRMED, 0);
    world_free(world);
}
END_TEST

static struct output_settings a_charger(void)
{
    struct output_settings settings = a_coil();
    settings.kind = OUTPUT_REGISTER;
    settings.scale_ma = 1000;
    settings.watts_per_amp = 230;
    return settings;
}

START_TEST(test_set_point_is_written_in_its_counts_and_confirmed_in_watts)
{
    struct world *world = world_new(a_charger());
    want(world, 2390, 0);
    ck_assert_uint_eq(world->value[2], 10);
    assert_state(world, OUTPUT_CONFIRMED, 2300);
    ck_assert(!want(world, 2400, 0)); /* the same count: nothing to write */
    ck_assert_uint_eq(world->written_count, 1);
    want(world, 0, 0);
    assert_state(world, OUTPUT_CONFIRMED, 0);
    world_free(world);
}
END_TEST

/* A car or charger may take less than it is granted; that is the truth then. */
START_TEST(test_set_point_that_the_device_lowers_is_confirmed_as_read)
{
    struct world *world = world_new(a_charger());
    world->manner = HALVES;
    want(world, 2300, 0);
    assert_state(world, OUTPUT_CONFIRMED, 1150);
    ck_assert_str_eq(outputs_detail(world->outputs, 0),
                     "register 2 of unit 5 on relays takes only 1150 W of 2300 W");
    ck_assert(!pass(world, 10000));
    assert_state(world, OUTPUT_CONFIRMED, 1150);
    world_free(world);
}
END_TEST

START_TEST(test_set_point_that_stays_higher_than_allowed_is_unsafe)
{
    struct world *world = world_new(a_charger());
    want(world, 3680, 0);
    world->manner = LIES;
    want(world, 1380, 0);
    for (int i = 0; i < 3; i++) {
        pass(world, 1000);
    }
    assert_state(world, OUTPUT_UNSAFE, 3680);
    world_free(world);
}
END_TEST

START_TEST(test_topic_without_a_report_is_confirmed_by_being_published)
{
    struct world *world = world_new(a_topic(""));
    ck_assert(want(world, 1000, 1));
    ck_assert_str_eq(world->topic, "plug/set");
    ck_assert_str_eq(world->payload, "ON");
    assert_state(world, OUTPUT_CONFIRMED, 1000);
    world_free(world);
}
END_TEST

START_TEST(test_topic_is_sent_when_the_broker_returns_and_has_failed_after_a_minute_without_it)
{
    struct world *world = world_new(a_topic(""));
    for (int minute = 0; minute < 2; minute++) {
        world->broker = false;
        ck_assert(want(world, minute == 0 ? 1000 : 0, minute == 0));
        for (int s = 0; s < (minute == 0 ? 59 : 60); s++) {
            pass(world, 1000);
        }
        assert_state(world, minute == 0 ? OUTPUT_PENDING : OUTPUT_FAILED, minute == 0 ? 0 : 1000);
        ck_assert_str_eq(outputs_detail(world->outputs, 0),
                         "topic plug/set: not connected to the broker");
        ck_assert_uint_eq(world->published, (unsigned)minute);
        world->broker = true;
        ck_assert(pass(world, 1000));
        assert_state(world, OUTPUT_CONFIRMED, minute == 0 ? 1000 : 0);
        ck_assert_uint_eq(world->published, 1u + (unsigned)minute);
    }
    world_free(world);
}
END_TEST

START_TEST(test_topic_with_a_report_waits_for_it)
{
    struct world *world = world_new(a_topic("plug/state"));
    want(world, 1000, 1);
    assert_state(world, OUTPUT_PENDING, 0);
    ck_assert(report(world, "OFF")); /* still the old state */
    assert_state(world, OUTPUT_PENDING, 0);
    ck_assert(!report(world, "perhaps"));
    ck_assert(report(world, "ON"));
    assert_state(world, OUTPUT_CONFIRMED, 1000);
    ck_assert_uint_eq(world->published, 1);
    ck_assert(!outputs_state_message(world->outputs, "other/state", "OFF", 3, world->now));
    assert_state(world, OUTPUT_CONFIRMED, 1000);
    world_free(world);
}
END_TEST

START_TEST(test_device_that_never_reports_has_failed_and_one_that_contradicts_is_unsafe)
{
    for (int contradicts = 0; contradicts < 2; contradicts++) {
        struct world *world = world_new(a_topic("plug/state"));
        want(world, 1000, 1);
        for (int s = 0; s < 90; s++) {
            if (contradicts) {
                report(world, "OFF");
            }
            pass(world, 1000);
        }
        assert_state(world, contradicts ? OUTPUT_UNSAFE : OUTPUT_FAILED, 0);
        ck_assert_str_eq(outputs_detail(world->outputs, 0),
                         contradicts
                             ? "topic plug/set reads off where on was ordered"
                             : "topic plug/set does not report whether it followed the order");
        report(world, "ON");
        assert_state(world, OUTPUT_CONFIRMED, 1000);
        world_free(world);
    }
}
END_TEST

START_TEST(test_retained_report_before_any_order_is_what_is_in_force)
{
    struct world *world = world_new(a_topic("plug/state"));
    ck_assert(report(world, "ON"));
    assert_state(world, OUTPUT_CONFIRMED, 1);
    ck_assert_uint_eq(world->published, 0);
    world_free(world);
}
END_TEST

START_TEST(test_fail_state_is_off_or_on_as_set_whatever_the_contact)
{
    for (int variant = 0; variant < 4; variant++) {
        struct output_settings settings = a_coil();
        bool on = variant & 1;
        settings.fail_state = on ? OUTPUT_FAIL_ON : OUTPUT_FAIL_OFF;
        settings.normally_closed = variant & 2;
        struct world *world = world_new(settings);
        want(world, on ? 0 : 3600, !on);
        outputs_fail_state(world->outputs, world->now);
        ck_assert(outputs_busy(world->outputs));
        settle(world);
        ck_assert_uint_eq(world->value[2], on != settings.normally_closed);
        assert_state(world, OUTPUT_CONFIRMED, on ? 1 : 0);
        world_free(world);
    }
}
END_TEST

START_TEST(test_set_points_fail_to_nothing)
{
    struct output_settings settings = a_charger();
    settings.fail_state = OUTPUT_FAIL_ON;
    struct world *world = world_new(settings);
    want(world, 2300, 0);
    outputs_fail_state(world->outputs, world->now);
    settle(world);
    ck_assert_uint_eq(world->value[2], 0);
    world_free(world);
}
END_TEST

/* Whoever has no time waits for these only. */
START_TEST(test_fail_state_at_a_dead_board_makes_its_first_tries_at_once)
{
    struct world *world = world_new(a_coil());
    want(world, 3600, 1);
    world->manner = SILENT;
    world->written_count = 0;
    outputs_fail_state(world->outputs, world->now);
    settle(world); /* asserts that nothing is busy any more */
    ck_assert_uint_eq(world->written_count, 4);
    ck_assert(!outputs_confirmed(world->outputs));
    world_free(world);
}
END_TEST

START_TEST(test_settings_that_cannot_work_are_refused)
{
    struct output_settings same = a_coil(), powerless = a_charger(), words = a_topic("");
    same.kind = OUTPUT_REGISTER;
    powerless.watts_per_amp = 0;
    own_text(&words, "off_payload", "ON");
    const struct output_settings *const bad[] = {&same, &powerless, &words};
    const struct output_doors doors = world_doors(NULL);
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        struct trouble trouble = {.text = ""};
        ck_assert_ptr_null(outputs_new(bad[i], 1, JOB_BASE, &doors, &trouble));
        ck_assert_str_ne(trouble.text, "");
    }
}
END_TEST

/* No GPIO chip of this name exists on any machine; without libgpiod in the build
 * the message is another, but there is one. It must not keep the others from being
 * switched. */
START_TEST(test_missing_line_is_named_and_holds_up_no_other)
{
    enum { TURNS = 60 };
    struct output_settings line = {.kind = OUTPUT_LINE};
    own_text(&line, "chip", "no-such-chip");
    own_number(&line, "line", 7);
    const struct output_doors doors = world_doors(NULL);
    struct trouble trouble = {.text = ""};
    struct outputs *outputs = outputs_new(&line, 1, JOB_BASE, &doors, &trouble);
    ck_assert_ptr_nonnull(outputs);
    outputs_want(outputs, 0, 1000, 0, (struct mono){0});
    for (int64_t k = 0; k < TURNS; k++)
        outputs_turn(outputs, (struct mono){k * MS_PER_S});
    ck_assert_int_eq(outputs_confirmation(outputs, 0).health, OUTPUT_FAILED);
    const char *detail = outputs_detail(outputs, 0);
    ck_assert_msg(strstr(detail, "line 7 of no-such-chip") != NULL, "%s", detail);
    outputs_free(outputs);
}
END_TEST

int main(void)
{
    TCase *cases = tcase_create("output");
    tcase_add_test(cases, test_order_is_written_read_back_and_confirmed);
    tcase_add_test(cases, test_probe_tells_what_is_on_without_switching);
    tcase_add_test(cases, test_board_that_says_yes_and_does_not_is_unsafe_after_the_retries);
    tcase_add_test(cases, test_refusing_board_has_failed_after_the_retries_and_is_tried_on);
    tcase_add_test(cases, test_silent_board_has_failed_after_a_minute_and_is_tried_on);
    tcase_add_test(cases, test_settled_output_is_read_every_ten_seconds_and_rewritten_every_thirty);
    tcase_add_test(cases, test_output_that_cannot_be_read_is_confirmed_by_its_acknowledgement);
    tcase_add_test(cases, test_order_that_changes_while_an_answer_is_outstanding_goes_next);
    tcase_add_test(cases, test_answers_that_are_not_awaited_change_nothing);
    tcase_add_test(cases, test_answer_that_never_comes_does_not_hold_the_output_for_ever);
    tcase_add_test(cases, test_full_bus_is_tried_again);
    tcase_add_test(cases, test_stages_close_from_first_to_last_and_open_from_last_to_first);
    tcase_add_test(cases, test_staged_load_is_as_well_as_its_worst_contactor);
    tcase_add_test(cases, test_normally_closed_contact_opens_to_switch_on);
    tcase_add_test(cases, test_set_point_is_written_in_its_counts_and_confirmed_in_watts);
    tcase_add_test(cases, test_set_point_that_the_device_lowers_is_confirmed_as_read);
    tcase_add_test(cases, test_set_point_that_stays_higher_than_allowed_is_unsafe);
    tcase_add_test(cases, test_topic_without_a_report_is_confirmed_by_being_published);
    tcase_add_test(
        cases, test_topic_is_sent_when_the_broker_returns_and_has_failed_after_a_minute_without_it);
    tcase_add_test(cases, test_topic_with_a_report_waits_for_it);
    tcase_add_test(cases,
                   test_device_that_never_reports_has_failed_and_one_that_contradicts_is_unsafe);
    tcase_add_test(cases, test_retained_report_before_any_order_is_what_is_in_force);
    tcase_add_test(cases, test_fail_state_is_off_or_on_as_set_whatever_the_contact);
    tcase_add_test(cases, test_set_points_fail_to_nothing);
    tcase_add_test(cases, test_fail_state_at_a_dead_board_makes_its_first_tries_at_once);
    tcase_add_test(cases, test_settings_that_cannot_work_are_refused);
    tcase_add_test(cases, test_missing_line_is_named_and_holds_up_no_other);
    Suite *suite = suite_create("output");
    suite_add_tcase(suite, cases);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
