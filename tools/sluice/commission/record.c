/* record.c - one text in two forms. What was not stated or not measured is said to be so. */
#include "record.h"

#include <string.h>

#include "sluice/handover/paper.h"
#include "sluice/live/say.h"
#include "sluice/page/show.h"
#include "sluice/whole_file.h"

enum { CELL_MAX = 200 };

struct record {
    const struct session *session;
    const char *settings_path;
    struct walk_step walk[WALK_MAX];
    int count;
    bool plain;
};

static const char *or_not_stated(const char *text)
{
    return *text ? text : "not stated";
}

/* "2026-01-14 10:20" of "2026-01-14T10:20:19+11:00"; "not stated" where there is none. */
static const char *write_time(char buffer[static CELL_MAX], const char *iso)
{
    const char *clock = strchr(iso, 'T');
    struct text text = text_in(buffer, CELL_MAX);
    if (clock)
        text_add(&text, "%.*s %.5s", (int)(clock - iso), iso, clock + 1);
    else
        text_add(&text, "not stated");
    return buffer;
}

/* ---- who, where, when ---------------------------------------------------------------------- */

static void tell_head(const struct record *record, struct paper *paper)
{
    const struct settings *settings = record->session->settings;
    const struct progress *progress = &record->session->progress;
    const struct installer *installer = &settings->installer;
    const char *name = *installer->name ? installer->name : progress_word(progress, "installer");
    char begun[CELL_MAX], ended[CELL_MAX];
    paper_list_begin(paper);
    paper_item(paper, "Begun %s, this record %s.",
               write_time(begun, words(progress_part(progress, "before"), "time")),
               write_time(ended, words(progress_part(progress, "after"), "time")));
    paper_item(paper, "Installer: %s; licence: %s; phone: %s.", or_not_stated(name),
               or_not_stated(installer->licence), or_not_stated(installer->phone));
    paper_item(paper, "sluiced %s; settings %s, SHA-256 %s.",
               or_not_stated(words(record->session->status, "version")), record->settings_path,
               progress->settings);
    paper_list_end(paper);
}

static void tell_sum(const struct record *record, struct paper *paper)
{
    char text_of[CELL_MAX];
    struct text text = text_in(text_of, sizeof(text_of));
    struct walk_tally tally = walk_count(record->session, record->walk, record->count);
    int open = tally.of[STEP_OPEN] + tally.of[STEP_NOT_NOW] + tally.of[STEP_NEEDS_PERSON];
    walk_tally_write(&tally, &text);
    paper_say(paper, "%d steps: %s.", record->count, text_of);
    if (tally.of[STEP_FAIL] > 0)
        paper_warn(paper, "Not as it should be.",
                   "At least one step failed: see below, put it right and repeat it.");
    else if (open > 0)
        paper_warn(paper, "Not complete.", "Some steps could not be done, or not yet: see below.");
}

/* ---- readings -------------------------------------------------------------------------------- */

/* The member `phase` of a list, or with -1 the value itself. */
static void write_reading(const cJSON *part, const char *key, int phase, bool volts,
                          struct text *text)
{
    const cJSON *item = get(get(part, "reading"), key);
    item = phase < 0 ? item : cJSON_GetArrayItem(item, phase);
    if (!cJSON_IsNumber(item))
        text_add(text, "not measured");
    else if (volts)
        text_add(text, "%d V", item->valueint / 1000);
    else
        show_power(text, item->valueint);
}

static void tell_reading(const struct record *record, struct paper *paper, const char *title,
                         const char *key, int phase)
{
    char cells[2][CELL_MAX], name[CELL_MAX];
    const struct progress *progress = &record->session->progress;
    const cJSON *parts[] = {progress_part(progress, "before"), progress_part(progress, "after")};
    for (int k = 0; k < 2; k++) {
        struct text text = text_in(cells[k], sizeof(cells[k]));
        write_reading(parts[k], key, phase, strcmp(key, "voltage_mv") == 0, &text);
    }
    snprintf(name, sizeof(name), phase < 0 ? "%s" : "%s L%d", title, phase + 1);
    paper_row(paper, (const char *const[]){name, cells[0], cells[1], NULL});
}

