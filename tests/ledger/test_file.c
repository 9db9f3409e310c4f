/* test_file.c - whatever may lie where the ledger should be. */
#include <errno.h>
#include <glob.h>
#include <signal.h>
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include "rig.h"

enum { FILE_MAX = 1 << 20 };

static uint8_t before[FILE_MAX], after[FILE_MAX];

/* Some weeks of a small house: more than the root pages of its tables. */
static void make_ledger(void)
{
    struct ledger *ledger = rig_open();
    for (int64_t minute = 0; minute < 400; minute++) {
        ledger_counter(ledger, "heater/on_ms", minute + 1);
        ledger_note(ledger, "load/heater", "on=1\n");
        ledger_history(ledger, rig_minute(minute), MS_PER_MIN, "heater", minute, 0, 0);
        ledger_event(ledger, rig_minute(minute), "heater", "on: spare 3.7 kW");
        if (minute % 50 == 49)
            rig_commit(ledger, minute);
    }
    rig_assert_trouble(ledger, "");
    ledger_close(ledger);
}

/* How many files were put aside, and one's name; their logs are not counted. */
static size_t put_aside(char name[static RIG_PATH_MAX])
{
    glob_t found;
    size_t count = 0;
    if (glob(rig_path("ledger.db.damaged*"), 0, NULL, &found) != 0)
        return 0;
    for (size_t k = 0; k < found.gl_pathc; k++) {
        const char *each = strrchr(found.gl_pathv[k], '/') + 1;
        if (strstr(each, "-wal") || strstr(each, "-shm"))
            continue;
        snprintf(name, RIG_PATH_MAX, "%s", each);
        count++;
    }
    globfree(&found);
    return count;
}

static void assert_works(struct ledger *ledger, int64_t minute)
{
    ledger_counter(ledger, "pump/on_ms", minute);
    rig_commit(ledger, minute);
    ck_assert_int_eq(rig_counter("pump/on_ms"), minute);
}

/* The file as it is now is moved away byte for byte, its name is told for a day and
 * stands among the events, and the ledger goes on with a new one. */
static void assert_begins_anew(bool saved)
{
    char name[RIG_PATH_MAX], text[LEDGER_TEXT_MAX];
    size_t size = rig_read("ledger.db", before, sizeof(before));
    struct ledger *ledger = rig_open();
    rig_assert_trouble(ledger, "damaged");
    ck_assert_uint_eq(put_aside(name), 1);
    rig_assert_trouble(ledger, name);
    ck_assert_uint_eq(rig_read(name, after, sizeof(after)), size);
    ck_assert_int_eq(memcmp(before, after, size), 0);
    ck_assert(ledger_was_damaged(ledger));
    ck_assert_int_eq(rig_counter("heater/on_ms"), saved ? 400 : -1);
    ck_assert_int_eq(ledger_note_read(ledger, "load/heater", text), saved);
    for (int64_t hour = 0; hour < 24; hour++) {
        assert_works(ledger, 60 * hour);
        rig_assert_trouble(ledger, name);
    }
    assert_works(ledger, 24 * 60);
    rig_assert_trouble(ledger, "");
    ck_assert_int_eq(rig_events("%damaged%"), 1);
    ledger_close(ledger);

    ledger = rig_open();
    rig_assert_trouble(ledger, "");
    ck_assert_uint_eq(put_aside(name), 1);
    ledger_close(ledger);
}

START_TEST(test_bytes_that_are_no_ledger_are_put_aside)
{
    uint64_t seed = 20260302;
    for (size_t k = 0; k < 20000; k++)
        before[k] = (uint8_t)seeded_next(&seed);
    rig_write("ledger.db", before, 20000);
    assert_begins_anew(false);
}
END_TEST

START_TEST(test_a_file_cut_in_its_middle_is_put_aside)
{
    make_ledger();
    size_t size = rig_read("ledger.db", before, sizeof(before));
    rig_write("ledger.db", before, size / 2 - 100);
    assert_begins_anew(true);
}
END_TEST

