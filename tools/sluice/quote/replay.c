/* replay.c - what the loads of a settings file would have done on recorded days:
 * `sluice replay`. Needs no daemon. The rules are the daemon's own; what is behind the
 * loads is the house's physics. */
#include "replay.h"

#include <stdlib.h>
#include <string.h>

#include "refine/refine.h"
#include "replay_days.h"
#include "replay_home.h"
#include "sluice/setup/read_settings.h"
#include "sluice/whole_file.h"

enum { OWN_ROWS = 6, END_OF_ROWS = 1 };

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
    const char *path;
    uint64_t seed;
    struct days told, fine;
    struct days_report report; /* of the days */
    const struct days *days;   /* one of them */
    struct trial_home home;
    struct trial_plan plan;
    struct replay_record record;
    struct trial_outcome outcome, outcome_as_told;
    struct day sheet;
    enum replay_by by;
};

/* ---- running ------------------------------------------------------------------------------ */

static bool has_meter(const struct settings *settings, enum meter_role role)
{
    for (int k = 0; k < settings->meter_count; k++)
        if (settings->meters[k].role == role)
            return true;
    return false;
}

static void make_plan(struct work *work)
{
    work->plan = (struct trial_plan){
        .strategy = STRATEGY_SLUICE,
        .rules = &work->settings->rules,
        .reads_tank_temperature = has_meter(work->settings, ROLE_TANK),
        .seed = work->seed,
    };
}

static enum status run_once(struct work *work, const struct days *days, trial_trace *trace,
                            struct trial_outcome *outcome)
{
    struct trouble trouble;
    if (trial_run(&work->home, days, &work->plan, trace, &work->record, outcome, &trouble))
        return STATUS_DONE;
    return complain(STATUS_REFUSED, "%s", trouble.text);
}

static enum status refine(struct work *work)
{
    work->days = &work->told;
    if (!work->wish->days.refine)
        return STATUS_DONE;
    if (work->told.step_s <= 60)
        return complain(STATUS_USAGE,
                        "--refine: these days have steps of %d s; minutes and "
                        "shorter ones need no refining",
                        work->told.step_s);
    const struct refine_settings settings = {.seed = work->seed};
    if (!refine_days(&work->told, &settings, &work->fine))
        return complain(STATUS_NOT_THERE, "no memory");
    work->days = &work->fine;
    return run_once(work, &work->told, NULL, &work->outcome_as_told);
}

static enum status check_day(const struct work *work)
{
    const struct days *days = work->days;
    int64_t end_ms = days->first.ms + (int64_t)days->steps * days->step_s * MS_PER_S;
    if (!work->wish->day || (work->sheet.begin_ms < end_ms && work->sheet.end_ms > days->first.ms))
        return STATUS_DONE;
    return complain(STATUS_REFUSED, "\"%s\" has nothing of %s", work->path, work->wish->day);
}

static enum status run(struct work *work)
{
    enum status status = days_load(&work->wish->days, work->path, work->settings, work->quote,
                                   &work->told, &work->report);
    if (status == STATUS_DONE)
        status = home_make(&work->wish->home, work->settings, work->quote,
                           work->told.draw_l != NULL, &work->home);
    make_plan(work);
    if (status == STATUS_DONE) {
        home_notice_season(&work->home, &work->told, work->path, &work->report);
        status = refine(work);
    }
    if (status == STATUS_DONE)
        status = check_day(work);
    if (status != STATUS_DONE)
        return status;
    replay_record_begin(&work->record, work->settings, &work->home,
                        work->wish->day ? &work->sheet : NULL);
    return run_once(work, work->days, replay_record_span, &work->outcome);
}

/* ---- showing ------------------------------------------------------------------------------- */

