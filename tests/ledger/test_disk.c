/* test_disk.c - a disk that is slow, full, failing or taken, and nothing lost by it. */
#include <errno.h>
#include <signal.h>
#include <sqlite3.h>
#include <stdio.h>
#include <string.h>
#include <sys/resource.h>

#include "rig.h"

enum { COUNTERS = 6 };

/* A snapshot as any: counters that all say the minute, a note, an event, a row. */
static void stage_minute(struct ledger *ledger, int64_t minute)
{
    char key[LEDGER_KEY_MAX], text[64];
    for (int k = 0; k < COUNTERS; k++) {
        snprintf(key, sizeof(key), "load-%d/on_ms", k);
        ledger_counter(ledger, key, minute);
    }
    snprintf(text, sizeof(text), "minute=%d\n", (int)minute);
    ledger_note(ledger, "site", text);
    snprintf(text, sizeof(text), "minute %d", (int)minute);
    ledger_event(ledger, rig_minute(minute), "load-0", text);
    ledger_history(ledger, rig_minute(minute), MS_PER_MIN, "load-0", minute, 0, 0);
}

/* All of minute 1 to `last` is in the file, each once. */
static void assert_all_stored(int64_t last)
{
    ck_assert_int_eq(rig_ask("SELECT min(value) FROM counter"), last);
    ck_assert_int_eq(rig_ask("SELECT max(value) FROM counter"), last);
    ck_assert_int_eq(rig_ask("SELECT count(*) FROM counter"), COUNTERS);
    ck_assert_int_eq(
        rig_ask("SELECT CAST(substr(text, 8) AS INTEGER) FROM note WHERE key <> 'ledger/clock'"),
        last);
    ck_assert_int_eq(rig_events("minute %"), last);
    ck_assert_int_eq(rig_ask("SELECT count(DISTINCT text) FROM event WHERE text LIKE 'minute %'"),
                     last);
    ck_assert_int_eq(rig_ask("SELECT count(*) FROM history"), last);
    ck_assert_int_eq(rig_events("%lost%"), 0);
}

static void work(struct ledger *ledger, int64_t from, int64_t to)
{
    for (int64_t minute = from; minute <= to; minute++) {
        stage_minute(ledger, minute);
        rig_commit(ledger, minute);
    }
}

START_TEST(test_a_slow_writer_gets_the_commits_it_missed_as_one)
{
    struct ledger *ledger = rig_open();
    rig_stall();
    stage_minute(ledger, 1);
    ledger_commit(ledger, rig_minute(1));
    rig_await_stall();
    for (int64_t minute = 2; minute <= 20; minute++) {
        stage_minute(ledger, minute);
        ledger_commit(ledger, rig_minute(minute));
    }
    ck_assert_uint_eq(ledger_posted(ledger), 1);
    ck_assert_uint_eq(ledger_stored(ledger), 0);
    ck_assert_int_eq(rig_saved(), -1);
    rig_flow();
    ledger_wait(ledger);
    ck_assert_int_eq(rig_saved(), 1);
    ck_assert_int_eq(rig_counter("load-0/on_ms"), 1);

    stage_minute(ledger, 21);
    rig_commit(ledger, 21);
    ck_assert_uint_eq(ledger_posted(ledger), 2);
    ck_assert_int_eq(rig_saved(), 21);
    assert_all_stored(21);
    ledger_close(ledger);
}
END_TEST

START_TEST(test_a_note_is_read_while_the_writer_waits_for_the_disk)
{
    char text[LEDGER_TEXT_MAX];
    struct ledger *ledger = rig_open();
    work(ledger, 1, 1);
    ledger_close(ledger);

    ledger = rig_open();
    rig_stall();
    ledger_note(ledger, "load/heater", "on=1\n");
    ledger_commit(ledger, rig_minute(2));
    rig_await_stall();
    ck_assert(ledger_note_read(ledger, "site", text));
    ck_assert_str_eq(text, "minute=1\n"); /* of the file */
    ck_assert(ledger_note_read(ledger, "load/heater", text));
    ck_assert_str_eq(text, "on=1\n"); /* on its way to the disk */
    ledger_note(ledger, "load/heater", "on=0\n");
    ck_assert(ledger_note_read(ledger, "load/heater", text));
    ck_assert_str_eq(text, "on=0\n"); /* staged */
    rig_flow();
    ledger_close(ledger);
}
END_TEST