static void tell_energy(const struct record *record, struct paper *paper, const char *title,
                        const char *key)
{
    char cells[2][CELL_MAX];
    const struct progress *progress = &record->session->progress;
    const cJSON *parts[] = {progress_part(progress, "before"), progress_part(progress, "after")};
    for (int k = 0; k < 2; k++) {
        struct text text = text_in(cells[k], sizeof(cells[k]));
        int64_t energy_mwh;
        if (number(parts[k], key, &energy_mwh))
            show_energy(&text, energy_mwh);
        else
            text_add(&text, "not measured");
    }
    paper_row(paper, (const char *const[]){title, cells[0], cells[1], NULL});
}

static void tell_readings(const struct record *record, struct paper *paper)
{
    int phases = record->session->settings->rules.phase_count;
    paper_heading(paper, "Readings");
    paper_table_begin(paper, (const char *const[]){"", "before", "after", NULL});
    tell_reading(record, paper, "Grid, import positive", "grid_power_w", -1);
    for (int p = 0; p < phases; p++)
        tell_reading(record, paper, "Grid", "phase_power_w", p);
    for (int p = 0; p < phases; p++)
        tell_reading(record, paper, "Voltage", "voltage_mv", p);
    tell_reading(record, paper, "Solar", "solar_power_w", -1);
    tell_reading(record, paper, "Battery, charging positive", "battery_power_w", -1);
    tell_energy(record, paper, "Imported, as sluiced counts", "import_mwh");
    tell_energy(record, paper, "Exported, as sluiced counts", "export_mwh");
    paper_table_end(paper);
}

/* ---- steps ------------------------------------------------------------------------------------
 */

static void tell_steps(const struct record *record, struct paper *paper)
{
    paper_heading(paper, "Steps");
    paper_table_begin(
        paper, (const char *const[]){"step", "result", "what showed it, or why not", "at", NULL});
    for (int k = 0; k < record->count; k++) {
        struct step_result result;
        char at[CELL_MAX];
        const char *time = "";
        bool done = progress_result(&record->session->progress, record->walk[k].id, &result, &time);
        paper_row(paper,
                  (const char *const[]){record->walk[k].title, step_outcome_words(result.outcome),
                                        result.evidence, done ? write_time(at, time) : "", NULL});
    }
    paper_table_end(paper);
}

static void tell_cautions(const struct record *record, struct paper *paper)
{
    for (int k = 0; k < record->count; k++) {
        struct step_result result;
        progress_result(&record->session->progress, record->walk[k].id, &result, NULL);
        if (*result.caution)
            paper_warn(paper, "Caution.", result.caution);
    }
    paper_warn(paper, "Caution.",
               "Off is not isolation: isolate all supplies and prove dead before opening. sluice "
               "is part of no protection: thermostats, cut-outs, RCDs, fuses and breakers stay in "
               "circuit, and mains work is licensed practice by the local code. Stored hot water "
               "scalds, and under 60 \u00b0C Legionella can grow: a tempering valve, and heating "
               "through, as the local code asks.");
}

static void write_record(const void *context, FILE *to)
{
    const struct record *record = context;
    const struct settings *settings = record->session->settings;
    struct paper paper = {.to = to, .plain = record->plain};
    char title[120];
    snprintf(title, sizeof(title), "Commissioning: %s", settings->site_name);
    paper_begin(&paper, title);
    paper_page(&paper, title, "of what was tested and read; what was not is named");
    tell_head(record, &paper);
    tell_sum(record, &paper);
    tell_readings(record, &paper);
    tell_steps(record, &paper);
    tell_cautions(record, &paper);
    paper_say(&paper, "Name, date, signature: ________________________________");
    paper_end(&paper);
}

/* ---- files -------------------------------------------------------------------------------------
 */

static enum status write_as(struct record *record, bool plain, const char *path)
{
    record->plain = plain;
    enum status status = whole_file(path, write_record, record);
    if (status == STATUS_DONE)
        printf("%s\n", path);
    return status;
}

static bool ends_in(const char *name, const char *end)
{
    size_t length = strlen(name), of = strlen(end);
    return length > of && strcmp(name + length - of, end) == 0;
}

enum status record_write(const struct session *session, const char *settings_path, const char *name)
{
    static const char *const ends[] = {".html", ".md"};
    struct record record = {.session = session, .settings_path = settings_path};
    enum status status = STATUS_DONE;
    record.count = walk_of(session->settings, record.walk);
    for (int k = 0; k < 2; k++)
        if (ends_in(name, ends[k]))
            return write_as(&record, k == 1, name);
    for (int k = 0; k < 2 && status == STATUS_DONE; k++) {
        char path[4096];
        snprintf(path, sizeof(path), "%s%s", name, ends[k]);
        status = write_as(&record, k == 1, path);
    }
    return status;
}
