/* test_recovery.c - trouble with a board or a broker lasts as long as it lasts: what
 * was well goes on, what was never sent is no failure, the first answer ends it, and
 * what somebody else has switched is told. */
#include "output/world.h"

#include <check.h>
#include <stdlib.h>
#include <string.h>

static void pass_seconds(struct world *world, int seconds)
{
    for (int s = 0; s < seconds; s++) {
        pass(world, 1000);
    }
}

static size_t closings(const struct world *world)
{
    size_t count = 0;
    for (size_t i = 0; i < world->written_count && i < POSTED_MAX; i++) {
        count += world->written[i].value[0] != 0;
    }
    return count;
}

/* Whatever the moment in the rhythm of read-backs and rewrites at which it begins. */
START_TEST(test_run_outlives_a_board_that_is_silent_for_twelve_seconds)
{
    static const enum manner manners[] = {SILENT, RESTING, REFUSES};
    for (int variant = 0; variant < 3 * 40; variant++) {
        struct world *world = world_new(a_coil());
        want(world, 3600, 1);
        pass_seconds(world, variant / 3);
        world->manner = manners[variant % 3];
        for (int s = 0; s < 12; s++) {
            pass(world, 1000);
            enum output_health health = outputs_confirmation(world->outputs, 0).health;
            ck_assert(health == OUTPUT_CONFIRMED || health == OUTPUT_UNCONFIRMED);
        }
        assert_state(world, OUTPUT_UNCONFIRMED, 3600);
        world->manner = OBEYS;
        pass(world, 1000);
        assert_state(world, OUTPUT_CONFIRMED, 3600);
        ck_assert_str_eq(outputs_detail(world->outputs, 0), "");
        world_free(world);
    }
}
END_TEST

START_TEST(test_orders_that_the_bus_never_sent_are_no_failed_tries)
{
    struct world *world = world_new(a_coil());
    world->manner = RESTING;
    want(world, 3600, 1);
    pass_seconds(world, 30);
    assert_state(world, OUTPUT_PENDING, 0);
    ck_assert_uint_eq(world->written_count, 0);
    world->manner = OBEYS;
    pass(world, 1000);
    assert_state(world, OUTPUT_CONFIRMED, 3600);
    world_free(world);
}
END_TEST

START_TEST(test_first_answer_ends_a_long_silence)
{
    struct world *world = world_new(a_coil());
    want(world, 3600, 1);
    world->manner = SILENT;
    pass_seconds(world, 600);
    assert_state(world, OUTPUT_FAILED, 3600);
    want(world, 0, 0);
    pass_seconds(world, 60);
    assert_state(world, OUTPUT_FAILED, 3600);
    world->manner = OBEYS;
    pass(world, 1000);
    assert_state(world, OUTPUT_CONFIRMED, 0);
    ck_assert_uint_eq(world->value[2], 0);
    world_free(world);
}
END_TEST

/* The board came back from a reset: closing the contactor again is the rules' to decide. */
START_TEST(test_contactor_found_open_is_told_and_stays_open_until_the_next_order)
{
    for (int silent = 0; silent < 2; silent++) {
        struct world *world = world_new(a_coil());
        want(world, 3600, 1);
        if (silent) {
            world->manner = SILENT;
            pass_seconds(world, 12);
            world->manner = OBEYS;
        } else {
            pass_seconds(world, 29); /* the next to be due is a rewrite: it must not close it */
        }
        world->value[2] = 0;
        size_t before = world->written_count;
        ck_assert(pass(world, 1000));
        assert_state(world, OUTPUT_CONFIRMED, 0);
        ck_assert_str_eq(
            outputs_detail(world->outputs, 0),
            "coil 2 of unit 5 on relays was switched off by something else, or by a reset");
        ck_assert_uint_eq(world->written_count, before);
        want(world, 3600, 1); /* the same order as before, but it is one */
        assert_state(world, OUTPUT_CONFIRMED, 3600);
        ck_assert_uint_eq(world->value[2], 1);
        world_free(world);
    }
}
END_TEST

