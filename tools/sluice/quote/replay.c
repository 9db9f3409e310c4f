/* replay.c - what the loads of a settings file would have done on recorded days:
 * `sluice replay`. Needs no daemon. The rules are the daemon's own; what is behind the
 * loads is the house's physics. */
#include "replay.h"

#include <stdlib.h>
#include <string.h>

#include "refine/refine.h"
#include "replay_home.h"
#include "sluice/day/day.h"
#include "sluice/setup/read_settings.h"
#include "sluice/whole_file.h"

enum { OWN_ROWS = 6 };

const char replay_help[] =
    "SETTINGS is a settings file; DAYS a table of what the household used and the\n"
    "roof gave, a line for each step of 1 s to 1 h, separated by comma, semicolon or\n"
    "tab. Columns are found by their names: \"time,use_kw,solar_w\". Or what the\n"
    "customer has: NEM12, Green Button, a row a day, import and export; several files\n"
    "are read as one. \"sluice data\" shows what is understood. The loads' own use\n"
    "must not be in it. What is wrong or doubtful is named with its line.\n"
    "\n"
    "Which column is what, where the names don't say (NAME or its NUMBER from 1):\n"
    "  --time NAME          the time\n"
    "  --use NAME:UNIT      the household's use: W, kW, Wh or kWh\n"
    "  --solar NAME:UNIT    the roof's power; also W/kWp or kW/kWp, with\n"
    "  --array POWER        the size of the array: \"6.6 kWp\" or \"6.6 kW\"\n"
    "  --import, --export NAME:UNIT   at the grid's meter, instead of the use\n"
    "  --grid NAME:UNIT     both in one column, import positive\n"
    "  --draw NAME:UNIT     hot water: l, l/h or l/min\n"
    "  --meter NAME         which connection point (NMI), where a file has several\n"
    "  --ignore NAME        a column or stream that is of no concern\n"
    "How to read it:\n"
    "  --times local | standard | utc   by the settings' zone with its clock changes\n"
    "                       (as if nothing is said), without them, or UTC\n"
    "  --dates dmy | mdy    what 03/04/2026 means\n"
    "  --ends               times mark the end of their step, not its beginning\n"
    "  --gaps hold | day-before   fills gaps of up to a week; otherwise they stop it\n"
    "  --draws FILE         hot water from a second file: litres per hour, a line for\n"
    "                       each minute of a year\n"
    "  --shift-draws DAYS   its seasons moved: 182 for the other half of the earth\n"
    "  --heater-in-data \"22:00-06:00 3.6 kW\"   takes out a water heater that is in\n"
    "                       the household's use at these hours\n"
    "Finer steps:\n"
    "  --refine             hours become seconds, by clouds and appliances that may\n"
    "                       have made them; says what that changes\n"
    "  --seed N             other clouds\n"
    "What is behind the loads:\n"
    "  --tank VOLUME, --set TEMPERATURE   of water heaters: \"315 l\", \"65 C\"\n"
    "  --water m | l | VOLUME   EU tapping profile, or litres a day at 45 C\n"
    "                       (default: the litres of the settings' section quote)\n"
    "  --inlet TEMPERATURE  the mains water's mean over the year\n"
    "  --south              it is coldest in August, where the zone doesn't say\n"
    "What is shown:\n"
    "  --by day | month     rows of the tables\n"
    "  --reasons            what was switched, and why\n"
    "  --day DATE           one day only, hour by hour\n"
    "  --svg FILE           a picture: of all days, or of that day\n"
    "  --csv FILE           a line for each day, for spreadsheets\n"
    "  --maps DIR           where the settings' meter maps are\n";

struct wish {
    const char *svg, *csv, *day, *by, *maps;
    bool reasons;
    struct days_words days;
    struct home_words home;
};

/* All that a replay needs, and what comes of it. */
struct work {
    const struct wish *wish;
    const struct settings *settings;
    const struct quote_settings *quote;
    const char *const *paths; /* of the days; the first stands for all in messages */
    int path_count;
    uint64_t seed;
    struct data_loaded loaded;
    struct data_preview preview;
    struct days fine;
    const struct days *days; /* those, or the loaded ones */
    struct trial_home home;
    struct trial_plan plan;
    struct record record, day_record;
    struct result result; /* of all days */
    struct trial_outcome outcome, outcome_as_told;
    struct result sheet; /* of the one day that is asked for */
    enum replay_by by;
};

