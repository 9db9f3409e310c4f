/* faults.c - findings among the edges: what they are told, and where they are told.
 *
 * A finding is a trouble like any other, with an id that stays: its kind and the name of what it
 * is about. */
#include "faults.h"

#include <assert.h>
#include <stdio.h>
#include <string.h>

#include "denied.h"
#include "loop/log.h"
#include "troubles.h"
#include "values/finding_input.h"

#define SITE_KEY "findings"

/* ---- settings ---------------------------------------------------------------------- */

static void take_settings(struct faults *faults, const struct settings *settings)
{
    faults->settings = finding_settings(&settings->rules, faults->load_settings);
    for (uint16_t i = 0; i < settings->rules.load_count; i++)
        faults->load_settings[i].rated_operations = settings->names[i].rated_operations;
}

/* ---- as troubles -------------------------------------------------------------------- */

static const char *meter_name(const struct settings *settings, enum meter_role role)
{
    for (uint8_t k = 0; k < settings->meter_count; k++)
        if (settings->meters[k].role == role)
            return settings->meters[k].name;
    return "meter";
}

static bool is_of_load(const struct finding *finding)
{
    return finding_subject((enum finding_kind)finding->kind) == FINDING_OF_LOAD ||
           finding->kind == FINDING_PHASES_SWAPPED;
}

static const char *name_of(const struct settings *settings, const struct finding *finding)
{
    if (is_of_load(finding))
        return settings->names[finding->index].name;
    return meter_name(settings, finding->kind == FINDING_SOLAR_GONE ? ROLE_SOLAR : ROLE_GRID);
}

static void write_id(const char *name, const struct finding *finding, struct fault *fault)
{
    enum finding_kind kind = (enum finding_kind)finding->kind;
    struct text id = text_in(fault->id, sizeof(fault->id));
    text_add(&id, "%s-%s", finding_id(kind), name);
    if (finding_subject(kind) == FINDING_OF_PHASE)
        text_add(&id, "-l%u", finding->phase);
    assert(!id.full);
}

/* A guarantee says what keeps its load off; the engine knows that by its own words. */
static void write_text(const struct finding *finding, struct fault *fault)
{
    struct text text = text_in(fault->text, sizeof(fault->text));
    finding_write(finding, &text);
    if (finding->kind == FINDING_GUARANTEE_AT_RISK && finding->number[1] >= 0 &&
        *denied_text((enum denied_by)finding->number[3]))
        text_add(&text, "; kept off by %s", denied_text((enum denied_by)finding->number[3]));
}

static struct fault fault_of(const struct settings *settings, const struct finding *finding)
{
    struct fault fault = {.load = is_of_load(finding) ? finding->index : FAULT_OF_SITE,
                          .finding = *finding};
    const char *name = name_of(settings, finding);
    bool of_phase = finding_subject((enum finding_kind)finding->kind) == FINDING_OF_PHASE;
    write_id(name, finding, &fault);
    snprintf(fault.name, sizeof(fault.name), of_phase ? "%.26s L%u" : "%.31s", name,
             finding->phase);
    write_text(finding, &fault);
    return fault;
}

static void tell(struct faults *faults, struct common *common)
{
    struct finding findings[SITE_FINDINGS_MAX];
    uint16_t count = findings_list(&faults->settings, &faults->memory, findings, SITE_FINDINGS_MAX);
    site_findings_begin(common);
    for (uint16_t k = 0; k < count; k++) {
        struct fault fault = fault_of(common->settings, &findings[k]);
        site_finding(common, &fault);
    }
    site_findings_end(common, faults->settings_changed);
    faults->settings_changed = false;
}

/* ---- a turn --------------------------------------------------------------------------- */

void faults_turn(struct faults *faults, const struct engine *engine, const struct inputs *inputs,
                 struct common *common)
{
    struct findings_load loads[SETTINGS_LOADS_MAX];
    const struct rules_input turn = {.reading = &inputs->reading,
                                     .load_reading = inputs->load_reading,
                                     .confirmations = engine->news,
                                     .confirmation_count = engine->news_count,
                                     .now = common->now};
    struct findings_input input = finding_input(&common->settings->rules, &engine->memory, &turn,
                                                engine->decisions, &engine->outcome, loads);
    findings_turn(&faults->settings, &faults->memory, &input);
    tell(faults, common);
}