START_TEST(test_what_could_not_be_read_at_the_start_is_known_once_the_disk_is_well)
{
    char text[LEDGER_TEXT_MAX];
    struct ledger *ledger = rig_open();
    work(ledger, 1, 1);
    ledger_close(ledger);

    rig_reads_fail(EIO);
    ledger = rig_open();
    ck_assert(!ledger_note_read(ledger, "site", text));
    ledger_note(ledger, "load/heater", "on=1\n");
    rig_reads_fail(0);
    rig_commit(ledger, 2);
    ck_assert(ledger_note_read(ledger, "site", text));
    ck_assert_str_eq(text, "minute=1\n");
    ck_assert(ledger_note_read(ledger, "load/heater", text));
    ck_assert_str_eq(text, "on=1\n");
    ledger_close(ledger);
}
END_TEST

START_TEST(test_closing_writes_what_a_busy_writer_could_not_take)
{
    struct wall wall;
    struct mono mono;
    char boot[40];
    struct ledger *ledger = rig_open();
    rig_stall();
    stage_minute(ledger, 1);
    ledger_commit(ledger, rig_minute(1));
    rig_await_stall();
    stage_minute(ledger, 2);
    ledger_commit(ledger, rig_minute(2));
    rig_flow();
    ledger_close(ledger);
    assert_all_stored(2);

    ledger = rig_open();
    ck_assert(ledger_last_save(ledger, &wall, &mono, boot));
    ck_assert_int_eq(wall.ms, rig_minute(2).wall.ms);
    ledger_close(ledger);
}
END_TEST

START_TEST(test_closing_writes_what_failed_when_the_disk_is_well_again)
{
    struct ledger *ledger = rig_open();
    work(ledger, 1, 1);
    rig_writes_fail(ENOSPC);
    work(ledger, 2, 3);
    rig_writes_fail(0);
    ledger_close(ledger);
    assert_all_stored(3);
}
END_TEST

START_TEST(test_closing_ends_where_nothing_can_be_written)
{
    struct ledger *ledger = rig_open();
    work(ledger, 1, 1);
    rig_writes_fail(EIO);
    work(ledger, 2, 2);
    ledger_close(ledger);
    rig_writes_fail(0);
    assert_all_stored(1);
}
END_TEST

/* The errors of a full disk, a card that fails, one that was remounted read-only, and
 * a quota (Linux, man 2 write). */
static const int write_errors[] = {ENOSPC, EIO, EROFS, EDQUOT};

START_TEST(test_a_commit_that_failed_is_not_counted_and_goes_with_the_next)
{
    for (size_t k = 0; k < COUNT_OF(write_errors); k++) {
        struct ledger *ledger = rig_open();
        int64_t first = (int64_t)k * 10 + 1; /* and none left out: ten a round */
        work(ledger, first, first + 2);
        uint64_t good = ledger_posted(ledger);
        rig_writes_fail(write_errors[k]);
        work(ledger, first + 3, first + 8);
        rig_assert_trouble(ledger, "counting goes on in memory");
        ck_assert(rig_cannot_store(ledger));
        ck_assert_uint_eq(ledger_posted(ledger), good + 6);
        rig_writes_fail(0);
        work(ledger, first + 9, first + 9);
        rig_assert_trouble(ledger, "");
        ck_assert_int_eq(rig_saved(), first + 9);
        ledger_close(ledger);
        assert_all_stored(first + 9);
        ck_assert(!rig_exists("ledger.db.damaged-1"));
    }
}
END_TEST

START_TEST(test_what_is_lost_in_a_long_trouble_is_counted_and_counters_are_not)
{
    enum { LAST = 1500 };
    struct ledger *ledger = rig_open();
    rig_writes_fail(ENOSPC);
    work(ledger, 1, LAST - 1);
    rig_writes_fail(0);
    work(ledger, LAST, LAST);
    ck_assert_int_eq(rig_ask("SELECT min(value) FROM counter"), LAST);
    ck_assert_int_eq(rig_ask("SELECT count(*) FROM counter"), COUNTERS);
    int64_t lost = rig_ask("SELECT CAST(text AS INTEGER) FROM event WHERE subject = 'ledger'");
    ck_assert_int_eq(rig_events("minute %") + rig_ask("SELECT count(*) FROM history") + lost,
                     2 * LAST);
    work(ledger, LAST + 1, LAST + 3);
    ck_assert_int_eq(rig_events("%lost%"), 1);
    ledger_close(ledger);
}
END_TEST

