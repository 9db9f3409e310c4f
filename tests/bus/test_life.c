/* test_life.c - lines that are gone, busy, unreachable or come back, units that
 * stay silent, and the worker's beginning and end. */
#include "bus/rig.h"

#include <check.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <unistd.h>

static enum bus_outcome outcome_of(struct rig *rig, struct bus_job job)
{
    return rig_ask(rig, job).outcome;
}

static void pass(struct rig *rig, int64_t ms)
{
    rig->now = mono_after(rig->now, ms);
}

/* A pulled USB adapter, or a gateway that is switched off: down at once, without
 * a wait for an answer; tried again with backoff; found again by its name. */
START_TEST(test_line_that_vanishes_is_reopened_by_name_when_it_returns)
{
    struct rig rig = rig_start("peer_rogue.py", _i ? "tcp" : "pty");
    ck_assert_int_eq(outcome_of(&rig, rig_holding(5, 1)), BUS_OK);
    peer_order(&rig.peer, "vanish");
    struct bus_answer down = rig_ask(&rig, rig_holding(5, 1));
    ck_assert_int_eq(down.outcome, BUS_DOWN);
    ck_assert_int_eq(down.took_us, 0); /* nothing was sent */
    ck_assert_str_ne(down.detail, "");
    peer_order(&rig.peer, "return");
    ck_assert_int_eq(outcome_of(&rig, rig_holding(5, 1)), BUS_DOWN); /* too early: backoff */
    pass(&rig, 1000);
    struct bus_answer back = rig_ask(&rig, rig_holding(6, 1));
    ck_assert_msg(back.outcome == BUS_OK, "%s", back.detail);
    ck_assert_uint_eq(back.value[0], 6);
    rig_stop(&rig);
}
END_TEST

/* However long it was away, it is found within two seconds of its return. */
START_TEST(test_absent_line_is_tried_each_two_seconds_of_the_jobs_time)
{
    struct rig rig = rig_start("peer_rogue.py", "pty");
    peer_order(&rig.peer, "vanish");
    int opened = 0;
    for (int second = 0; second < 60; second++) { /* tried at 0 1 3 5 7 ... 59 s */
        struct bus_answer answer = rig_ask(&rig, rig_holding(5, 1));
        ck_assert_int_eq(answer.outcome, BUS_DOWN);
        opened += strstr(answer.detail, "no such device") != NULL;
        pass(&rig, 1000);
    }
    ck_assert_int_eq(opened, 31);
    peer_order(&rig.peer, "return");
    pass(&rig, 1000);
    ck_assert_int_eq(outcome_of(&rig, rig_holding(5, 1)), BUS_OK);
    rig_stop(&rig);
}
END_TEST

/* A gateway closes connections that were idle; that is no failure. */
START_TEST(test_connection_closed_while_idle_is_reopened_within_the_job)
{
    struct rig rig = rig_start("peer_rogue.py", "tcp");
    ck_assert_int_eq(outcome_of(&rig, rig_holding(5, 1)), BUS_OK);
    peer_order(&rig.peer, "vanish");
    peer_order(&rig.peer, "return");
    struct bus_answer answer = rig_ask(&rig, rig_holding(5, 1));
    ck_assert_msg(answer.outcome == BUS_OK, "%s", answer.detail);
    rig_stop(&rig);
}
END_TEST

START_TEST(test_peer_that_always_hangs_up_is_called_at_a_bounded_pace)
{
    struct rig rig = rig_start("peer_rogue.py", "tcp");
    peer_order(&rig.peer, "behave close");
    int called = 0;
    for (int second = 0; second < 20; second++) { /* called at 0 1 3 5 7 ... 19 s */
        struct bus_answer answer = rig_ask(&rig, rig_holding(5, 1));
        ck_assert_int_eq(answer.outcome, BUS_DOWN);
        called += answer.took_us > 0;
        pass(&rig, 1000);
    }
    ck_assert_int_eq(called, 11);
    rig_stop(&rig);
}
END_TEST