/* ---- running ------------------------------------------------------------------------------ */

static void make_plan(struct work *work)
{
    work->plan = (struct trial_plan){
        .strategy = STRATEGY_SLUICE,
        .rules = &work->settings->rules,
        .reads_tank_temperature = settings_read_tank(work->settings, LOAD_ALL),
        .seed = work->seed,
    };
}

static void trace(void *context, const struct trial_span *span)
{
    struct work *work = context;
    record_span(&work->record, span);
    if (work->wish->day)
        record_span(&work->day_record, span);
}

static enum status run_once(struct work *work, const struct days *days, trial_trace *watch,
                            struct trial_outcome *outcome)
{
    struct trouble trouble;
    if (!trial_run(&work->home, days, &work->plan, watch, work, outcome, &trouble))
        return complain(STATUS_REFUSED, "%s", trouble.text);
    if (work->result.lost || work->sheet.lost)
        return complain(STATUS_NOT_THERE, "no memory");
    return STATUS_DONE;
}

static enum status refine(struct work *work)
{
    work->days = &work->loaded.days;
    if (!work->wish->days.refine)
        return STATUS_DONE;
    if (work->loaded.days.step_s <= 60)
        return complain(STATUS_USAGE,
                        "--refine: these days have steps of %d s; minutes and "
                        "shorter ones need no refining",
                        work->loaded.days.step_s);
    const struct refine_settings settings = {.seed = work->seed};
    if (!refine_days(&work->loaded.days, &settings, &work->fine))
        return complain(STATUS_NOT_THERE, "no memory");
    work->days = &work->fine;
    return run_once(work, &work->loaded.days, NULL, &work->outcome_as_told);
}

static enum status check_day(const struct work *work)
{
    const struct days *days = work->days;
    int64_t end_ms = days->first.ms + (int64_t)days->steps * days->step_s * MS_PER_S;
    if (!work->wish->day || (work->sheet.begin_ms < end_ms && work->sheet.end_ms > days->first.ms))
        return STATUS_DONE;
    return complain(STATUS_REFUSED, "\"%s\" has nothing of %s", work->paths[0], work->wish->day);
}

static void begin_records(struct work *work)
{
    const struct days *days = work->days;
    work->result.begin_ms = days->first.ms;
    work->result.end_ms = days->first.ms + (int64_t)days->steps * days->step_s * MS_PER_S;
    work->record = (struct record){.result = &work->result,
                                   .home = &work->home,
                                   .rules = &work->settings->rules,
                                   .piece_ms = 15 * MS_PER_MIN};
    work->day_record = work->record;
    work->day_record.result = &work->sheet;
    work->day_record.piece_ms = 5 * MS_PER_MIN;
    work->day_record.one_day = true;
}

static enum status run(struct work *work)
{
    enum status status = days_load_for(&work->wish->days, work->paths, work->path_count,
                                       work->settings, work->quote, &work->loaded, &work->preview);
    if (status == STATUS_DONE)
        status = home_make(&work->wish->home, work->settings, work->quote,
                           work->loaded.days.draw_l != NULL, &work->home);
    make_plan(work);
    if (status == STATUS_DONE) {
        home_notice_season(&work->home, &work->loaded.days, work->paths[0], &work->loaded.report);
        status = refine(work);
    }
    if (status == STATUS_DONE)
        status = check_day(work);
    if (status != STATUS_DONE)
        return status;
    begin_records(work);
    return run_once(work, work->days, trace, &work->outcome);
}

/* ---- showing ------------------------------------------------------------------------------- */

static struct replay shown(const struct work *work)
{
    return (struct replay){
        .settings = work->settings,
        .home = &work->home,
        .result = &work->result,
        .outcome = &work->outcome,
        .told = work->wish->days.refine ? &work->outcome_as_told : NULL,
        .path = work->paths[0],
        .step_s = work->loaded.days.step_s,
        .water = home_water(&work->wish->home, work->quote, work->loaded.days.draw_l != NULL),
        .by = work->by,
    };
}