START_TEST(test_a_file_with_a_page_of_nothing_in_it_is_put_aside)
{
    make_ledger();
    size_t size = rig_read("ledger.db", before, sizeof(before));
    memset(before + size / 2 / 512 * 512, 0, 4096);
    rig_write("ledger.db", before, size);
    assert_begins_anew(true);
}
END_TEST

/* Which says where the tables are. */
START_TEST(test_what_a_file_without_its_first_page_says_is_kept)
{
    make_ledger();
    size_t size = rig_read("ledger.db", before, sizeof(before));
    memset(before, 0, 512);
    rig_write("ledger.db", before, size);
    assert_begins_anew(true);
    ck_assert_int_gt(rig_events("on: spare%"), 200);
    ck_assert(!rig_exists("ledger.db.salvage"));
}
END_TEST

START_TEST(test_peoples_orders_stand_in_a_file_of_their_own)
{
    char text[LEDGER_ORDERS_MAX];
    struct ledger *ledger = rig_open();
    ck_assert(!ledger_orders_read(ledger, text));
    ledger_orders(ledger, "heater.inhibited=1\n");
    rig_commit(ledger, 1);
    rig_commit(ledger, 2);
    ledger_close(ledger);
    rig_write("ledger.db", "no ledger at all, but a text of some length", 40);
    ledger = rig_open();
    ck_assert(ledger_orders_read(ledger, text));
    ck_assert_str_eq(text, "heater.inhibited=1\n");
    ledger_close(ledger);
}
END_TEST

/* Whatever eight bytes are overwritten: the ledger opens, stores what it is given, and
 * gives back no counter that was never stored. */
START_TEST(test_no_scratch_in_the_file_stops_the_ledger)
{
    static uint8_t sound[FILE_MAX];
    uint64_t seed = 7;
    make_ledger();
    size_t size = rig_read("ledger.db", sound, sizeof(sound));
    for (int round = 0; round < 300; round++) {
        int64_t at = seeded_between(&seed, 0, (int64_t)size - 8);
        memcpy(before, sound, size);
        for (int64_t k = 0; k < 8; k++)
            before[at + k] = (uint8_t)seeded_next(&seed);
        rig_write("ledger.db", before, size);
        struct ledger *ledger = rig_open();
        ledger_counter(ledger, "pump/on_ms", round);
        rig_commit(ledger, 500 + round);
        if (rig_cannot_store(ledger)) { /* found only by writing: the next is well */
            ledger_counter(ledger, "pump/on_ms", round);
            rig_commit(ledger, 501 + round);
        }
        ck_assert_msg(!rig_cannot_store(ledger), "round %d, byte %d", round, (int)at);
        ledger_close(ledger);
        ck_assert_int_eq(rig_counter("pump/on_ms"), round);
    }
}
END_TEST

START_TEST(test_two_damaged_files_are_both_kept)
{
    char name[RIG_PATH_MAX];
    for (size_t k = 1; k <= 3; k++) {
        rig_write("ledger.db", "no ledger at all, but a text of some length", 40);
        ledger_close(rig_open());
        ck_assert_uint_eq(put_aside(name), k);
    }
}
END_TEST

START_TEST(test_a_file_of_no_length_is_a_new_one)
{
    rig_write("ledger.db", "", 0);
    struct ledger *ledger = rig_open();
    rig_assert_trouble(ledger, "");
    assert_works(ledger, 1);
    ledger_close(ledger);
}
END_TEST

static void make_database(const char *sql)
{
    sqlite3 *db;
    ck_assert_int_eq(sqlite3_open(rig_path("ledger.db"), &db), SQLITE_OK);
    ck_assert_int_eq(sqlite3_exec(db, sql, NULL, NULL, NULL), SQLITE_OK);
    sqlite3_close(db);
}