START_TEST(test_contactor_found_closed_is_told_and_opened_by_the_next_order)
{
    struct world *world = world_new(a_coil());
    want(world, 0, 0);
    world->value[2] = 1;
    pass_seconds(world, 10);
    assert_state(world, OUTPUT_CONFIRMED, 1);
    ck_assert_str_eq(outputs_detail(world->outputs, 0),
                     "coil 2 of unit 5 on relays was switched on by something else, or by a reset");
    want(world, 0, 0);
    assert_state(world, OUTPUT_CONFIRMED, 0);
    ck_assert_uint_eq(world->value[2], 0);
    world_free(world);
}
END_TEST

START_TEST(test_plug_switched_at_its_own_button_is_told_and_obeys_the_next_order)
{
    struct world *world = world_new(a_topic("plug/state"));
    want(world, 1000, 1);
    report(world, "ON");
    ck_assert(report(world, "OFF"));
    assert_state(world, OUTPUT_CONFIRMED, 0);
    ck_assert_uint_eq(world->published, 1);
    ck_assert_str_eq(outputs_detail(world->outputs, 0),
                     "topic plug/set was switched off by something else, or by a reset");
    want(world, 1000, 1);
    ck_assert_uint_eq(world->published, 2);
    report(world, "ON");
    assert_state(world, OUTPUT_CONFIRMED, 1000);
    world_free(world);
}
END_TEST

/* As the rules do it, with a minimum off of 5 s: off while it is unsafe or failed, on
 * again once it has been confirmed off for so long. */
struct rules_alike {
    int off_s;
    bool on;
};

static void decide_alike(struct world *world, struct rules_alike *rules)
{
    enum { MINIMUM_OFF_S = 5 };
    struct confirmation said = outputs_confirmation(world->outputs, 0);
    bool confirmed_off = said.health == OUTPUT_CONFIRMED && said.level_w == 0;
    rules->off_s = confirmed_off && !rules->on ? rules->off_s + 1 : 0;
    if (said.health == OUTPUT_UNSAFE || said.health == OUTPUT_FAILED || confirmed_off) {
        rules->on = false;
    }
    if (rules->off_s > MINIMUM_OFF_S) {
        rules->on = true;
    }
    want(world, rules->on ? 3600 : 0, rules->on);
}

/* How often its contactor closes within so many seconds. */
static int play_alike(struct world *world, struct rules_alike *rules, int seconds)
{
    int count = 0;
    for (int s = 0; s < seconds; s++) {
        uint16_t before = world->value[2];
        pass(world, 1000);
        decide_alike(world, rules);
        count += before == 0 && world->value[2] != 0;
    }
    return count;
}

/* Three times, then after 5, 10, 20, 40 and each 60 min. */
START_TEST(test_board_that_lies_on_and_on_is_locked_out_and_has_a_chance_each_hour)
{
    enum { HOUR_S = 3600 };
    struct world *world = world_new(a_coil());
    struct rules_alike rules = {.off_s = 0};
    world->manner = READS_OFF;
    want(world, 0, 0);
    ck_assert_int_eq(play_alike(world, &rules, 120), 3);
    assert_state(world, OUTPUT_UNSAFE, 0);
    ck_assert_str_eq(outputs_detail(world->outputs, 0),
                     "coil 2 of unit 5 on relays reads off after different orders, again and "
                     "again: locked out for 5 min, then tried again");
    ck_assert_int_eq(play_alike(world, &rules, 90 * 60), 4);
    ck_assert_int_eq(play_alike(world, &rules, 10 * HOUR_S), 10);
    world->manner = OBEYS;
    ck_assert_int_eq(play_alike(world, &rules, HOUR_S + 60), 1);
    assert_state(world, OUTPUT_CONFIRMED, 3600);
    ck_assert_str_eq(outputs_detail(world->outputs, 0), "");
    world_free(world);
}
END_TEST