static void draw_sheet(const void *context, FILE *to)
{
    replay_draw(context, to);
}

static void draw_day(const void *context, FILE *to)
{
    day_draw(context, to);
}

static void write_csv(const void *context, FILE *to)
{
    replay_write_csv(context, to);
}

static enum status show_file(const char *what, const char *path,
                             void (*write)(const void *context, FILE *to), const void *context)
{
    enum status status = path ? whole_file(path, write, context) : STATUS_DONE;
    if (path && status == STATUS_DONE)
        printf("\n%s: %s\n", what, path);
    return status;
}

static enum status show_day(struct work *work, const struct replay *replay)
{
    const struct wish *wish = work->wish;
    day_runs(&work->sheet);
    day_print(&work->sheet, wish->reasons);
    replay_print_flat(replay);
    return show_file("picture", wish->svg, draw_day, &work->sheet);
}

static enum status show(struct work *work)
{
    struct replay replay = shown(work);
    enum status status = STATUS_DONE;
    data_print_essentials(&work->preview);
    if (work->wish->day) {
        status = show_day(work, &replay);
    } else {
        replay_print(&replay);
        if (work->wish->reasons)
            replay_print_reasons(&replay);
        status = show_file("picture", work->wish->svg, draw_sheet, &replay);
    }
    return status == STATUS_DONE ? show_file("table", work->wish->csv, write_csv, &replay) : status;
}

/* ---- the command ----------------------------------------------------------------------------- */

static enum status read_wish(struct work *work)
{
    const struct wish *wish = work->wish;
    if (wish->by && strcmp(wish->by, "day") != 0 && strcmp(wish->by, "month") != 0)
        return complain(STATUS_USAGE, "--by \"%s\": day or month is expected", wish->by);
    work->by = !wish->by                      ? REPLAY_BY_LENGTH
               : strcmp(wish->by, "day") == 0 ? REPLAY_BY_DAY
                                              : REPLAY_BY_MONTH;
    if (wish->day && !day_set_date(&work->sheet, wish->day))
        return complain(STATUS_USAGE, "--day \"%s\": 2026-01-14 is expected", wish->day);
    return days_seed(&wish->days, &work->seed);
}

static enum status work_with(const struct wish *wish, const struct settings *settings,
                             const struct quote_settings *quote, const char *const paths[],
                             int count)
{
    struct work *work = calloc(1, sizeof(*work));
    if (!work)
        return complain(STATUS_NOT_THERE, "no memory");
    work->wish = wish;
    work->settings = settings;
    work->quote = quote;
    work->paths = paths;
    work->path_count = count;
    work->home.zone = &settings->rules.zone;
    day_take_settings(&work->sheet, settings);
    day_take_settings(&work->result, settings);
    enum status status = read_wish(work);
    if (status == STATUS_DONE)
        status = run(work);
    if (status == STATUS_DONE)
        status = show(work);
    data_preview_free(&work->preview);
    days_free(&work->loaded.days);
    days_free(&work->fine);
    result_free(&work->result);
    result_free(&work->sheet);
    free(work);
    return status;
}

enum status replay_main(struct invocation *at, int argc, char *argv[])
{
    struct wish wish = {0};
    struct option_row rows[OWN_ROWS + DAYS_AND_HOME_ROWS] = {
        {"--svg", &wish.svg, NULL, "the picture's file"},
        {"--csv", &wish.csv, NULL, "the table's file"},
        {"--day", &wish.day, NULL, "a date"},
        {"--by", &wish.by, NULL, "day or month"},
        {"--maps", &wish.maps, NULL, "the folder of the meter maps"},
        {"--reasons", NULL, &wish.reasons, NULL},
    };
    days_and_home_rows(&wish.days, &wish.home, true, rows + OWN_ROWS);
    int words = options_read(at, rows, argc, argv);
    if (words < 0)
        return options_status(words);
    if (words < 2)
        return complain_usage(at, "replay");
    enum status may = whole_file_may(wish.svg);
    if (may == STATUS_DONE)
        may = whole_file_may(wish.csv);
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