START_TEST(test_a_file_of_version_0_is_brought_to_this_version)
{
    make_database("CREATE TABLE passing (a); DROP TABLE passing; PRAGMA user_version = 0");
    ck_assert_uint_gt(rig_read("ledger.db", before, sizeof(before)), 0);
    struct ledger *ledger = rig_open();
    rig_assert_trouble(ledger, "");
    assert_works(ledger, 1);
    ck_assert_int_gt(rig_ask("PRAGMA user_version"), 0);
    ledger_close(ledger);
}
END_TEST

START_TEST(test_a_migration_that_a_crash_ended_half_way_is_done_again)
{
    make_ledger();
    make_database("PRAGMA user_version = 0; DROP TABLE counter; DROP TABLE note; DROP TABLE save;"
                  "DROP TABLE event; DROP TABLE history");
    struct ledger *ledger = rig_open();
    rig_assert_trouble(ledger, "");
    assert_works(ledger, 1);
    ledger_close(ledger);
}
END_TEST

START_TEST(test_a_file_of_a_newer_version_is_left_alone_to_the_byte)
{
    make_database("PRAGMA journal_mode = DELETE; CREATE TABLE to_come (a);"
                  "PRAGMA user_version = 1000");
    size_t size = rig_read("ledger.db", before, sizeof(before));
    struct ledger *ledger = rig_open();
    rig_assert_trouble(ledger, "newer");
    ledger_counter(ledger, "heater/on_ms", 1);
    rig_commit(ledger, 1);
    rig_assert_trouble(ledger, "newer");
    ck_assert(rig_cannot_store(ledger));
    ledger_close(ledger);
    ck_assert_uint_eq(rig_read("ledger.db", after, sizeof(after)), size);
    ck_assert_int_eq(memcmp(before, after, size), 0);
}
END_TEST

/* Of this version by its number, but somebody has dropped a table. */
START_TEST(test_a_file_without_one_of_its_tables_is_a_trouble_until_it_has_it)
{
    make_ledger();
    make_database("ALTER TABLE note RENAME TO elsewhere");
    struct ledger *ledger = rig_open();
    for (int64_t minute = 401; minute < 404; minute++) {
        ledger_counter(ledger, "heater/on_ms", minute);
        rig_commit(ledger, minute);
        rig_assert_trouble(ledger, "note");
        ck_assert_int_eq(rig_saved(), 399);
    }
    make_database("ALTER TABLE elsewhere RENAME TO note");
    rig_commit(ledger, 404);
    rig_assert_trouble(ledger, "");
    ck_assert_int_eq(rig_counter("heater/on_ms"), 403);
    ledger_close(ledger);
}
END_TEST

START_TEST(test_a_trouble_with_opening_tells_which_file_and_the_system_s_own_reason)
{
    struct ledger_settings settings = rig_settings();
    snprintf(settings.path, sizeof(settings.path), "%s/ledger.db", rig_path("card"));
    struct ledger *ledger = ledger_open(&settings, RIG_BOOT);
    rig_assert_trouble(ledger, settings.path);
    rig_assert_trouble(ledger, strerror(ENOENT));
    ledger_close(ledger);
    ck_assert_int_eq(mkdir(rig_path("ledger.db"), 0700), 0);
    ledger = rig_open();
    rig_assert_trouble(ledger, strerror(EISDIR));
    ledger_close(ledger);
}
END_TEST

START_TEST(test_a_folder_in_its_place_is_a_trouble)
{
    char text[LEDGER_TEXT_MAX];
    ck_assert_int_eq(mkdir(rig_path("ledger.db"), 0700), 0);
    struct ledger *ledger = rig_open();
    rig_assert_trouble(ledger, "counting goes on in memory");
    ck_assert(!ledger_note_read(ledger, "load/heater", text));
    ledger_counter(ledger, "heater/on_ms", 1);
    rig_commit(ledger, 1);
    ck_assert(rig_cannot_store(ledger));
    ck_assert_int_eq(rmdir(rig_path("ledger.db")), 0);
    rig_commit(ledger, 2);
    rig_assert_trouble(ledger, "");
    ck_assert_int_eq(rig_counter("heater/on_ms"), 1);
    ledger_close(ledger);
}
END_TEST