START_TEST(test_lies_are_past_once_an_order_has_stood_for_ten_minutes)
{
    struct world *world = world_new(a_coil());
    struct rules_alike rules = {.off_s = 0};
    world->manner = READS_OFF;
    want(world, 0, 0);
    play_alike(world, &rules, 120);
    world->manner = OBEYS;
    play_alike(world, &rules, 300 + 605);
    assert_state(world, OUTPUT_CONFIRMED, 3600);
    world->value[2] = 0; /* another hand: one lie, not the fourth */
    play_alike(world, &rules, 30);
    assert_state(world, OUTPUT_CONFIRMED, 3600);
    world_free(world);
}
END_TEST

/* Says on after the write, off at the next look, and so on. */
START_TEST(test_board_that_changes_its_mind_after_each_start_is_locked_out_too)
{
    struct world *world = world_new(a_coil());
    struct rules_alike rules = {.off_s = 0};
    want(world, 0, 0);
    int count = 0;
    for (int s = 0; s < 600; s++) {
        count += play_alike(world, &rules, 1);
        if (s % 10 == 9) {
            world->value[2] = 0;
        }
    }
    ck_assert_int_le(count, 5);
    world_free(world);
}
END_TEST

START_TEST(test_what_is_not_read_since_the_last_order_is_unknown)
{
    struct world *world = world_new(a_coil());
    struct output_view view = outputs_view(world->outputs, 0);
    ck_assert_int_eq(view.state, OUTPUT_IS_UNKNOWN);
    ck_assert(!view.has_been_heard);
    want(world, 3600, 1);
    view = outputs_view(world->outputs, 0);
    ck_assert_int_eq(view.state, OUTPUT_IS_ON);
    ck_assert_int_eq(view.heard.ms, world->now.ms);
    int64_t heard_ms = world->now.ms;
    world->manner = SILENT;
    want(world, 0, 0);
    pass_seconds(world, 100);
    view = outputs_view(world->outputs, 0);
    ck_assert_int_eq(view.state, OUTPUT_IS_UNKNOWN); /* not "off", as it was ordered */
    ck_assert(view.has_been_heard);
    ck_assert_int_eq(view.heard.ms, heard_ms);
    world->manner = OBEYS;
    pass(world, 1000);
    ck_assert_int_eq(outputs_view(world->outputs, 0).state, OUTPUT_IS_OFF);
    world->manner = LIES;
    want(world, 3600, 1);
    pass_seconds(world, 5);
    ck_assert_int_eq(outputs_view(world->outputs, 0).state, OUTPUT_IS_UNKNOWN);
    world_free(world);
}
END_TEST

/* New settings, the same wiring: no contactor moves, and nothing is asked anew. */
START_TEST(test_outputs_that_are_replaced_keep_what_is_known_and_wanted)
{
    struct trouble trouble;
    struct output_settings settings = a_coil();
    struct world *world = world_new(settings);
    want(world, 3600, 1);
    pass_seconds(world, 9);
    world->now = mono_after(world->now, 1000);
    outputs_turn(world->outputs, world->now);
    ck_assert_uint_eq(world->posted_count, 1);
    world->posted_count = 0; /* the old bus goes with a read-back in it */
    const struct output_doors doors = world_doors(world);
    struct outputs *after = outputs_new(&settings, 1, JOB_BASE, &doors, &trouble);
    outputs_take_over(after, 0, world->outputs, 0, world->now);
    outputs_free(world->outputs);
    world->outputs = after;
    assert_state(world, OUTPUT_CONFIRMED, 3600);
    ck_assert(!want(world, 3600, 1));
    ck_assert_uint_eq(world->written_count, 1);
    assert_state(world, OUTPUT_CONFIRMED, 3600);
    world_free(world);
}
END_TEST

START_TEST(test_jobs_that_go_with_their_bus_are_posted_again_at_once)
{
    struct world *world = world_new(a_coil());
    outputs_want(world->outputs, 0, 3600, 1, world->now);
    outputs_turn(world->outputs, world->now);
    ck_assert_uint_eq(world->posted_count, 1);
    world->posted_count = 0;
    outputs_rewired(world->outputs, world->now);
    settle(world);
    assert_state(world, OUTPUT_CONFIRMED, 3600);
    outputs_rewired(world->outputs, world->now); /* who knows where the new line leads */
    assert_state(world, OUTPUT_UNCONFIRMED, 3600);
    settle(world);
    assert_state(world, OUTPUT_CONFIRMED, 3600);
    ck_assert_uint_eq(world->written_count, 1);
    world_free(world);
}
END_TEST

