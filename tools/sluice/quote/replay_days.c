/* replay_days.c - from words on the command line to days.
 *
 * A column is told as NAME, NAME:UNIT or NUMBER:UNIT. A name may have a colon itself, so
 * only a last part that is a unit counts as one. */
#include "replay_days.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "core/quantity.h"
#include "data_heater.h"
#include "days/names.h"
#include "days/report.h"

enum { NAME_SIZE = 96, ARRAY_MAX_W = 1000000 };

struct names {
    char name[DAYS_ROLE_COUNT][NAME_SIZE];
};

void days_option_rows(struct days_words *words, struct option_row rows[static DAYS_OPTION_ROWS])
{
    static const char *const names[DAYS_ROLE_COUNT] = {
        [DAYS_TIME] = "--time",     [DAYS_USE] = "--use",       [DAYS_SOLAR] = "--solar",
        [DAYS_IMPORT] = "--import", [DAYS_EXPORT] = "--export", [DAYS_GRID] = "--grid",
        [DAYS_DRAW] = "--draw",
    };
    const struct option_row others[] = {
        {"--array", &words->array, NULL, "the size of the solar array, such as \"6.6 kWp\""},
        {"--times", &words->times, NULL, "local, standard or utc"},
        {"--dates", &words->dates, NULL, "dmy or mdy"},
        {"--gaps", &words->gaps, NULL, "hold or day-before"},
        {"--draws", &words->draws, NULL, "a file of hot water, minute by minute"},
        {"--shift-draws", &words->shift, NULL, "a number of days"},
        {"--ends", NULL, &words->ends, NULL},
        {"--refine", NULL, &words->refine, NULL},
        {"--seed", &words->seed, NULL, "a whole number"},
        {"--heater-in-data", &words->heater, NULL, "hours and a power"},
        {"--meter", &words->meter, NULL, "the name of a connection point"},
        {"--ignore", &words->ignore, NULL, "the name of a column or stream"},
    };
    for (int role = 0; role < DAYS_ROLE_COUNT; role++)
        rows[role] = (struct option_row){names[role], &words->column[role], NULL,
                                         role == DAYS_TIME ? "a column" : "a column and its unit"};
    memcpy(rows + DAYS_ROLE_COUNT, others, sizeof(others));
}

/* ---- words ---------------------------------------------------------------------------- */

static enum status read_column(const char *word, char name[static NAME_SIZE],
                               struct days_column *column)
{
    const char *colon = strrchr(word, ':');
    enum days_unit unit = DAYS_UNIT_BY_HEADER;
    if (colon && !days_unit_parse(colon + 1, &unit) && strspn(word, "0123456789") > 0)
        return complain(STATUS_USAGE,
                        "\"%s\": \"%s\" is no unit: W, kW, Wh, kWh, W/kWp, kW/kWp, l, l/h or "
                        "l/min is expected",
                        word, colon + 1);
    size_t length = unit != DAYS_UNIT_BY_HEADER ? (size_t)(colon - word) : strlen(word);
    if (length == 0 || length >= NAME_SIZE)
        return complain(STATUS_USAGE, "\"%.40s\" names no column: NAME:UNIT is expected", word);
    memcpy(name, word, length);
    name[length] = '\0';
    *column = (struct days_column){name, unit};
    return STATUS_DONE;
}

/* The index of `word` among `words`, 0 where there is none; -1 after complaining. */
static int choose(const char *option, const char *word, const char *const words[], int count)
{
    if (!word)
        return 0;
    for (int k = 0; k < count; k++)
        if (words[k] && strcmp(words[k], word) == 0)
            return k;
    complain(STATUS_USAGE, "%s \"%s\": %s%s%s%s%s is expected", option, word,
             words[0] ? words[0] : "", words[0] ? ", " : "", words[1], count > 1 ? " or " : "",
             words[count - 1]);
    return -1;
}

/* A bare number counts kWp. */
static enum status read_array(const char *word, double *array_kwp)
{
    struct trouble trouble;
    char text[64];
    int64_t w;
    if (!word)
        return STATUS_DONE;
    bool bare = !word[strspn(word, "0123456789.-")];
    snprintf(text, sizeof(text), "%s%s", word, bare ? " kWp" : "");
    if (!quantity_parse(QUANTITY_POWER_W, text, &w, &trouble))
        return complain(STATUS_USAGE, "--array \"%s\": %s", word, trouble.text);
    if (w <= 0 || w > ARRAY_MAX_W)
        return complain(STATUS_USAGE,
                        "--array \"%s\": a size such as 6.6 kWp is expected, at most 1 MW", word);
    *array_kwp = (double)w / 1000;
    return STATUS_DONE;
}

static enum status read_shift(const char *word, int32_t *days)
{
    char *end = NULL;
    if (!word)
        return STATUS_DONE;
    long value = strtol(word, &end, 10);
    if (end == word || *end || value < -365 || value > 365)
        return complain(STATUS_USAGE, "--shift-draws \"%s\": days from -365 to 365 are expected",
                        word);
    *days = (int32_t)value;
    return STATUS_DONE;
}