START_TEST(test_a_folder_that_is_not_there_yet_is_a_trouble_until_it_is)
{
    struct ledger_settings settings = rig_settings();
    snprintf(settings.path, sizeof(settings.path), "%s/ledger.db", rig_path("card"));
    char text[LEDGER_TEXT_MAX];
    struct ledger *ledger = ledger_open(&settings, RIG_BOOT);
    ledger_note(ledger, "load/heater", "on=1\n");
    rig_commit(ledger, 1);
    rig_assert_trouble(ledger, "counting goes on in memory");
    ck_assert_int_eq(mkdir(rig_path("card"), 0700), 0);
    rig_commit(ledger, 2);
    rig_assert_trouble(ledger, "");
    ledger_close(ledger);
    ledger = ledger_open(&settings, RIG_BOOT);
    ck_assert(ledger_note_read(ledger, "load/heater", text));
    ledger_close(ledger);
}
END_TEST

/* ---- nothing may be written ------------------------------------------------------- */

static void assert_read_only_start(const char *note)
{
    char text[LEDGER_TEXT_MAX];
    struct wall wall;
    struct mono mono;
    char boot[40];
    struct ledger *ledger = rig_open();
    rig_assert_trouble(ledger, "counting goes on in memory");
    ck_assert(ledger_note_read(ledger, "load/heater", text));
    ck_assert_str_eq(text, note);
    ck_assert(ledger_last_save(ledger, &wall, &mono, boot));
    ledger_counter(ledger, "heater/on_ms", 800);
    rig_commit(ledger, 500);
    rig_assert_trouble(ledger, "counting goes on in memory");
    ledger_close(ledger);
}

START_TEST(test_a_file_and_folder_without_permission_are_read)
{
    rig_drop_root();
    make_ledger();
    chmod(rig_path("ledger.db"), 0400);
    chmod(rig_path("."), 0500);
    assert_read_only_start("on=1\n");
    chmod(rig_path("."), 0700);
    chmod(rig_path("ledger.db"), 0600);
}
END_TEST

START_TEST(test_a_file_without_permission_in_a_folder_with_it_is_read)
{
    rig_drop_root();
    make_ledger();
    chmod(rig_path("ledger.db"), 0400);
    assert_read_only_start("on=1\n");
}
END_TEST

START_TEST(test_a_folder_without_permission_around_a_file_with_it_is_read)
{
    rig_drop_root();
    make_ledger();
    chmod(rig_path("."), 0500);
    assert_read_only_start("on=1\n");
    chmod(rig_path("."), 0700);
}
END_TEST

/* What the killed process wrote last stands in the log only. */
static void leave_a_log(void)
{
    pid_t child = fork();
    ck_assert_int_ge(child, 0);
    if (child == 0) {
        struct ledger *ledger = rig_open();
        ledger_counter(ledger, "heater/on_ms", 777);
        ledger_note(ledger, "load/heater", "on=777\n");
        rig_commit(ledger, 450);
        raise(SIGKILL);
    }
    ck_assert_int_eq(waitpid(child, NULL, 0), child);
    ck_assert(rig_exists("ledger.db-wal"));
}

START_TEST(test_the_log_of_a_killed_run_is_read_where_nothing_may_be_written)
{
    rig_drop_root();
    make_ledger();
    leave_a_log();
    chmod(rig_path("ledger.db"), 0400);
    chmod(rig_path("ledger.db-wal"), 0400);
    chmod(rig_path("ledger.db-shm"), 0400);
    chmod(rig_path("."), 0500);
    assert_read_only_start("on=777\n");
    chmod(rig_path("."), 0700);
}
END_TEST

