/* compare.c - the same home and days under every way of heating its water:
 * `sluice compare`. Needs no daemon. */
#include "compare.h"

#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "quote/compare.h"
#include "replay_home.h"
#include "sluice/options.h"
#include "sluice/setup/read_settings.h"
#include "sluice/whole_file.h"

enum { OWN_ROWS = 5, SEEDS = 3, LOG_EVERY_S = 5 };

const char compare_help[] =
    "SETTINGS is a settings file, DAYS a table of days as for \"sluice replay\", whose\n"
    "options for columns, times and the home hold here too (\"sluice help replay\").\n"
    "Assumptions of the quote, such as what each way costs to buy, stand in the\n"
    "settings' section quote (\"sluice explain quote\").\n"
    "  --load NAME    which water heater, where there are several\n"
    "  --tune         looks for start fraction, stop margin and floor of least cost\n"
    "                 without more spoilt showers, and prints the lines to change\n"
    "  --seeds N      days of more than a minute a step are made minutes, by clouds\n"
    "                 and appliances as they may have been, N times over (3)\n"
    "  --html FILE    one page for the customer, with pictures, to print on A4\n"
    "  --maps DIR     where the settings' meter maps are\n";

struct wish {
    const char *load, *html, *seeds, *maps;
    bool tune;
    int seed_count;
    struct days_words days;
    struct home_words home;
};

struct work {
    struct wish *wish;
    struct settings *settings; /* of one load, once it is picked */
    struct quote_settings quote;
    const char *const *paths; /* of the days; the first stands for all in messages */
    int path_count;
    struct data_loaded loaded;
    struct data_preview preview;
    struct trial_home home;
    struct compare compare;
    struct compare_verdict verdict;
    struct result report;
    struct comparison comparison;
    struct timespec begun, told; /* told: the last line of progress */
    int runs;
};

/* ---- the one heater --------------------------------------------------------------- */

static int find_load(const struct settings *settings, const char *name)
{
    for (int k = 0; k < settings->rules.load_count; k++)
        if (name ? strcmp(settings->names[k].name, name) == 0 : settings->loads[k].thermostat)
            return k;
    return -1;
}

static enum status pick_load(struct work *work)
{
    struct settings *settings = work->settings;
    int k = find_load(settings, work->wish->load);
    if (k < 0 && work->wish->load)
        return complain(STATUS_REFUSED, "--load \"%s\": there is no such load", work->wish->load);
    if (k < 0 || !settings->loads[k].thermostat)
        return complain(STATUS_REFUSED, "a water heater is expected to compare: a load with "
                                        "thermostat: yes");
    work->comparison.left_out = settings->rules.load_count - 1;
    settings->loads[0] = settings->loads[k];
    settings->names[0] = settings->names[k];
    settings->order[0] = 0;
    settings->rules.load_count = 1;
    return STATUS_DONE;
}

/* ---- progress ------------------------------------------------------------------------ */

static double seconds_since(const struct timespec *then)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)(now.tv_sec - then->tv_sec) + 1e-9 * (double)(now.tv_nsec - then->tv_nsec);
}

/* Without a terminal a line when a part of the work is done, and now and then within it, so
 * that whoever waits at the other end of a pipe or a log knows that it is alive. */
static void log_progress(struct work *work, const char *what, int done, int of)
{
    if (done < of && seconds_since(&work->told) < LOG_EVERY_S)
        return;
    clock_gettime(CLOCK_MONOTONIC, &work->told);
    fprintf(stderr, "%s: %d of %d runs\n", what, done, of);
}

static void show_progress(void *context, const char *what, int done, int of)
{
    enum { BAR = 30 };
    struct work *work = context;
    work->runs++;
    if (!isatty(STDERR_FILENO)) {
        log_progress(work, what, done, of);
        return;
    }
    int full = of > 0 ? done * BAR / of : BAR;
    fprintf(stderr, "\r%-24s [%.*s%*s] %d/%d ", what, full, "##############################",
            BAR - full, "", done, of);
}

static void end_progress(const struct work *work)
{
    fprintf(stderr, "%s%d runs in %.1f s\n", isatty(STDERR_FILENO) ? "\r\033[K" : "", work->runs,
            seconds_since(&work->begun));
}

/* ---- running -------------------------------------------------------------------------- */

static enum status run(struct work *work)
{
    struct trouble trouble = {0};
    const struct compare_wish wish = {
        .home = &work->home,
        .days = &work->loaded.days,
        .rules = &work->settings->rules,
        .quote = &work->quote,
        .reads_tank_temperature = settings_read_tank(work->settings, LOAD_ALL),
        .seeds = work->wish->seed_count,
        .tune = work->wish->tune,
        .progress = show_progress,
        .context = work,
    };
    clock_gettime(CLOCK_MONOTONIC, &work->begun);
    work->told = work->begun;
    if (!compare_run(&work->compare, &wish, &trouble)) {
        if (isatty(STDERR_FILENO))
            fputs("\r\033[K", stderr);
        return complain(STATUS_REFUSED, "%s", trouble.text);
    }
    end_progress(work);
    compare_judge(&work->compare, &work->verdict);
    return STATUS_DONE;
}