static enum status read_words(const struct days_words *words, struct names *names,
                              struct days_options *options)
{
    static const char *const clocks[] = {"local", "standard", "utc"};
    static const char *const dates[] = {NULL, "dmy", "mdy"};
    static const char *const gaps[] = {NULL, "hold", "day-before"};
    enum status status = STATUS_DONE;
    for (int role = 0; role < DAYS_ROLE_COUNT && status == STATUS_DONE; role++)
        if (words->column[role])
            status = read_column(words->column[role], names->name[role], &options->column[role]);
    if (status != STATUS_DONE)
        return status;
    int clock = choose("--times", words->times, clocks, 3);
    int date = clock < 0 ? -1 : choose("--dates", words->dates, dates, 3);
    int gap = date < 0 ? -1 : choose("--gaps", words->gaps, gaps, 3);
    if (gap < 0)
        return STATUS_USAGE;
    options->clock = (enum days_clock)clock;
    options->dates = (enum days_dates)date;
    options->gap = (enum days_gap)gap;
    options->time_ends_step = words->ends;
    options->meter = words->meter;
    options->ignore = words->ignore;
    status = read_array(words->array, &options->array_kwp);
    return status == STATUS_DONE ? read_shift(words->shift, &options->draw_shift_day) : status;
}

enum status days_seed(const struct days_words *words, uint64_t *seed)
{
    char *end = NULL;
    *seed = 1;
    if (!words->seed)
        return STATUS_DONE;
    errno = 0;
    *seed = strtoull(words->seed, &end, 10);
    if (end == words->seed || *end || errno || *words->seed == '-')
        return complain(STATUS_USAGE, "--seed \"%s\": a whole number is expected", words->seed);
    return STATUS_DONE;
}

/* ---- files ---------------------------------------------------------------------------- */

static void tell(const struct days_report *report, bool notices)
{
    for (int k = 0; k < report->count; k++)
        if (notices || report->stops[k])
            fprintf(stderr, "%s: %s%s\n", report->item[k].place,
                    report->stops[k] ? "" : "note: ", report->item[k].text);
    if (report->untold > 0)
        fprintf(stderr, "and %zu more\n", report->untold);
}

void days_tell_stops(const struct days_report *report)
{
    tell(report, false);
}

static enum status look(const char *path, const char *expected)
{
    if (access(path, R_OK) == 0)
        return STATUS_DONE;
    return complain(STATUS_NOT_THERE, "\"%s\" cannot be read: %m; %s is expected", path, expected);
}

static enum status look_at_all(const struct days_words *words, const struct data_loaded *loaded)
{
    enum status status = STATUS_DONE;
    for (int k = 0; k < loaded->path_count && status == STATUS_DONE; k++)
        status = look(loaded->paths[k], "a table of days");
    if (status == STATUS_DONE && words->draws)
        status = look(words->draws, "a file of hot water, minute by minute,");
    return status;
}

static enum status read_files(const struct days_words *words, const struct days_options *options,
                              struct data_loaded *loaded)
{
    bool read = days_read_files(loaded->paths, loaded->path_count, options, &loaded->days,
                                &loaded->found, &loaded->report);
    if (read && words->draws)
        read = days_read_draws(words->draws, options, &loaded->days, &loaded->report);
    if (!read)
        days_free(&loaded->days);
    return read ? STATUS_DONE : STATUS_REFUSED;
}

static enum status take_heater(const char *word, struct data_loaded *loaded)
{
    struct trouble trouble;
    if (days_heater_take(&loaded->days, loaded->zone, &loaded->heater, &loaded->taken, &trouble))
        return STATUS_DONE;
    days_stop(&loaded->report, loaded->paths[0], 0, "--heater-in-data \"%s\": %s", word,
              trouble.text);
    days_free(&loaded->days);
    loaded->taken.of = 0;
    return STATUS_REFUSED;
}

enum status days_load(const struct days_words *words, struct data_loaded *loaded)
{
    struct names names;
    struct days_options options = {.zone = loaded->zone, .array_kwp = loaded->array_kwp};
    enum status status = read_words(words, &names, &options);
    if (status == STATUS_DONE && words->heater)
        status = data_heater_read(words->heater, &loaded->heater);
    if (status == STATUS_DONE)
        status = look_at_all(words, loaded);
    loaded->array_kwp = options.array_kwp;
    if (status == STATUS_DONE)
        status = read_files(words, &options, loaded);
    return status == STATUS_DONE && words->heater ? take_heater(words->heater, loaded) : status;
}

enum status days_load_for(const struct days_words *words, const char *const paths[], int count,
                          const struct settings *settings, const struct quote_settings *quote,
                          struct data_loaded *loaded, struct data_preview *preview)
{
    *loaded = (struct data_loaded){.paths = paths,
                                   .path_count = count,
                                   .zone = &settings->rules.zone,
                                   .array_kwp = quote->array_w / 1000.0};
    enum status status = days_load(words, loaded);
    tell(&loaded->report, true);
    if (status == STATUS_REFUSED)
        complain(status, "these days cannot be used");
    if (!data_preview_make(preview, loaded))
        status = complain(STATUS_NOT_THERE, "no memory");
    return status;
}