START_TEST(test_the_log_of_a_damaged_file_goes_with_it)
{
    char name[RIG_PATH_MAX], log[RIG_PATH_MAX + 8];
    make_ledger();
    leave_a_log();
    size_t size = rig_read("ledger.db-wal", before, sizeof(before));
    rig_write("ledger.db", "no ledger at all, but a text of some length", 40);
    struct ledger *ledger = rig_open();
    rig_assert_trouble(ledger, "damaged");
    ck_assert_uint_eq(put_aside(name), 1);
    snprintf(log, sizeof(log), "%s-wal", name);
    ck_assert_uint_eq(rig_read(log, after, sizeof(after)), size);
    ck_assert_int_eq(memcmp(before, after, size), 0);
    assert_works(ledger, 1);
    ck_assert_int_eq(rig_counter("heater/on_ms"), -1);
    ledger_close(ledger);
}
END_TEST

/* A power cut between the two renamings of putting aside leaves this. */
START_TEST(test_a_log_without_its_file_is_not_taken_for_that_of_a_new_one)
{
    char text[LEDGER_TEXT_MAX];
    make_ledger();
    leave_a_log();
    ck_assert_int_eq(remove(rig_path("ledger.db")), 0);
    struct ledger *ledger = rig_open();
    ck_assert(!ledger_note_read(ledger, "load/heater", text));
    assert_works(ledger, 1);
    ck_assert_int_eq(rig_counter("heater/on_ms"), -1);
    ledger_close(ledger);
}
END_TEST

/* Left behind by a run that was killed before its first commit. */
START_TEST(test_an_empty_log_does_not_keep_a_file_from_being_read)
{
    rig_drop_root();
    make_ledger();
    rig_write("ledger.db-wal", "", 0);
    chmod(rig_path("."), 0500);
    assert_read_only_start("on=1\n");
    chmod(rig_path("."), 0700);
}
END_TEST

/* SQLite calls such a page corrupt. What stands on other pages is read all the same. */
START_TEST(test_a_page_that_cannot_be_read_now_does_not_make_a_file_damaged)
{
    char name[RIG_PATH_MAX];
    int read = 0;
    char text[LEDGER_TEXT_MAX];
    make_ledger();
    size_t size = rig_read("ledger.db", before, sizeof(before));
    for (int64_t at = 0; at < (int64_t)size; at += 1024) {
        rig_reads_fail_from(EIO, at);
        struct ledger *ledger = rig_open();
        rig_assert_trouble(ledger, "counting goes on in memory");
        read += ledger_note_read(ledger, "load/heater", text);
        rig_reads_fail(0);
        ck_assert_uint_eq(put_aside(name), 0);
        assert_works(ledger, at);
        rig_assert_trouble(ledger, "");
        ledger_close(ledger);
    }
    ck_assert_int_eq(rig_counter("heater/on_ms"), 400);
    ck_assert_int_gt(read, 1);
}
END_TEST

START_TEST(test_a_card_that_was_mounted_read_only_is_read_and_written_again_later)
{
    if (!rig_mount(1024)) {
        fprintf(stderr, "not allowed to mount: only permissions were tested\n");
        return;
    }
    make_ledger();
    ck_assert(rig_remount(true));
    assert_read_only_start("on=1\n");

    struct ledger *ledger = rig_open();
    ledger_counter(ledger, "heater/on_ms", 600);
    rig_commit(ledger, 600);
    ck_assert(rig_remount(false));
    rig_commit(ledger, 601);
    rig_assert_trouble(ledger, "");
    ck_assert_int_eq(rig_counter("heater/on_ms"), 600);
    ledger_close(ledger);
}
END_TEST

START_TEST(test_a_card_that_became_read_only_while_in_use_loses_no_counter)
{
    if (!rig_mount(1024)) {
        fprintf(stderr, "not allowed to mount: a disk that fails stands for it, see test_disk\n");
        return;
    }
    ledger_close(rig_open());
    ck_assert(rig_remount(true));
    struct ledger *ledger = rig_open();
    for (int64_t minute = 1; minute < 9; minute++) {
        ledger_counter(ledger, "heater/on_ms", minute);
        rig_commit(ledger, minute);
    }
    ck_assert(rig_cannot_store(ledger));
    ck_assert(rig_remount(false));
    ledger_close(ledger);
    ck_assert_int_eq(rig_counter("heater/on_ms"), 8);
}
END_TEST

