/* test_history.c - reading what somebody else is writing. */
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>

#include "ledger/history.h"
#include "rig.h"

enum { SEEN_MAX = 4000 };

/* What a reading brought, in its order. */
struct seen {
    size_t count, most; /* most: where to end early, 0: not at all */
    struct history_row rows[SEEN_MAX];
    struct history_event events[SEEN_MAX];
};

static struct seen seen;

static bool see_row(void *context, const struct history_row *row)
{
    struct seen *to = context;
    ck_assert_uint_lt(to->count, SEEN_MAX);
    to->rows[to->count++] = *row;
    return to->count != to->most;
}

static bool see_event(void *context, const struct history_event *event)
{
    struct seen *to = context;
    ck_assert_uint_lt(to->count, SEEN_MAX);
    to->events[to->count++] = *event;
    return to->count != to->most;
}

static struct history *open_history(void)
{
    struct trouble trouble = {.text = ""};
    struct history *history = history_open(rig_path("ledger.db"), &trouble);
    ck_assert_msg(history != NULL, "%s", trouble.text);
    return history;
}

static size_t read_rows(struct history *history, int64_t from, int64_t to)
{
    struct trouble trouble = {.text = ""};
    seen.count = 0;
    ck_assert_msg(
        history_rows(history, rig_minute(from).wall, rig_minute(to).wall, see_row, &seen, &trouble),
        "%s", trouble.text);
    return seen.count;
}

static size_t read_events(struct history *history, int64_t from, int64_t to)
{
    struct trouble trouble = {.text = ""};
    seen.count = 0;
    ck_assert_msg(history_events(history, rig_minute(from).wall, rig_minute(to).wall, see_event,
                                 &seen, &trouble),
                  "%s", trouble.text);
    return seen.count;
}

/* A row and an event for each minute up to `last`. */
static void stage_minutes(struct ledger *ledger, int64_t from, int64_t last)
{
    char text[64];
    for (int64_t minute = from; minute <= last; minute++) {
        snprintf(text, sizeof(text), "minute %d", (int)minute);
        ledger_history(ledger, rig_minute(minute), MS_PER_MIN, "heater", minute, 2 * minute, 3);
        ledger_event(ledger, rig_minute(minute), "heater", text);
        if (minute % 50 == 0)
            rig_commit(ledger, minute);
    }
    rig_commit(ledger, last);
}

START_TEST(test_rows_come_whole_and_by_time)
{
    struct ledger *ledger = rig_open();
    ledger_history(ledger, rig_minute(10), 5 * MS_PER_MIN, "solar", INT64_C(123456789), 0, 0);
    ledger_history(ledger, rig_minute(5), 5 * MS_PER_MIN, "heater", 70000, 11, 240000);
    rig_commit(ledger, 10);
    struct history *history = open_history();
    ck_assert_uint_eq(read_rows(history, 0, 60), 2);
    ck_assert_str_eq(seen.rows[0].subject, "heater");
    ck_assert_int_eq(seen.rows[0].from.ms, rig_minute(0).wall.ms);
    ck_assert_int_eq(seen.rows[0].to.ms, rig_minute(5).wall.ms);
    ck_assert_int_eq(seen.rows[0].spare_mwh, 70000);
    ck_assert_int_eq(seen.rows[0].grid_mwh, 11);
    ck_assert_int_eq(seen.rows[0].on_ms, 240000);
    ck_assert_str_eq(seen.rows[1].subject, "solar");
    ck_assert_int_eq(seen.rows[1].spare_mwh, INT64_C(123456789));
    history_close(history);
    ledger_close(ledger);
}
END_TEST

START_TEST(test_rows_that_overlap_a_time_are_part_of_it_and_others_are_not)
{
    struct ledger *ledger = rig_open();
    stage_minutes(ledger, 1, 100); /* row n: from minute n - 1 to n */
    struct history *history = open_history();
    ck_assert_uint_eq(read_rows(history, 10, 20), 10);
    ck_assert_int_eq(seen.rows[0].to.ms, rig_minute(11).wall.ms);
    ck_assert_int_eq(seen.rows[9].to.ms, rig_minute(20).wall.ms);
    ck_assert_uint_eq(read_rows(history, 100, 200), 0);
    ck_assert_uint_eq(read_rows(history, -50, 0), 0);
    history_close(history);
    ledger_close(ledger);
}
END_TEST

START_TEST(test_events_come_by_time_and_at_the_same_time_as_they_were_told)
{
    struct ledger *ledger = rig_open();
    ledger_event(ledger, rig_minute(9), "heater", "later");
    ledger_event(ledger, rig_minute(8), "site", "first");
    ledger_event(ledger, rig_minute(8), "pump", "second");
    rig_commit(ledger, 9);
    struct history *history = open_history();
    ck_assert_uint_eq(read_events(history, 8, 10), 3);
    ck_assert_str_eq(seen.events[0].text, "first");
    ck_assert_str_eq(seen.events[0].subject, "site");
    ck_assert_int_eq(seen.events[0].at.ms, rig_minute(8).wall.ms);
    ck_assert_str_eq(seen.events[1].text, "second");
    ck_assert_str_eq(seen.events[2].text, "later");
    ck_assert_uint_eq(read_events(history, 8, 9), 2);
    history_close(history);
    ledger_close(ledger);
}
END_TEST

