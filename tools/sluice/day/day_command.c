/* day_command.c - one day, for people: `sluice day`. Needs no daemon, only its files. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "core/quantity.h"
#include "day.h"
#include "sluice/options.h"
#include "sluice/setup/read_settings.h"
#include "sluice/whole_file.h"

#define LEDGER_DEFAULT "/var/lib/sluice/ledger.db"

struct wish {
    const char *svg, *ledger, *settings, *maps;
    bool every_reason;
};

static void copy(char *to, size_t size, const char *from)
{
    struct text text = text_in(to, size);
    text_add(&text, "%s", from);
}

/* ---- the settings: zone, names, floors ------------------------------------------------ */

static void write_floor(const struct floor_settings *floor, struct text *text)
{
    if (floor->measure == FLOOR_SATISFIED)
        text_add(text, "until satisfied");
    else
        quantity_write(floor->measure == FLOOR_ENERGY ? QUANTITY_ENERGY_MWH : QUANTITY_DURATION_MS,
                       floor->amount, text);
    text_add(text, " by ");
    quantity_write(QUANTITY_TIME_S, floor->by_s, text);
}

static void take_load(struct result *day, const struct settings *settings, uint16_t index)
{
    const struct load_settings *from = &settings->loads[index];
    struct result_track *load = result_load(day, settings->names[index].name);
    if (!load)
        exit((int)complain(STATUS_NOT_THERE, "no memory"));
    copy(load->title, sizeof(load->title), settings->names[index].title);
    load->priority = from->priority;
    load->power_w = from->power_w;
    load->floor_count = from->floor_count;
    for (int k = 0; k < from->floor_count && k < RESULT_FLOORS_MAX; k++) {
        struct text text = text_in(load->floor[k].text, sizeof(load->floor[k].text));
        write_floor(&from->floor[k], &text);
        load->floor[k].weekdays = from->floor[k].every_days ? 0 : from->floor[k].weekdays;
        load->floor[k].by_s = from->floor[k].by_s;
    }
}

void day_take_settings(struct result *day, const struct settings *settings)
{
    day->zone = settings->rules.zone;
    copy(day->site, sizeof(day->site), settings->site_name);
    copy(day->zone_name, sizeof(day->zone_name), settings->timezone);
    for (uint16_t k = 0; k < settings->rules.load_count; k++)
        take_load(day, settings, k);
}

/* Without settings the day is told in UTC, and the loads by their names. */
static enum status take_settings(struct result *day, struct wish *wish, char ledger[static 192])
{
    const char *path = wish->settings ? wish->settings : SETTINGS_DEFAULT;
    copy(ledger, 192, LEDGER_DEFAULT);
    if (!wish->settings && access(path, R_OK) != 0) {
        fprintf(stderr,
                "sluice: no settings at \"%s\": times are UTC; name the "
                "settings with --settings FILE\n",
                path);
        day->zone = zone_utc;
        copy(day->site, sizeof(day->site), "A day");
        copy(day->zone_name, sizeof(day->zone_name), "UTC");
        return STATUS_DONE;
    }
    enum status status;
    struct settings *settings = read_settings(path, wish->maps, NULL, &status);
    if (!settings)
        return status;
    day_take_settings(day, settings);
    copy(ledger, 192, settings->ledger.path);
    settings_free(settings);
    return STATUS_DONE;
}

/* ---- the date ------------------------------------------------------------------------- */

static bool read_date(const char *word, int32_t today, int32_t *days)
{
    int year, used = 0;
    unsigned month, day;
    *days = today;
    if (strcmp(word, "today") == 0)
        return true;
    *days = today - 1;
    if (strcmp(word, "yesterday") == 0)
        return true;
    if (sscanf(word, "%4d-%2u-%2u%n", &year, &month, &day, &used) != 3 || used != 10 ||
        word[used] || month < 1 || month > 12 || day < 1 || day > 31)
        return false;
    *days = days_of_date((struct date){(int16_t)year, (uint8_t)month, (uint8_t)day});
    struct date back = date_of_days(*days);
    return back.month == month && back.day == day;
}

bool day_set_date(struct result *day, const char *word)
{
    int32_t days;
    struct wall now = {(int64_t)time(NULL) * MS_PER_S};
    if (!read_date(word, local_of_wall(&day->zone, now).day, &days))
        return false;
    day->date = date_of_days(days);
    day->begin_ms = wall_of_local(&day->zone, days, 0).ms;
    day->end_ms = wall_of_local(&day->zone, days + 1, 0).ms;
    return true;
}

/* ---- what comes out ------------------------------------------------------------------ */

static void draw(const void *day, FILE *to)
{
    day_draw(day, to);
}

static enum status tell(struct result *day, const struct wish *wish, const char *word,
                        const char *ledger)
{
    struct trouble trouble;
    if (!day_set_date(day, word))
        return complain(STATUS_USAGE,
                        "\"%s\" is not a date: 2026-01-14, today or yesterday is expected", word);
    enum status read = day_read(day, wish->ledger ? wish->ledger : ledger, &trouble);
    if (read != STATUS_DONE)
        return complain(read, "%s%s%s", trouble.place, *trouble.place ? ": " : "", trouble.text);
    day_print(day, wish->every_reason);
    if (!wish->svg)
        return STATUS_DONE;
    enum status status = whole_file(wish->svg, draw, day);
    if (status == STATUS_DONE)
        printf("\npicture: %s\n", wish->svg);
    return status;
}

enum status day_main(struct invocation *at, int argc, char *argv[])
{
    struct wish wish = {0};
    const struct option_row rows[] = {
        {"--svg", &wish.svg, NULL, "the picture's file"},
        {"--ledger", &wish.ledger, NULL, "the ledger's file"},
        {"--settings", &wish.settings, NULL, "the settings file"},
        {"--maps", &wish.maps, NULL, "the folder of the meter maps"},
        {"--reasons", NULL, &wish.every_reason, NULL},
        {0},
    };
    char ledger[192];
    struct result day = {0};
    int words = options_read(at, rows, argc, argv);
    if (words < 0)
        return options_status(words);
    if (words > 1)
        return complain_usage(at, "day");
    enum status status = take_settings(&day, &wish, ledger);
    if (status == STATUS_DONE)
        status = tell(&day, &wish, words == 1 ? argv[1] : "today", ledger);
    result_free(&day);
    return status;
}