START_TEST(test_a_damaged_file_that_cannot_be_put_aside_is_not_read_either)
{
    char text[LEDGER_TEXT_MAX];
    rig_drop_root();
    make_ledger();
    size_t size = rig_read("ledger.db", before, sizeof(before));
    rig_write("ledger.db", before, size / 2 - 100);
    chmod(rig_path("."), 0500);
    struct ledger *ledger = rig_open();
    rig_assert_trouble(ledger, "counting goes on in memory");
    ck_assert(!ledger_note_read(ledger, "load/heater", text));
    rig_commit(ledger, 1);
    ck_assert(rig_cannot_store(ledger));
    chmod(rig_path("."), 0700);
    ledger_counter(ledger, "heater/on_ms", 500);
    rig_commit(ledger, 2);
    rig_assert_trouble(ledger, "damaged");
    ck_assert_int_eq(rig_counter("heater/on_ms"), 500);
    ledger_close(ledger);
}
END_TEST

/* ---- more than one ---------------------------------------------------------------- */

START_TEST(test_a_second_ledger_on_the_same_file_reads_and_does_not_write)
{
    char text[LEDGER_TEXT_MAX];
    make_ledger();
    struct ledger *first = rig_open(), *second = rig_open();
    rig_assert_trouble(first, "");
    rig_assert_trouble(second, "another");
    ck_assert(ledger_note_read(second, "load/heater", text));
    ledger_counter(first, "heater/on_ms", 500);
    ledger_counter(second, "heater/on_ms", 450);
    rig_commit(second, 501);
    rig_commit(first, 500);
    ck_assert_int_eq(rig_counter("heater/on_ms"), 500);
    ck_assert_int_eq(rig_saved(), 500);
    ck_assert(rig_cannot_store(second));

    ledger_close(first);
    ledger_counter(second, "heater/on_ms", 550);
    rig_commit(second, 502);
    rig_assert_trouble(second, "");
    ck_assert_int_eq(rig_counter("heater/on_ms"), 550);
    ledger_close(second);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_bytes_that_are_no_ledger_are_put_aside,
        test_a_file_cut_in_its_middle_is_put_aside,
        test_a_file_with_a_page_of_nothing_in_it_is_put_aside,
        test_what_a_file_without_its_first_page_says_is_kept,
        test_peoples_orders_stand_in_a_file_of_their_own,
        test_no_scratch_in_the_file_stops_the_ledger,
        test_two_damaged_files_are_both_kept,
        test_a_file_of_no_length_is_a_new_one,
        test_a_file_of_version_0_is_brought_to_this_version,
        test_a_migration_that_a_crash_ended_half_way_is_done_again,
        test_a_file_of_a_newer_version_is_left_alone_to_the_byte,
        test_a_file_without_one_of_its_tables_is_a_trouble_until_it_has_it,
        test_a_trouble_with_opening_tells_which_file_and_the_system_s_own_reason,
        test_a_folder_in_its_place_is_a_trouble,
        test_a_folder_that_is_not_there_yet_is_a_trouble_until_it_is,
        test_a_file_and_folder_without_permission_are_read,
        test_a_file_without_permission_in_a_folder_with_it_is_read,
        test_a_folder_without_permission_around_a_file_with_it_is_read,
        test_the_log_of_a_killed_run_is_read_where_nothing_may_be_written,
        test_the_log_of_a_damaged_file_goes_with_it,
        test_a_log_without_its_file_is_not_taken_for_that_of_a_new_one,
        test_an_empty_log_does_not_keep_a_file_from_being_read,
        test_a_page_that_cannot_be_read_now_does_not_make_a_file_damaged,
        test_a_card_that_was_mounted_read_only_is_read_and_written_again_later,
        test_a_card_that_became_read_only_while_in_use_loses_no_counter,
        test_a_damaged_file_that_cannot_be_put_aside_is_not_read_either,
        test_a_second_ledger_on_the_same_file_reads_and_does_not_write,
    };
    return rig_run("file", tests, COUNT_OF(tests));
}