START_TEST(test_a_reader_that_has_enough_may_end)
{
    struct ledger *ledger = rig_open();
    stage_minutes(ledger, 1, 50);
    struct history *history = open_history();
    seen.most = 7;
    ck_assert_uint_eq(read_rows(history, 0, 100), 7);
    ck_assert_uint_eq(read_events(history, 0, 100), 7);
    seen.most = 0;
    ck_assert_uint_eq(read_rows(history, 0, 100), 50);
    history_close(history);
    ledger_close(ledger);
}
END_TEST

START_TEST(test_the_span_is_that_of_all_rows)
{
    struct wall first = {0}, last = {0};
    struct ledger *ledger = rig_open();
    rig_commit(ledger, 0);
    struct history *history = open_history();
    ck_assert(!history_span(history, &first, &last));
    stage_minutes(ledger, 3, 80);
    ck_assert(history_span(history, &first, &last));
    ck_assert_int_eq(first.ms, rig_minute(2).wall.ms);
    ck_assert_int_eq(last.ms, rig_minute(80).wall.ms);
    history_close(history);
    ledger_close(ledger);
}
END_TEST

/* In the middle of its reading the writer commits, and gets on. */
struct intruder {
    struct ledger *ledger;
    size_t rows;
};

static bool commit_meanwhile(void *context, const struct history_row *row)
{
    struct intruder *intruder = context;
    (void)row;
    ledger_history(intruder->ledger, rig_minute(1000 + (int64_t)intruder->rows), MS_PER_MIN,
                   "heater", 1, 1, 1);
    rig_commit(intruder->ledger, 1000 + (int64_t)intruder->rows);
    intruder->rows++;
    return true;
}

START_TEST(test_a_reader_never_holds_the_writer_up_and_sees_one_moment)
{
    struct trouble trouble;
    struct intruder intruder = {.ledger = rig_open()};
    stage_minutes(intruder.ledger, 1, 40);
    struct history *history = open_history();
    ck_assert(history_rows(history, rig_minute(0).wall, rig_minute(5000).wall, commit_meanwhile,
                           &intruder, &trouble));
    ck_assert_uint_eq(intruder.rows, 40);
    rig_assert_trouble(intruder.ledger, "");
    ck_assert_int_eq(rig_saved(), 1039);
    ck_assert_uint_eq(read_rows(history, 0, 5000), 80);
    history_close(history);
    ledger_close(intruder.ledger);
}
END_TEST

START_TEST(test_a_reader_does_not_wait_for_a_writer_in_the_middle_of_a_commit)
{
    struct ledger *ledger = rig_open();
    stage_minutes(ledger, 1, 40);
    struct history *history = open_history();
    rig_stall();
    ledger_history(ledger, rig_minute(41), MS_PER_MIN, "heater", 1, 1, 1);
    ledger_commit(ledger, rig_minute(41));
    rig_await_stall();
    ck_assert_uint_eq(read_rows(history, 0, 100), 40);
    rig_flow();
    ledger_wait(ledger);
    ck_assert_uint_eq(read_rows(history, 0, 100), 41);
    history_close(history);
    ledger_close(ledger);
}
END_TEST

START_TEST(test_a_copy_at_rest_is_read_from_where_nothing_may_be_written)
{
    rig_drop_root();
    struct ledger *ledger = rig_open();
    stage_minutes(ledger, 1, 40);
    ledger_close(ledger);
    chmod(rig_path("ledger.db"), 0400);
    chmod(rig_path("."), 0500);
    struct history *history = open_history();
    ck_assert_uint_eq(read_rows(history, 0, 100), 40);
    history_close(history);
    chmod(rig_path("."), 0700);
}
END_TEST

START_TEST(test_a_file_whose_name_has_signs_of_an_address_in_it_is_read)
{
    struct trouble trouble;
    struct ledger_settings settings = rig_settings();
    snprintf(settings.path, sizeof(settings.path), "%s", rig_path("a%20?b=c#d&e.db"));
    struct ledger *ledger = ledger_open(&settings, RIG_BOOT);
    stage_minutes(ledger, 1, 4);
    struct history *history = history_open(settings.path, &trouble);
    ck_assert_ptr_nonnull(history);
    ck_assert_uint_eq(read_rows(history, 0, 100), 4);
    history_close(history);
    ledger_close(ledger);
}
END_TEST

START_TEST(test_what_is_no_ledger_is_refused_with_its_name)
{
    struct trouble trouble = {.text = ""};
    const char *const names[] = {"none.db", "text.db", "empty.db", "."};
    rig_write("text.db",
              "a text that is no ledger, and long enough for a header of one hundred "
              "bytes, as such files have",
              90);
    rig_write("empty.db", "", 0);
    for (size_t k = 0; k < COUNT_OF(names); k++) {
        trouble.text[0] = trouble.place[0] = '\0';
        ck_assert_ptr_null(history_open(rig_path(names[k]), &trouble));
        ck_assert_str_ne(trouble.text, "");
        ck_assert_ptr_nonnull(strstr(trouble.place, names[k]));
    }
    ck_assert(!rig_exists("none.db"));
}
END_TEST