/* Its silence stays its own: the neighbour on the line is read all the while. */
START_TEST(test_silent_unit_backs_off_and_its_first_answer_ends_that)
{
    struct rig rig = rig_start("peer_rogue.py", "pty");
    struct bus_job neighbour = rig_holding(5, 1);
    neighbour.unit = RIG_UNIT + 1;
    peer_order(&rig.peer, "behave silent silent silent good silent good");
    for (int i = 0; i < 3; i++) {
        ck_assert_int_eq(outcome_of(&rig, rig_holding(5, 1)), BUS_TIMEOUT);
        pass(&rig, 1000);
    }
    struct bus_answer resting = rig_ask(&rig, rig_holding(5, 1));
    ck_assert_int_eq(resting.outcome, BUS_BACKING_OFF);
    ck_assert_int_eq(resting.took_us, 0);
    ck_assert_int_eq(outcome_of(&rig, neighbour), BUS_OK); /* the line lives: once more */
    ck_assert_int_eq(outcome_of(&rig, rig_holding(5, 1)), BUS_TIMEOUT);
    ck_assert_int_eq(outcome_of(&rig, neighbour), BUS_OK);
    ck_assert_int_eq(outcome_of(&rig, rig_holding(5, 1)), BUS_BACKING_OFF);
    pass(&rig, 20 * RIG_ANSWER_MS + 1000); /* ten times a silence: answer time and waiting out */
    ck_assert_int_eq(outcome_of(&rig, rig_holding(5, 1)), BUS_OK);
    ck_assert_int_eq(outcome_of(&rig, rig_holding(5, 1)), BUS_OK);
    rig_stop(&rig);
}
END_TEST

/* Application Protocol V1.1b3, section 7: 0B is a gateway's word for silence. */
START_TEST(test_unit_silent_behind_a_gateway_backs_off_too)
{
    struct rig rig = rig_start("peer_rogue.py", "tcp");
    peer_order(&rig.peer, "behave exception:11");
    for (int i = 0; i < 3; i++) {
        ck_assert_int_eq(outcome_of(&rig, rig_holding(5, 1)), BUS_EXCEPTION);
    }
    ck_assert_int_eq(outcome_of(&rig, rig_holding(5, 1)), BUS_BACKING_OFF);
    rig_stop(&rig);
}
END_TEST

/* The bus's time is what is to be saved, and an answer at once takes next to none: ten
 * answer times are too few after silences, and enough for any answer within one. */
START_TEST(test_exception_at_once_is_not_charged_like_a_silence)
{
    struct rig rig = rig_start("peer_rogue.py", "tcp");
    peer_order(&rig.peer, "behave exception:11 exception:11 exception:11 good");
    for (int i = 0; i < 3; i++) {
        ck_assert_int_eq(outcome_of(&rig, rig_holding(5, 1)), BUS_EXCEPTION);
    }
    pass(&rig, 10 * RIG_ANSWER_MS);
    ck_assert_int_eq(outcome_of(&rig, rig_holding(5, 1)), BUS_OK);
    rig_stop(&rig);
}
END_TEST

/* A meter is asked at every poll while its last answer is fresh, and never rests for
 * longer than its limit. */
START_TEST(test_meter_with_a_pace_is_asked_on_while_its_last_answer_is_fresh)
{
    struct rig rig = rig_start("peer_rogue.py", "tcp");
    bus_limit_rests(rig.bus, RIG_UNIT, 10000, 2000);
    ck_assert_int_eq(outcome_of(&rig, rig_holding(5, 1)), BUS_OK);
    peer_order(&rig.peer, "behave silent silent silent silent silent good");
    for (int i = 0; i < 5; i++) {
        pass(&rig, i < 4 ? 1000 : 6000); /* 1 2 3 4 10 s */
        ck_assert_int_eq(outcome_of(&rig, rig_holding(5, 1)), BUS_TIMEOUT);
    }
    pass(&rig, 1000);
    ck_assert_int_eq(outcome_of(&rig, rig_holding(5, 1)), BUS_BACKING_OFF);
    pass(&rig, 2000); /* 700 ms of silence, 2 s of rest */
    ck_assert_int_eq(outcome_of(&rig, rig_holding(5, 1)), BUS_OK);
    rig_stop(&rig);
}
END_TEST

