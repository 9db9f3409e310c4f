/* test_ledger.c - what is stored comes back, once, and never less. */
#include <stdio.h>
#include <string.h>

#include "rig.h"

START_TEST(test_what_was_stored_comes_back_after_a_restart)
{
    char text[LEDGER_TEXT_MAX];
    struct ledger *ledger = rig_open();
    ledger_counter(ledger, "heater/spare_mwh", INT64_C(123456789012));
    ledger_note(ledger, "load/heater", "on=1\nhand=0\n");
    rig_commit(ledger, 0);
    rig_assert_trouble(ledger, "");
    ledger_close(ledger);

    ledger = rig_open();
    ck_assert_int_eq(rig_counter("heater/spare_mwh"), INT64_C(123456789012));
    ck_assert(ledger_note_read(ledger, "load/heater", text));
    ck_assert_str_eq(text, "on=1\nhand=0\n");
    ck_assert_int_eq(rig_counter("heater/grid_mwh"), -1);
    ck_assert(!ledger_note_read(ledger, "load/pump", text));
    ledger_close(ledger);
}
END_TEST

START_TEST(test_the_last_save_names_its_moment_and_boot)
{
    struct wall wall;
    struct mono mono;
    char boot[40];
    struct ledger *ledger = rig_open();
    ck_assert(!ledger_last_save(ledger, &wall, &mono, boot));
    rig_commit(ledger, 1);
    rig_commit(ledger, 7);
    ledger_close(ledger);

    ledger = rig_open();
    ck_assert(ledger_last_save(ledger, &wall, &mono, boot));
    ck_assert_int_eq(wall.ms, rig_minute(7).wall.ms);
    ck_assert_int_eq(mono.ms, rig_minute(7).mono.ms);
    ck_assert_str_eq(boot, RIG_BOOT);
    ledger_close(ledger);
}
END_TEST

START_TEST(test_a_save_by_an_untrusted_clock_says_nothing_of_the_date)
{
    struct wall wall = {1};
    struct mono mono;
    char boot[40];
    struct moment at = rig_minute(3);
    struct ledger *ledger = rig_open();
    at.wall_trusted = false;
    ledger_commit(ledger, at);
    ledger_close(ledger);

    ledger = rig_open();
    ck_assert(ledger_last_save(ledger, &wall, &mono, boot));
    ck_assert_int_eq(wall.ms, 0);
    ck_assert_int_eq(mono.ms, at.mono.ms);
    ledger_close(ledger);
}
END_TEST

START_TEST(test_all_commits_are_on_disk_when_the_writer_is_idle)
{
    struct ledger *ledger = rig_open();
    ck_assert_uint_eq(ledger_posted(ledger), 0);
    for (int64_t minute = 0; minute < 5; minute++) {
        ledger_counter(ledger, "heater/on_ms", minute);
        rig_commit(ledger, minute);
        ck_assert_int_eq(rig_counter("heater/on_ms"), minute);
    }
    ck_assert_uint_eq(ledger_posted(ledger), 5);
    ck_assert_uint_eq(ledger_stored(ledger), 5);
    ck_assert_int_eq(rig_saved(), 4);
    ledger_close(ledger);
}
END_TEST

START_TEST(test_a_counter_that_would_fall_is_refused_and_reported)
{
    struct ledger *ledger = rig_open();
    ledger_counter(ledger, "heater/spare_mwh", 5000);
    ledger_counter(ledger, "heater/grid_mwh", 10);
    rig_commit(ledger, 0);
    rig_assert_trouble(ledger, "");

    ledger_counter(ledger, "heater/spare_mwh", 4000);
    ledger_counter(ledger, "heater/grid_mwh", 20);
    rig_commit(ledger, 1);
    rig_assert_trouble(ledger, "heater/spare_mwh");
    rig_assert_trouble(ledger, "5000");
    ck_assert_int_eq(rig_counter("heater/spare_mwh"), 5000);
    ck_assert_int_eq(rig_counter("heater/grid_mwh"), 20);
    ck_assert_int_eq(rig_saved(), 1);
    ledger_close(ledger);
}
END_TEST

START_TEST(test_a_counter_that_stays_the_same_is_no_trouble)
{
    struct ledger *ledger = rig_open();
    for (int64_t minute = 0; minute < 3; minute++) {
        ledger_counter(ledger, "heater/spare_mwh", 5000);
        rig_commit(ledger, minute);
    }
    rig_assert_trouble(ledger, "");
    ledger_close(ledger);
}
END_TEST

/* The daemon raises an alert for each new text of a trouble. */
START_TEST(test_a_counter_that_counts_wrongly_all_day_is_told_in_the_same_words)
{
    char first[LEDGER_EVENT_MAX], later[LEDGER_EVENT_MAX];
    struct ledger *ledger = rig_open();
    ledger_counter(ledger, "heater/spare_mwh", 5000);
    rig_commit(ledger, 0);
    ledger_counter(ledger, "heater/spare_mwh", 1);
    rig_commit(ledger, 1);
    ledger_trouble(ledger, first);
    ck_assert_str_ne(first, "");
    for (int64_t minute = 2; minute < 60; minute++) {
        ledger_counter(ledger, "heater/spare_mwh", minute);
        rig_commit(ledger, minute);
        ledger_trouble(ledger, later);
        ck_assert_str_eq(later, first);
    }
    ledger_close(ledger);
}
END_TEST

