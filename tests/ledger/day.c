/* day.c - what a day costs the card, and what the room costs in memory.
 *
 *   day FOLDER
 *
 * The commits of a day as the daemon makes them, each waited for: one a minute for
 * eight hours while loads run, each quarter of an hour otherwise; six loads with a
 * note of about 1 KB of lines in which ages and energies change, five counters a load,
 * three of the grid; a set of history rows each five minutes; an event with each
 * start and stop. Twice the day is done: a first one to have a file with history.
 * Prints figures; fails where a day writes more than 12 MiB or the folder is in
 * memory, where nothing can be measured. */
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "core/text.h"
#include "ledger/ledger.h"

enum { LOADS = 6, RUN_FROM_MIN = 9 * 60, RUN_TO_MIN = 17 * 60, MIN_PER_DAY = 1440 };
enum { HISTORY_MIN = 5, IDLE_MIN = 15, MOST_BYTES = 12 << 20 };

/* 2026-03-02T00:00:00Z */
static const int64_t day_ms = INT64_C(1772409600000);

static int64_t read_number(const char *file, const char *key)
{
    char line[256];
    int64_t number = -1;
    FILE *from = fopen(file, "re");
    while (from && fgets(line, sizeof(line), from))
        if (strncmp(line, key, strlen(key)) == 0)
            number = strtoll(line + strlen(key), NULL, 10);
    if (from)
        fclose(from);
    return number;
}

static struct moment minute_of(int64_t minute)
{
    return (struct moment){.mono = {(minute + 100) * MS_PER_MIN + 7},
                           .wall = {day_ms + minute * MS_PER_MIN},
                           .wall_trusted = true};
}

/* Two loads run through the eight hours, the others take turns. */
static bool runs(int load, int64_t minute)
{
    int64_t of_day = minute % MIN_PER_DAY;
    if (of_day < RUN_FROM_MIN || of_day >= RUN_TO_MIN)
        return false;
    return load < 2 || (of_day - RUN_FROM_MIN) / 80 == load;
}

/* The lines that the engine saves for a load with two floors, with values of the
 * lengths that they have after some months. */
static void stage_note(struct ledger *ledger, int load, int64_t minute, int64_t ran)
{
    static const char *const steady[] = {"hand",     "hand_left_ms", "hand_level_w", "inhibited",
                                         "disabled", "satisfied",    "retry_left_ms"};
    static const char *const running[] = {"on_today_ms",    "total_spare_mj", "total_grid_mj",
                                          "total_on_ms",    "total_draw_ms",  "total_starts",
                                          "today_spare_mj", "today_grid_mj",  "today_on_ms",
                                          "today_draw_ms",  "today_starts",   "power_w"};
    char key[LEDGER_KEY_MAX], text[LEDGER_TEXT_MAX];
    struct text out = text_in(text, sizeof(text));
    text_add(&out, "on=%d\n", runs(load, minute));
    for (size_t k = 0; k < sizeof(steady) / sizeof(steady[0]); k++)
        text_add(&out, "%s=0\n", steady[k]);
    for (size_t k = 0; k < sizeof(running) / sizeof(running[0]); k++)
        text_add(&out, "%s=%" PRId64 "\n", running[k], (ran + 40000) * MS_PER_MIN + (int64_t)k);
    text_add(&out,
             "opened_wall_ms=%" PRId64 "\nopened_ago_ms=%" PRId64 "\ndrawn_ago_ms=%" PRId64 "\n",
             day_ms, minute * MS_PER_MIN + 7, minute * MS_PER_MIN + 11);
    for (int f = 0; f < 2; f++)
        text_add(&out,
                 "floor%d.measure=1\nfloor%d.begun=1\nfloor%d.met=0\nfloor%d.elapsed=0\n"
                 "floor%d.extended=0\nfloor%d.start_ms=%" PRId64 "\nfloor%d.deadline_ms=%" PRId64
                 "\nfloor%d.done=%" PRId64 "\n",
                 f, f, f, f, f, f, day_ms, f, day_ms + MS_PER_DAY, f, ran * MS_PER_MIN);
    snprintf(key, sizeof(key), "load/water-heater-%d", load);
    ledger_note(ledger, key, text);
}

static void stage_load(struct ledger *ledger, int load, int64_t minute, int64_t ran)
{
    static const char *const counters[] = {"spare_mwh", "grid_mwh", "on_ms", "draw_ms", "starts"};
    char key[LEDGER_KEY_MAX];
    stage_note(ledger, load, minute, ran);
    for (int k = 0; k < 5; k++) {
        snprintf(key, sizeof(key), "water-heater-%d/%s", load, counters[k]);
        ledger_counter(ledger, key, k == 4 ? ran / 60 : ran * 60000 + k);
    }
}