/* All were silent on a cable that was cut: the first that is heard ends the others' rest. */
START_TEST(test_line_that_comes_back_ends_the_rest_of_all_its_units)
{
    struct rig rig = rig_start("peer_rogue.py", "tcp");
    struct bus_job neighbour = rig_holding(5, 1);
    neighbour.unit = RIG_UNIT + 1;
    peer_order(&rig.peer, "behave silent");
    for (int i = 0; i < 3; i++) {
        ck_assert_int_eq(outcome_of(&rig, rig_holding(5, 1)), BUS_TIMEOUT);
    }
    peer_order(&rig.peer, "behave good");
    ck_assert_int_eq(outcome_of(&rig, rig_holding(5, 1)), BUS_BACKING_OFF);
    ck_assert_int_eq(outcome_of(&rig, neighbour), BUS_OK);
    ck_assert_int_eq(outcome_of(&rig, rig_holding(5, 1)), BUS_OK);
    rig_stop(&rig);
}
END_TEST

START_TEST(test_port_in_use_by_another_program_is_left_alone)
{
    struct rig rig = rig_start("peer_rogue.py", "pty");
    int other = open(rig.peer.name, O_RDWR | O_NOCTTY);
    ck_assert_int_ge(other, 0);
    ck_assert_int_eq(flock(other, LOCK_EX | LOCK_NB), 0);
    struct bus_answer answer = rig_ask(&rig, rig_holding(5, 1));
    ck_assert_int_eq(answer.outcome, BUS_DOWN);
    ck_assert_msg(strstr(answer.detail, "in use by another program"), "%s", answer.detail);
    close(other);
    pass(&rig, 1000);
    ck_assert_int_eq(outcome_of(&rig, rig_holding(5, 1)), BUS_OK);
    other = open(rig.peer.name, O_RDWR | O_NOCTTY); /* and ours is ours alone */
    ck_assert(other < 0 || flock(other, LOCK_EX | LOCK_NB) != 0);
    if (other >= 0) {
        close(other);
    }
    rig_stop(&rig);
}
END_TEST

START_TEST(test_unreachable_host_is_down_with_a_reason)
{
    struct trouble trouble;
    struct rig rig = {.now = {1000}};
    struct bus_settings settings = rig_settings("tcp", "1"); /* tcpmux: nobody listens */
    rig.answers = mailbox_new(8, sizeof(struct bus_answer));
    rig.bus = bus_new(&settings, rig.answers, &trouble);
    struct bus_answer answer = rig_ask(&rig, rig_holding(5, 1));
    ck_assert_int_eq(answer.outcome, BUS_DOWN);
    ck_assert_str_eq(answer.detail, "127.0.0.1 port 1: Connection refused");
    bus_free(rig.bus);
    mailbox_free(rig.answers);
}
END_TEST

START_TEST(test_settings_that_no_port_has_are_refused)
{
    struct trouble trouble;
    struct mailbox *answers = mailbox_new(8, sizeof(struct bus_answer));
    struct bus_settings settings = rig_settings("pty", "/dev/null");
    settings.baud = 9601;
    ck_assert_ptr_null(bus_new(&settings, answers, &trouble));
    ck_assert_msg(strstr(trouble.text, "9601 baud"), "%s", trouble.text);
    mailbox_free(answers);
}
END_TEST

/* A file that is no terminal must not be taken for one. */
START_TEST(test_file_that_is_no_serial_port_is_down)
{
    struct trouble trouble;
    struct rig rig = {.now = {1000}};
    struct bus_settings settings = rig_settings("pty", "/dev/null");
    rig.answers = mailbox_new(8, sizeof(struct bus_answer));
    rig.bus = bus_new(&settings, rig.answers, &trouble);
    struct bus_answer answer = rig_ask(&rig, rig_holding(5, 1));
    ck_assert_int_eq(answer.outcome, BUS_DOWN);
    ck_assert_msg(strstr(answer.detail, "not a serial port"), "%s", answer.detail);
    bus_free(rig.bus);
    mailbox_free(rig.answers);
}
END_TEST