/* ---- how long it is kept ------------------------------------------------------------ */

static void stage_day(struct ledger *ledger, int64_t day)
{
    int64_t minute = day * 1440;
    char text[32];
    snprintf(text, sizeof(text), "day %d", (int)day);
    ledger_history(ledger, rig_minute(minute), MS_PER_MIN, "heater", day, 0, 0);
    ledger_event(ledger, rig_minute(minute), "site", text);
    ledger_counter(ledger, "heater/on_ms", day + 1);
    rig_commit(ledger, minute);
}

static struct ledger *open_with_days(int32_t days)
{
    struct ledger_settings settings = rig_settings();
    settings.history_days = days;
    struct ledger *ledger = ledger_open(&settings, RIG_BOOT);
    ck_assert_ptr_nonnull(ledger);
    return ledger;
}

START_TEST(test_history_and_events_older_than_their_days_are_dropped)
{
    struct ledger *ledger = open_with_days(10);
    for (int64_t day = 0; day < 40; day++)
        stage_day(ledger, day);
    struct history *history = open_history();
    ck_assert_uint_eq(read_rows(history, -1, 50 * 1440), 11); /* ten days old is not older */
    ck_assert_int_eq(seen.rows[0].spare_mwh, 29);
    ck_assert_uint_eq(read_events(history, -1, 50 * 1440), 11);
    ck_assert_str_eq(seen.events[0].text, "day 29");
    ck_assert_int_eq(rig_counter("heater/on_ms"), 40);
    history_close(history);
    ledger_close(ledger);
}
END_TEST

START_TEST(test_a_clock_that_is_not_trusted_drops_nothing)
{
    struct moment at = rig_minute(3000 * 1440);
    struct ledger *ledger = open_with_days(10);
    for (int64_t day = 0; day < 5; day++)
        stage_day(ledger, day);
    at.wall_trusted = false;
    ledger_commit(ledger, at);
    ledger_wait(ledger);
    ck_assert_int_eq(rig_ask("SELECT count(*) FROM history"), 5);
    ledger_close(ledger);
}
END_TEST

START_TEST(test_a_clock_a_year_ahead_for_ten_minutes_drops_nothing)
{
    struct ledger *ledger = open_with_days(10);
    for (int64_t day = 0; day < 8; day++)
        stage_day(ledger, day);
    struct moment at = rig_minute(8 * 1440);
    for (int minute = 0; minute < 10; minute++) {
        at.mono.ms += MS_PER_MIN;
        at.wall.ms = rig_minute(8 * 1440 + minute + 365 * 1440).wall.ms;
        ledger_commit(ledger, at);
        ledger_wait(ledger);
        if (minute == 5) { /* nor does a restart make it right */
            ledger_close(ledger);
            ledger = open_with_days(10);
        }
    }
    ck_assert_int_eq(rig_ask("SELECT count(*) FROM history"), 8);
    stage_day(ledger, 9);
    ck_assert_int_eq(rig_ask("SELECT count(*) FROM history"), 9);
    for (int64_t day = 10; day < 20; day++)
        stage_day(ledger, day);
    ck_assert_int_eq(rig_ask("SELECT count(*) FROM history"), 11); /* and then as ever */
    ledger_close(ledger);
}
END_TEST

START_TEST(test_a_file_that_drops_as_much_as_it_gets_does_not_grow)
{
    struct ledger *ledger = open_with_days(30);
    for (int64_t day = 0; day < 60; day++)
        stage_day(ledger, day);
    int64_t pages = rig_ask("PRAGMA page_count");
    for (int64_t day = 60; day < 400; day++)
        stage_day(ledger, day);
    ck_assert_int_le(rig_ask("PRAGMA page_count"), pages + 4);
    ledger_close(ledger);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_rows_come_whole_and_by_time,
        test_rows_that_overlap_a_time_are_part_of_it_and_others_are_not,
        test_events_come_by_time_and_at_the_same_time_as_they_were_told,
        test_a_reader_that_has_enough_may_end,
        test_the_span_is_that_of_all_rows,
        test_a_reader_never_holds_the_writer_up_and_sees_one_moment,
        test_a_reader_does_not_wait_for_a_writer_in_the_middle_of_a_commit,
        test_a_copy_at_rest_is_read_from_where_nothing_may_be_written,
        test_a_file_whose_name_has_signs_of_an_address_in_it_is_read,
        test_what_is_no_ledger_is_refused_with_its_name,
        test_history_and_events_older_than_their_days_are_dropped,
        test_a_clock_that_is_not_trusted_drops_nothing,
        test_a_clock_a_year_ahead_for_ten_minutes_drops_nothing,
        test_a_file_that_drops_as_much_as_it_gets_does_not_grow,
    };
    return rig_run("history", tests, COUNT_OF(tests));
}