/* ---- showing --------------------------------------------------------------------------- */

static void write_page(const void *context, FILE *to)
{
    compare_write_page(context, to);
}

/* The page draws what is recommended; where that is to buy nothing, sluice, to show why. */
static enum status write_html(struct work *work)
{
    struct trouble trouble = {0};
    enum compare_way way = work->verdict.buy == WAY_ALWAYS_ON ? WAY_SLUICE : work->verdict.buy;
    if (!report_make(&work->compare, way, &work->report, &trouble))
        return complain(STATUS_REFUSED, "%s", trouble.text);
    work->comparison.report = &work->report;
    work->comparison.reported = way;
    enum status status = whole_file(work->wish->html, write_page, &work->comparison);
    if (status == STATUS_DONE)
        printf("\npage: %s\n", work->wish->html);
    return status;
}

static enum status show(struct work *work)
{
    work->comparison.settings = work->settings;
    work->comparison.compare = &work->compare;
    work->comparison.verdict = &work->verdict;
    work->comparison.path = work->paths[0];
    work->comparison.made_on =
        local_of_wall(&work->settings->rules.zone, (struct wall){(int64_t)time(NULL) * MS_PER_S})
            .day;
    work->comparison.days_report = &work->loaded.report;
    work->comparison.water =
        home_water(&work->wish->home, &work->quote, work->loaded.days.draw_l != NULL);
    data_print_essentials(&work->preview);
    compare_print(&work->comparison);
    return work->wish->html ? write_html(work) : STATUS_DONE;
}

static enum status do_all(struct work *work)
{
    enum status status = pick_load(work);
    if (status == STATUS_DONE)
        status = days_load_for(&work->wish->days, work->paths, work->path_count, work->settings,
                               &work->quote, &work->loaded, &work->preview);
    if (status == STATUS_DONE)
        status = home_make(&work->wish->home, work->settings, &work->quote,
                           work->loaded.days.draw_l != NULL, &work->home);
    if (status == STATUS_DONE) {
        home_notice_season(&work->home, &work->loaded.days, work->paths[0], &work->loaded.report);
        status = run(work);
    }
    return status == STATUS_DONE ? show(work) : status;
}

static enum status work_with(struct wish *wish, struct settings *settings,
                             const struct quote_settings *quote, const char *const paths[],
                             int count)
{
    struct work *work = calloc(1, sizeof(*work));
    if (!work)
        return complain(STATUS_NOT_THERE, "no memory");
    work->wish = wish;
    work->settings = settings;
    work->quote = *quote;
    work->paths = paths;
    work->path_count = count;
    enum status status = do_all(work);
    result_free(&work->report);
    compare_free(&work->compare);
    data_preview_free(&work->preview);
    days_free(&work->loaded.days);
    free(work);
    return status;
}

/* ---- the command -------------------------------------------------------------------------- */

static enum status read_seeds(struct wish *wish)
{
    char *end = NULL;
    wish->seed_count = SEEDS;
    if (!wish->seeds)
        return STATUS_DONE;
    long value = strtol(wish->seeds, &end, 10);
    if (end == wish->seeds || *end || value < 1 || value > COMPARE_SEEDS_MAX)
        return complain(STATUS_USAGE, "--seeds \"%s\": a whole number of 1 to %d is expected",
                        wish->seeds, COMPARE_SEEDS_MAX);
    wish->seed_count = (int)value;
    return STATUS_DONE;
}

enum status compare_main(struct invocation *at, int argc, char *argv[])
{
    struct wish wish = {0};
    struct option_row rows[OWN_ROWS + DAYS_AND_HOME_ROWS] = {
        {"--load", &wish.load, NULL, "a load's name"},
        {"--html", &wish.html, NULL, "the page's file"},
        {"--seeds", &wish.seeds, NULL, "a whole number"},
        {"--maps", &wish.maps, NULL, "the folder of the meter maps"},
        {"--tune", NULL, &wish.tune, NULL},
    };
    /* Days are made finer here in a way of its own. */
    days_and_home_rows(&wish.days, &wish.home, false, rows + OWN_ROWS);
    int words = options_read(at, rows, argc, argv);
    if (words < 0)
        return options_status(words);
    if (words < 2)
        return complain_usage(at, "compare");
    if (read_seeds(&wish) != STATUS_DONE)
        return STATUS_USAGE;
    enum status may = whole_file_may(wish.html);
    if (may != STATUS_DONE)
        return may;
    enum status status;
    struct quote_settings quote;
    struct settings *settings = read_settings(argv[1], wish.maps, &quote, &status);
    if (settings)
        status = work_with(&wish, settings, &quote, (const char *const *)argv + 2, words - 1);
    settings_free(settings);
    return status;
}