START_TEST(test_jobs_that_make_no_sense_are_not_queued)
{
    struct rig rig = rig_start("peer_rogue.py", "tcp");
    struct bus_job none = rig_holding(5, 0), many = rig_holding(5, BUS_VALUES_MAX + 1);
    struct bus_job meter = {.kind = BUS_READ_METER, .meter = 0};
    ck_assert(!bus_post(rig.bus, &none));
    ck_assert(!bus_post(rig.bus, &many));
    ck_assert(!bus_post(rig.bus, &meter));
    for (int i = 0; i < BUS_METERS_MAX; i++) {
        ck_assert_uint_eq(bus_add_meter(rig.bus, 1, rig_map(), SUNSPEC_EITHER), (unsigned)i);
    }
    ck_assert_uint_eq(bus_add_meter(rig.bus, 1, rig_map(), SUNSPEC_EITHER), BUS_NO_METER);
    rig_stop(&rig);
}
END_TEST

START_TEST(test_every_queued_job_is_done_and_answered_before_the_end)
{
    enum { JOBS = 20 };
    struct rig rig = rig_start("peer_rogue.py", "tcp");
    for (uint32_t i = 0; i < JOBS; i++) {
        struct bus_job job = rig_holding((uint16_t)(50 + i), 1);
        job.id = i;
        ck_assert(bus_post(rig.bus, &job));
    }
    bus_free(rig.bus);
    rig.bus = NULL;
    for (uint32_t i = 0; i < JOBS; i++) {
        struct bus_answer answer;
        ck_assert(mailbox_take(rig.answers, &answer));
        ck_assert_uint_eq(answer.id, i);
        ck_assert_uint_eq(answer.value[0], 50 + i);
    }
    rig_stop(&rig);
}
END_TEST

START_TEST(test_progress_rises_with_every_job_even_where_nothing_answers)
{
    struct rig rig = rig_start("peer_rogue.py", "pty");
    ck_assert_uint_eq(bus_progress(rig.bus), 0);
    peer_order(&rig.peer, "vanish");
    rig_ask(&rig, rig_holding(5, 1));
    rig_ask(&rig, rig_holding(5, 1));
    ck_assert_uint_eq(bus_progress(rig.bus), 2);
    rig_stop(&rig);
}
END_TEST

int main(void)
{
    TCase *cases = tcase_create("life");
    tcase_set_timeout(cases, 120);
    tcase_add_loop_test(cases, test_line_that_vanishes_is_reopened_by_name_when_it_returns, 0, 2);
    tcase_add_test(cases, test_absent_line_is_tried_each_two_seconds_of_the_jobs_time);
    tcase_add_test(cases, test_connection_closed_while_idle_is_reopened_within_the_job);
    tcase_add_test(cases, test_peer_that_always_hangs_up_is_called_at_a_bounded_pace);
    tcase_add_test(cases, test_silent_unit_backs_off_and_its_first_answer_ends_that);
    tcase_add_test(cases, test_unit_silent_behind_a_gateway_backs_off_too);
    tcase_add_test(cases, test_exception_at_once_is_not_charged_like_a_silence);
    tcase_add_test(cases, test_meter_with_a_pace_is_asked_on_while_its_last_answer_is_fresh);
    tcase_add_test(cases, test_line_that_comes_back_ends_the_rest_of_all_its_units);
    tcase_add_test(cases, test_port_in_use_by_another_program_is_left_alone);
    tcase_add_test(cases, test_unreachable_host_is_down_with_a_reason);
    tcase_add_test(cases, test_settings_that_no_port_has_are_refused);
    tcase_add_test(cases, test_file_that_is_no_serial_port_is_down);
    tcase_add_test(cases, test_jobs_that_make_no_sense_are_not_queued);
    tcase_add_test(cases, test_every_queued_job_is_done_and_answered_before_the_end);
    tcase_add_test(cases, test_progress_rises_with_every_job_even_where_nothing_answers);
    Suite *suite = suite_create("life");
    suite_add_tcase(suite, cases);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