START_TEST(test_another_writer_of_the_file_is_a_trouble_that_passes)
{
    sqlite3 *other;
    struct ledger *ledger = rig_open();
    work(ledger, 1, 1);
    ck_assert_int_eq(sqlite3_open(rig_path("ledger.db"), &other), SQLITE_OK);
    ck_assert_int_eq(sqlite3_exec(other, "BEGIN IMMEDIATE", NULL, NULL, NULL), SQLITE_OK);
    work(ledger, 2, 2);
    rig_assert_trouble(ledger, "locked");
    ck_assert_int_eq(sqlite3_exec(other, "ROLLBACK", NULL, NULL, NULL), SQLITE_OK);
    sqlite3_close(other);
    work(ledger, 3, 3);
    rig_assert_trouble(ledger, "");
    assert_all_stored(3);
    ledger_close(ledger);
}
END_TEST

START_TEST(test_a_file_that_somebody_holds_at_start_is_not_called_damaged)
{
    sqlite3 *other;
    struct ledger *ledger = rig_open();
    work(ledger, 1, 1);
    ledger_close(ledger);
    /* The strongest lock there is: nobody else may even read. */
    ck_assert_int_eq(sqlite3_open(rig_path("ledger.db"), &other), SQLITE_OK);
    ck_assert_int_eq(sqlite3_exec(other,
                                  "PRAGMA locking_mode = EXCLUSIVE; BEGIN EXCLUSIVE;"
                                  "UPDATE counter SET value = value",
                                  NULL, NULL, NULL),
                     SQLITE_OK);
    ledger = rig_open();
    rig_assert_trouble(ledger, "locked");
    sqlite3_close(other);
    work(ledger, 2, 2);
    rig_assert_trouble(ledger, "");
    ledger_close(ledger);
    assert_all_stored(2);
    ck_assert(!rig_exists("ledger.db.damaged-1"));
}
END_TEST

START_TEST(test_a_card_that_does_not_answer_at_start_is_not_called_damaged)
{
    char text[LEDGER_TEXT_MAX];
    struct ledger *ledger = rig_open();
    work(ledger, 1, 300); /* some pages, so that the check meets the error as well */
    ledger_close(ledger);
    rig_reads_fail(EIO);
    ledger = rig_open();
    ck_assert(!ledger_note_read(ledger, "site", text));
    rig_assert_trouble(ledger, "counting goes on in memory");
    rig_reads_fail(0);
    work(ledger, 301, 301);
    rig_assert_trouble(ledger, "");
    ledger_close(ledger);
    assert_all_stored(301);
}
END_TEST

static int checks;

static int count_checks(unsigned kind, void *context, void *statement, void *text)
{
    (void)kind, (void)context, (void)statement;
    checks += strstr(text, "quick_check") != NULL || strstr(text, "integrity_check") != NULL;
    return 0;
}

static int trace_each(sqlite3 *db, char **error, const void *api)
{
    (void)error, (void)api;
    return sqlite3_trace_v2(db, SQLITE_TRACE_STMT, count_checks, NULL);
}

/* A year of history is tens of megabytes: read once at start, and not each minute of
 * a trouble. */
START_TEST(test_the_file_is_read_through_once_and_not_with_each_commit_that_fails)
{
    ck_assert_int_eq(sqlite3_auto_extension((void (*)(void))trace_each), SQLITE_OK);
    struct ledger *ledger = rig_open();
    ck_assert_int_eq(checks, 1);
    for (size_t k = 0; k < COUNT_OF(write_errors); k++) {
        rig_writes_fail(write_errors[k]);
        work(ledger, 10 * (int64_t)k + 1, 10 * (int64_t)k + 5);
        rig_writes_fail(0);
        work(ledger, 10 * (int64_t)k + 6, 10 * (int64_t)k + 7);
        rig_assert_trouble(ledger, "");
    }
    ck_assert_int_eq(checks, 1);
    ledger_close(ledger);
}
END_TEST