/* Each try that is in vain takes its time: a quarter of a second here. */
START_TEST(test_fail_state_is_tried_until_the_board_answers)
{
    static const enum manner manners[] = {SILENT, RESTING, REFUSES, LIES};
    for (int variant = 0; variant < 4; variant++) {
        struct world *world = world_new(a_coil());
        want(world, 3600, 1);
        world->manner = manners[variant];
        outputs_fail_state(world->outputs, world->now);
        settle(world);
        for (int turn = 0; turn < 80; turn++) {
            pass(world, 250);
            ck_assert(!outputs_confirmed(world->outputs));
            ck_assert_int_le(outputs_next(world->outputs).ms, world->now.ms + 250);
        }
        world->manner = OBEYS;
        pass(world, 250);
        ck_assert(outputs_confirmed(world->outputs));
        ck_assert_uint_eq(world->value[2], 0);
        world_free(world);
    }
}
END_TEST

START_TEST(test_fail_state_is_published_once_the_broker_is_there)
{
    struct world *world = world_new(a_topic(""));
    world->broker = false;
    outputs_fail_state(world->outputs, world->now);
    for (int turn = 0; turn < 40; turn++) {
        pass(world, 250);
    }
    ck_assert(!outputs_confirmed(world->outputs));
    world->broker = true;
    pass(world, 250);
    ck_assert(outputs_confirmed(world->outputs));
    ck_assert_str_eq(world->payload, "OFF");
    world_free(world);
}
END_TEST

/* The end is no time to leave a contactor alone because it lied before. */
START_TEST(test_fail_state_is_confirmed_in_a_lock_out_too)
{
    struct world *world = world_new(a_coil());
    struct rules_alike rules = {.off_s = 0};
    world->manner = READS_OFF;
    want(world, 0, 0);
    play_alike(world, &rules, 120);
    ck_assert_uint_gt(closings(world), 0);
    assert_state(world, OUTPUT_UNSAFE, 0);
    outputs_fail_state(world->outputs, world->now);
    settle(world);
    ck_assert(outputs_confirmed(world->outputs));
    world_free(world);
}
END_TEST

int main(void)
{
    TCase *cases = tcase_create("recovery");
    tcase_add_test(cases, test_run_outlives_a_board_that_is_silent_for_twelve_seconds);
    tcase_add_test(cases, test_orders_that_the_bus_never_sent_are_no_failed_tries);
    tcase_add_test(cases, test_first_answer_ends_a_long_silence);
    tcase_add_test(cases, test_contactor_found_open_is_told_and_stays_open_until_the_next_order);
    tcase_add_test(cases, test_contactor_found_closed_is_told_and_opened_by_the_next_order);
    tcase_add_test(cases, test_plug_switched_at_its_own_button_is_told_and_obeys_the_next_order);
    tcase_add_test(cases, test_board_that_lies_on_and_on_is_locked_out_and_has_a_chance_each_hour);
    tcase_add_test(cases, test_lies_are_past_once_an_order_has_stood_for_ten_minutes);
    tcase_add_test(cases, test_board_that_changes_its_mind_after_each_start_is_locked_out_too);
    tcase_add_test(cases, test_what_is_not_read_since_the_last_order_is_unknown);
    tcase_add_test(cases, test_outputs_that_are_replaced_keep_what_is_known_and_wanted);
    tcase_add_test(cases, test_jobs_that_go_with_their_bus_are_posted_again_at_once);
    tcase_add_test(cases, test_fail_state_is_tried_until_the_board_answers);
    tcase_add_test(cases, test_fail_state_is_published_once_the_broker_is_there);
    tcase_add_test(cases, test_fail_state_is_confirmed_in_a_lock_out_too);
    Suite *suite = suite_create("recovery");
    suite_add_tcase(suite, cases);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