static struct replay shown(const struct work *work)
{
    return (struct replay){
        .settings = work->settings,
        .home = &work->home,
        .record = &work->record,
        .outcome = &work->outcome,
        .told = work->wish->days.refine ? &work->outcome_as_told : NULL,
        .path = work->path,
        .step_s = work->told.step_s,
        .water = home_water(&work->wish->home, work->quote, work->told.draw_l != NULL),
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

static int by_time(const void *a, const void *b)
{
    const struct day_event *first = a, *second = b;
    return (first->at_ms > second->at_ms) - (first->at_ms < second->at_ms);
}

/* The day's events and those of two days before, as the ledger would give them. */
static void fill_events(struct work *work)
{
    struct day *day = &work->sheet;
    day->event = calloc(work->record.event_count + 1, sizeof(day->event[0]));
    if (!day->event)
        exit((int)complain(STATUS_NOT_THERE, "no memory"));
    for (size_t k = 0; k < work->record.event_count; k++) {
        const struct replay_event *from = &work->record.event[k];
        if (from->at_ms < day->begin_ms - 2 * MS_PER_DAY || from->at_ms >= day->end_ms)
            continue;
        struct day_event *event = &day->event[day->event_count++];
        struct text subject = text_in(event->subject, sizeof(event->subject));
        struct text text = text_in(event->text, sizeof(event->text));
        event->at_ms = from->at_ms;
        text_add(&subject, "%s", work->settings->names[from->load].name);
        text_add(&text, "%s", from->text);
    }
    qsort(day->event, day->event_count, sizeof(day->event[0]), by_time);
    day_runs(day);
}

static enum status show_day(struct work *work, const struct replay *replay)
{
    const struct wish *wish = work->wish;
    fill_events(work);
    day_print(&work->sheet, wish->reasons);
    replay_print_flat(replay);
    return show_file("picture", wish->svg, draw_day, &work->sheet);
}

static enum status show(struct work *work)
{
    struct replay replay = shown(work);
    enum status status = STATUS_DONE;
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
                             const struct quote_settings *quote, const char *path)
{
    struct work *work = calloc(1, sizeof(*work));
    if (!work)
        return complain(STATUS_NOT_THERE, "no memory");
    work->wish = wish;
    work->settings = settings;
    work->quote = quote;
    work->path = path;
    work->home.zone = &settings->rules.zone;
    day_take_settings(&work->sheet, settings);
    enum status status = read_wish(work);
    if (status == STATUS_DONE)
        status = run(work);
    if (status == STATUS_DONE)
        status = show(work);
    days_free(&work->told);
    days_free(&work->fine);
    replay_record_free(&work->record);
    day_free(&work->sheet);
    free(work);
    return status;
}

enum status replay_main(struct invocation *at, int argc, char *argv[])
{
    struct wish wish = {0};
    struct option_row rows[OWN_ROWS + DAYS_OPTION_ROWS + HOME_OPTION_ROWS + END_OF_ROWS] = {
        {"--svg", &wish.svg, NULL, "the picture's file"},
        {"--csv", &wish.csv, NULL, "the table's file"},
        {"--day", &wish.day, NULL, "a date"},
        {"--by", &wish.by, NULL, "day or month"},
        {"--maps", &wish.maps, NULL, "the folder of the meter maps"},
        {"--reasons", NULL, &wish.reasons, NULL},
    };
    days_option_rows(&wish.days, rows + OWN_ROWS);
    home_option_rows(&wish.home, rows + OWN_ROWS + DAYS_OPTION_ROWS);
    int words = options_read(at, rows, argc, argv);
    if (words < 0)
        return options_status(words);
    if (words != 2)
        return complain_usage("replay");
    enum status may = whole_file_may(wish.svg);
    if (may == STATUS_DONE)
        may = whole_file_may(wish.csv);
    if (may != STATUS_DONE)
        return may;
    enum status status;
    struct quote_settings quote;
    struct settings *settings = read_settings(argv[1], wish.maps, &quote, &status);
    if (settings)
        status = work_with(&wish, settings, &quote, argv[2]);
    settings_free(settings);
    return status;
}