START_TEST(test_what_is_staged_twice_is_stored_once_with_its_last_value)
{
    char text[LEDGER_TEXT_MAX];
    struct ledger *ledger = rig_open();
    ledger_counter(ledger, "heater/starts", 1);
    ledger_note(ledger, "site", "today=1\n");
    ledger_counter(ledger, "heater/starts", 2);
    ledger_note(ledger, "site", "today=2\n");
    rig_commit(ledger, 0);
    ck_assert_int_eq(rig_ask("SELECT count(*) FROM counter"), 1);
    ck_assert_int_eq(rig_counter("heater/starts"), 2);
    ck_assert(ledger_note_read(ledger, "site", text));
    ck_assert_str_eq(text, "today=2\n");
    ledger_close(ledger);
}
END_TEST

START_TEST(test_texts_that_are_too_long_are_cut_and_not_refused)
{
    char long_text[3 * LEDGER_TEXT_MAX], text[LEDGER_TEXT_MAX];
    struct ledger *ledger = rig_open();
    memset(long_text, 'x', sizeof(long_text));
    long_text[sizeof(long_text) - 1] = '\0';
    ledger_note(ledger, "site", long_text);
    ledger_counter(ledger, long_text, 1);
    ledger_event(ledger, rig_minute(0), long_text, long_text);
    ledger_history(ledger, rig_minute(0), MS_PER_MIN, long_text, 1, 2, 3);
    rig_commit(ledger, 0);
    rig_assert_trouble(ledger, "");
    ck_assert(ledger_note_read(ledger, "site", text));
    ck_assert_uint_eq(strlen(text), LEDGER_TEXT_MAX - 1);
    ck_assert_int_eq(rig_ask("SELECT length(key) FROM counter"), LEDGER_KEY_MAX - 1);
    ck_assert_int_eq(rig_ask("SELECT length(text) FROM event"), LEDGER_EVENT_MAX - 1);
    ck_assert_int_eq(rig_ask("SELECT length(subject) FROM history"), LEDGER_KEY_MAX - 1);
    ledger_close(ledger);
}
END_TEST

START_TEST(test_events_and_history_without_end_are_counted_as_lost)
{
    enum { EVENTS = 700, ROWS = 2000 };
    struct ledger *ledger = rig_open();
    for (int k = 0; k < EVENTS; k++)
        ledger_event(ledger, rig_minute(k), "heater", "on");
    for (int k = 0; k < ROWS; k++)
        ledger_history(ledger, rig_minute(k), MS_PER_MIN, "heater", 1, 1, 1);
    rig_commit(ledger, ROWS);
    int64_t kept = rig_ask("SELECT count(*) FROM event WHERE subject = 'heater'") +
                   rig_ask("SELECT count(*) FROM history");
    int64_t lost = rig_ask("SELECT CAST(text AS INTEGER) FROM event WHERE subject = 'ledger'");
    ck_assert_int_gt(kept, 200);
    ck_assert_int_eq(kept + lost, EVENTS + ROWS);
    ledger_close(ledger);
}
END_TEST

/* The largest house: 32 loads with five counters each, three of the grid; for each load a
 * note of its own and three of what it has learnt, one of the site, one of the grid; a set
 * of history rows three times in a quarter of an hour. */
START_TEST(test_the_largest_house_fits_into_one_commit)
{
    enum { LOADS = 32, COUNTERS = 5 * LOADS + 3, NOTES = 4 * LOADS + 2, ROWS = 3 * (LOADS + 3) };
    char key[LEDGER_KEY_MAX];
    struct ledger *ledger = rig_open();
    for (int k = 0; k < COUNTERS; k++) {
        snprintf(key, sizeof(key), "counter-%d", k);
        ledger_counter(ledger, key, k);
    }
    for (int k = 0; k < NOTES; k++) {
        snprintf(key, sizeof(key), "note-%d", k);
        ledger_note(ledger, key, "on=1\n");
    }
    for (int k = 0; k < ROWS; k++) {
        snprintf(key, sizeof(key), "load-%d", k);
        ledger_history(ledger, rig_minute(0), MS_PER_MIN, key, k, k, k);
    }
    rig_commit(ledger, 0);
    ck_assert_int_eq(rig_ask("SELECT count(*) FROM counter"), COUNTERS);
    ck_assert_int_eq(rig_ask("SELECT count(*) FROM note WHERE key <> 'ledger/clock'"), NOTES);
    ck_assert_int_eq(rig_ask("SELECT count(*) FROM history"), ROWS);
    ck_assert_int_eq(rig_ask("SELECT count(*) FROM event"), 0);
    ledger_close(ledger);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_what_was_stored_comes_back_after_a_restart,
        test_the_last_save_names_its_moment_and_boot,
        test_a_save_by_an_untrusted_clock_says_nothing_of_the_date,
        test_all_commits_are_on_disk_when_the_writer_is_idle,
        test_a_counter_that_would_fall_is_refused_and_reported,
        test_a_counter_that_stays_the_same_is_no_trouble,
        test_a_counter_that_counts_wrongly_all_day_is_told_in_the_same_words,
        test_what_is_staged_twice_is_stored_once_with_its_last_value,
        test_texts_that_are_too_long_are_cut_and_not_refused,
        test_events_and_history_without_end_are_counted_as_lost,
        test_the_largest_house_fits_into_one_commit,
    };
    return rig_run("ledger", tests, COUNT_OF(tests));
}