static void stage_site(struct ledger *ledger, int64_t minute)
{
    char text[LEDGER_TEXT_MAX];
    ledger_note(ledger, "site",
                "today=20514\nholiday_back_ms=0\nall_inhibited=0\nprobes_today=0\n");
    snprintf(text, sizeof(text),
             "import_mj=%" PRId64 "\nexport_mj=%" PRId64 "\nimport_register_mwh=%" PRId64
             "\nexport_register_mwh=%" PRId64 "\ngap_ms=0\n",
             minute * 3600000, minute * 7200000, minute * 1000, minute * 2000);
    ledger_note(ledger, "grid", text);
    ledger_counter(ledger, "grid/import_mwh", minute * 1000);
    ledger_counter(ledger, "grid/export_mwh", minute * 2000);
    ledger_counter(ledger, "grid/gap_ms", 0);
}

static void stage_history(struct ledger *ledger, struct moment at, const int64_t ran[])
{
    static const char *const others[] = {"grid", "spare", "solar"};
    char name[LEDGER_KEY_MAX];
    for (int load = 0; load < LOADS; load++) {
        snprintf(name, sizeof(name), "water-heater-%d", load);
        ledger_history(ledger, at, HISTORY_MIN * MS_PER_MIN, name, ran[load] % 5 * 60000,
                       ran[load] % 3 * 1000, ran[load] % 5 * MS_PER_MIN);
    }
    for (int k = 0; k < 3; k++)
        ledger_history(ledger, at, HISTORY_MIN * MS_PER_MIN, others[k], 123456, 234567, 0);
}

static void one_minute(struct ledger *ledger, int64_t minute, int64_t ran[])
{
    struct moment at = minute_of(minute);
    bool any = false, history = minute % HISTORY_MIN == 0;
    for (int load = 0; load < LOADS; load++) {
        bool on = runs(load, minute);
        ran[load] += on;
        any |= on;
        if (on != runs(load, minute - 1))
            ledger_event(ledger, at, "water-heater", on ? "on: spare 3.7 kW" : "off: spare 1.2 kW");
    }
    if (history)
        stage_history(ledger, at, ran);
    if (!any && minute % IDLE_MIN != 0)
        return;
    for (int load = 0; load < LOADS; load++)
        stage_load(ledger, load, minute, ran[load]);
    stage_site(ledger, minute);
    ledger_commit(ledger, at);
    ledger_wait(ledger);
}

static void figure(const char *name, double value, const char *unit)
{
    printf("figure %s %.2f %s\n", name, value, unit);
}

int main(int argc, char *argv[])
{
    struct ledger_settings settings = {.history_days = 400};
    int64_t ran[LOADS] = {0};
    int64_t anon_before = read_number("/proc/self/status", "RssAnon:");
    if (argc != 2)
        return EXIT_FAILURE;
    snprintf(settings.path, sizeof(settings.path), "%s/day-%d.db", argv[1], (int)getpid());
    struct ledger *ledger = ledger_open(&settings, "a-boot");
    if (!ledger)
        return EXIT_FAILURE;
    for (int64_t minute = 0; minute < MIN_PER_DAY; minute++)
        one_minute(ledger, minute, ran);
    int64_t before = read_number("/proc/self/io", "write_bytes: ");
    uint64_t commits_before = ledger_posted(ledger);
    for (int64_t minute = MIN_PER_DAY; minute < 2 * MIN_PER_DAY; minute++)
        one_minute(ledger, minute, ran);
    int64_t bytes = read_number("/proc/self/io", "write_bytes: ") - before;
    figure("ledger_commits_per_day", (double)(ledger_posted(ledger) - commits_before), "");
    figure("ledger_write_bytes_per_day", (double)bytes / (1 << 20), "MiB");
    figure("ledger_anon",
           (double)(read_number("/proc/self/status", "RssAnon:") - anon_before) / 1024, "MiB");
    char trouble[LEDGER_EVENT_MAX];
    ledger_trouble(ledger, trouble);
    ledger_close(ledger);
    unlink(settings.path);
    if (trouble[0])
        fprintf(stderr, "not all is on disk: %s\n", trouble);
    if (bytes <= 0)
        fprintf(stderr, "%s is no folder on a disk: nothing measured\n", argv[1]);
    return !trouble[0] && bytes > 0 && bytes <= MOST_BYTES ? EXIT_SUCCESS : EXIT_FAILURE;
}