/* ---- over restarts and reloads ---------------------------------------------------------- */

static void load_key(const char *name, char key[static LEDGER_KEY_MAX])
{
    snprintf(key, LEDGER_KEY_MAX, "findings/%s", name);
}

_Static_assert((int)FINDINGS_NOTE_MAX <= (int)LEDGER_TEXT_MAX, "what is suspected can be stored");

static void write_note(struct common *common, const char *key, const struct text *text)
{
    if (text->full)
        log_line(LOG_LEVEL_ERROR, "%s: too long to be stored", key);
    else
        ledger_note(common->ledger, key, text->at);
}

void faults_save(const struct faults *faults, struct common *common)
{
    char key[LEDGER_KEY_MAX], buffer[LEDGER_TEXT_MAX];
    for (uint16_t i = 0; i < common->settings->rules.load_count; i++) {
        struct text text = text_in(buffer, sizeof(buffer));
        findings_load_save(&faults->memory, i, &text);
        load_key(common->settings->names[i].name, key);
        write_note(common, key, &text);
    }
    struct text text = text_in(buffer, sizeof(buffer));
    findings_site_save(&faults->memory, &text);
    write_note(common, SITE_KEY, &text);
}

static void restore_load(struct faults *faults, struct common *common, const char *name,
                         uint16_t index, int64_t away_ms)
{
    char key[LEDGER_KEY_MAX], text[LEDGER_TEXT_MAX];
    load_key(name, key);
    if (ledger_note_read(common->ledger, key, text) &&
        !findings_load_restore(&faults->memory, index, text, common->now, away_ms))
        site_note(common, name, "what its switchings showed cannot be read: that starts over");
}

static void restore_site(struct faults *faults, struct common *common, int64_t away_ms)
{
    char text[LEDGER_TEXT_MAX];
    if (ledger_note_read(common->ledger, SITE_KEY, text) &&
        !findings_site_restore(&faults->memory, text, common->now, away_ms))
        site_note(common, "site", "what the meters showed cannot be read: that starts over");
}

static void tell_what_stood(const struct faults *faults, struct common *common)
{
    struct finding findings[SITE_FINDINGS_MAX];
    uint16_t count = findings_list(&faults->settings, &faults->memory, findings, SITE_FINDINGS_MAX);
    for (uint16_t k = 0; k < count; k++) {
        struct fault fault = fault_of(common->settings, &findings[k]);
        if (findings[k].standing != FINDING_EXPLAINED)
            site_finding_stood(common, &fault);
    }
}

void faults_begin(struct faults *faults, struct common *common, int64_t away_ms)
{
    take_settings(faults, common->settings);
    findings_begin(&faults->settings, &faults->memory, faults->loads, common->now);
    for (uint16_t i = 0; i < common->settings->rules.load_count; i++)
        restore_load(faults, common, common->settings->names[i].name, i, away_ms);
    restore_site(faults, common, away_ms);
    ledger_event(common->ledger, common->now, SITE_FAULTS_SUBJECT, "begins");
    tell_what_stood(faults, common);
}

void faults_carry(struct faults *faults, struct common *common, const struct settings *before,
                  const struct settings *after)
{
    /* too large for a stack */
    static struct findings_load_memory was[SETTINGS_LOADS_MAX];
    static struct findings_load_settings old[SETTINGS_LOADS_MAX];
    struct findings_memory site = faults->memory;
    memcpy(was, faults->loads, sizeof(was));
    memcpy(old, faults->load_settings, sizeof(old));
    faults->settings_changed = true;
    take_settings(faults, after);
    findings_begin(&faults->settings, &faults->memory, faults->loads, common->now);
    faults->memory = site;
    for (uint16_t j = 0; j < after->rules.load_count; j++) {
        const char *name = after->names[j].name;
        int i = settings_find_load(before, name);
        if (i >= 0)
            faults->loads[j] = was[i];
        else
            restore_load(faults, common, name, j, -1); /* it may have been here before */
        if (i >= 0)
            findings_load_change(&old[i], &faults->load_settings[j], &faults->loads[j]);
    }
}