/* Fills what is left of the file system. */
static void fill_up(void)
{
    static char bytes[4096];
    FILE *file = fopen(rig_path("ballast"), "wb");
    ck_assert_ptr_nonnull(file);
    setvbuf(file, NULL, _IONBF, 0);
    while (fwrite(bytes, 1, sizeof(bytes), file) == sizeof(bytes))
        ;
    ck_assert_int_eq(errno, ENOSPC);
    fclose(file);
}

static void fill_a_file_system(void)
{
    struct ledger *ledger = rig_open();
    work(ledger, 1, 3);
    fill_up();
    work(ledger, 4, 120);
    rig_assert_trouble(ledger, "full");
    ck_assert(rig_cannot_store(ledger));
    ck_assert_int_eq(remove(rig_path("ballast")), 0);
    work(ledger, 121, 121);
    rig_assert_trouble(ledger, "");
    assert_all_stored(121);
    ledger_close(ledger);
}

static void limit_files(rlim_t bytes)
{
    struct rlimit limit;
    ck_assert_int_eq(getrlimit(RLIMIT_FSIZE, &limit), 0);
    limit.rlim_cur = bytes;
    ck_assert_int_eq(setrlimit(RLIMIT_FSIZE, &limit), 0);
}

/* Where a test may not mount, a limit on a file's size stands for the full disk. */
static void fill_up_to_a_limit(void)
{
    signal(SIGXFSZ, SIG_IGN);
    struct ledger *ledger = rig_open();
    work(ledger, 1, 3);
    limit_files(16 * 1024);
    work(ledger, 4, 120);
    rig_assert_trouble(ledger, "counting goes on in memory");
    ck_assert(rig_cannot_store(ledger));
    limit_files(RLIM_INFINITY);
    work(ledger, 121, 121);
    rig_assert_trouble(ledger, "");
    assert_all_stored(121);
    ledger_close(ledger);
}

START_TEST(test_a_full_file_system_costs_nothing_when_there_is_room_again)
{
    if (rig_mount(256))
        fill_a_file_system();
    else
        fill_up_to_a_limit();
}
END_TEST

START_TEST(test_a_limit_on_the_size_of_files_is_as_a_full_disk)
{
    fill_up_to_a_limit();
}
END_TEST

START_TEST(test_a_full_file_system_at_start_is_a_trouble_and_then_none)
{
    if (!rig_mount(64)) {
        fprintf(stderr, "not allowed to mount: a disk that fails stands for the full one\n");
        rig_writes_fail(ENOSPC);
    } else {
        fill_up();
    }
    struct ledger *ledger = rig_open();
    work(ledger, 1, 5);
    rig_assert_trouble(ledger, "counting goes on in memory");
    rig_writes_fail(0);
    remove(rig_path("ballast"));
    work(ledger, 6, 6);
    rig_assert_trouble(ledger, "");
    assert_all_stored(6);
    ledger_close(ledger);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_a_slow_writer_gets_the_commits_it_missed_as_one,
        test_a_note_is_read_while_the_writer_waits_for_the_disk,
        test_what_could_not_be_read_at_the_start_is_known_once_the_disk_is_well,
        test_closing_writes_what_a_busy_writer_could_not_take,
        test_closing_writes_what_failed_when_the_disk_is_well_again,
        test_closing_ends_where_nothing_can_be_written,
        test_a_commit_that_failed_is_not_counted_and_goes_with_the_next,
        test_what_is_lost_in_a_long_trouble_is_counted_and_counters_are_not,
        test_another_writer_of_the_file_is_a_trouble_that_passes,
        test_a_file_that_somebody_holds_at_start_is_not_called_damaged,
        test_a_card_that_does_not_answer_at_start_is_not_called_damaged,
        test_the_file_is_read_through_once_and_not_with_each_commit_that_fails,
        test_a_full_file_system_costs_nothing_when_there_is_room_again,
        test_a_limit_on_the_size_of_files_is_as_a_full_disk,
        test_a_full_file_system_at_start_is_a_trouble_and_then_none,
    };
    return rig_run("disk", tests, COUNT_OF(tests));
}
