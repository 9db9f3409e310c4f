/* troubles.c - what is wrong now, said once.
 *
 * A trouble has an id and stays until it is solved. It is logged, written to the
 * ledger and raised as an alert when it appears or its text changes, and not again
 * each turn. */
#include "troubles.h"

#include <assert.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "core/text.h"
#include "loop/log.h"

/* Its place in the list; -1: it is not there. */
static int place_of(const struct common *common, const char *id)
{
    for (int k = 0; k < common->trouble_count; k++)
        if (strcmp(common->trouble[k].id, id) == 0)
            return k;
    return -1;
}

static_assert(SITE_TROUBLE_KIND_MAX + 1 + SETTINGS_NAME_MAX <= MQTT_ID_MAX,
              "an id that is cut would stand for two things");
static_assert((int)FAULT_ID_MAX == (int)MQTT_ID_MAX, "a fault's id is its alert's");

void site_trouble_id(char id[static MQTT_ID_MAX], const char *kind, const char *name)
{
    snprintf(id, MQTT_ID_MAX, "%.*s-%.*s", SITE_TROUBLE_KIND_MAX, kind, SETTINGS_NAME_MAX - 1,
             name);
}

/* What the arguments after `format` say, as `line`. */
#define WRITE_LINE(line, size, format)                                                             \
    char line[size];                                                                               \
    struct text text = text_in(line, sizeof(line));                                                \
    va_list arguments;                                                                             \
    va_start(arguments, format);                                                                   \
    text_add_list(&text, format, arguments);                                                       \
    va_end(arguments)

void site_note(struct common *common, const char *subject, const char *format, ...)
{
    WRITE_LINE(line, LEDGER_EVENT_MAX, format);
    log_line(LOG_LEVEL_INFO, "%s: %s", subject, line);
    if (common->ledger)
        ledger_event(common->ledger, common->now, subject, line);
}

bool site_has_trouble(const struct common *common, const char *id)
{
    return place_of(common, id) >= 0;
}

bool site_has_finding(const struct common *common, uint16_t load, enum finding_kind kind)
{
    for (int k = 0; k < common->trouble_count; k++)
        if (common->trouble[k].load == load && common->trouble[k].finding.kind == kind)
            return true;
    return false;
}

static void alert(struct common *common, const char *id, const char *text)
{
    if (common->mqtt && strcmp(id, SITE_TROUBLE_BROKER) != 0)
        mqtt_alert(common->mqtt, id, text);
}

static void raise(struct common *common, const struct fault *fault)
{
    char line[FAULT_NAME_MAX + FAULT_TEXT_MAX];
    struct text text = text_in(line, sizeof(line));
    fault_write_line(fault, &text);
    alert(common, fault->id, line);
}

void site_trouble_again(struct common *common, int k)
{
    raise(common, &common->trouble[k]);
}

static bool is_very_likely(const struct finding *finding)
{
    return fault_sure_percent(finding) >= FAULT_VERY_LIKELY_PERCENT;
}

static void remember_told(struct common *common, int k)
{
    const struct finding *finding = &common->trouble[k].finding;
    struct told *told = &common->told[k];
    told->seen = finding->seen;
    told->very_likely = is_very_likely(finding);
}

static void tell(struct common *common, int k)
{
    const struct fault *fault = &common->trouble[k];
    char line[2 * FAULT_TEXT_MAX], sure[40];
    struct text text = text_in(line, sizeof(line)), how = text_in(sure, sizeof(sure));
    fault_write_line(fault, &text);
    fault_write_sure(&fault->finding, &how);
    if (how.used)
        text_add(&text, " (%s)", sure);
    log_line(LOG_LEVEL_WARNING, "%s", line);
    if (common->ledger)
        ledger_event(common->ledger, common->now, fault->id, fault->text);
    raise(common, fault);
    common->told[k].news++;
    remember_told(common, k);
}

/* ---- what comes and goes --------------------------------------------------------------- */

static struct gone *gone_of(struct common *common, const char *id)
{
    for (int k = 0; k < SITE_GONE_MAX; k++)
        if (strcmp(common->gone[k].id, id) == 0)
            return &common->gone[k];
    return NULL;
}

/* How often it has come, with this time. */
static uint16_t times_of(struct common *common, const char *id)
{
    const struct gone *gone = gone_of(common, id);
    return gone && gone->times < UINT16_MAX ? (uint16_t)(gone->times + 1) : 1;
}

static void note_gone(struct common *common, const struct fault *fault)
{
    struct gone *gone = gone_of(common, fault->id);
    if (fault->finding.kind != FINDING_NONE)
        return; /* it counts its own observations */
    if (!gone)
        gone = &common->gone[common->gone_count++ % SITE_GONE_MAX];
    snprintf(gone->id, sizeof(gone->id), "%s", fault->id);
    gone->times = fault->finding.seen;
}

/* Behind a load's causes come what follows from them, as the kinds do. */
static int place_for(const struct common *common, const struct fault *fault)
{
    for (int k = 0; k < common->trouble_count; k++)
        if (common->trouble[k].load == fault->load &&
            common->trouble[k].finding.kind > fault->finding.kind)
            return k;
    return common->trouble_count;
}

/* Moves what is from `from` on, to make room or to take it. */
static void move(struct common *common, int from, int to)
{
    size_t count = (size_t)(common->trouble_count - from);
    memmove(&common->trouble[to], &common->trouble[from], count * sizeof(common->trouble[0]));
    memmove(&common->told[to], &common->told[from], count * sizeof(common->told[0]));
    common->trouble_count += to - from;
}

/* Its place; -1: there are too many. */
static int add(struct common *common, const struct fault *fault)
{
    if (common->trouble_count == SITE_TROUBLES_MAX)
        return -1;
    int k = place_for(common, fault);
    move(common, k, k + 1);
    common->trouble[k] = *fault;
    common->told[k] = (struct told){.listed = true};
    return k;
}

static void set_known(struct common *common, uint16_t load, const char *id, const char *line)
{
    int k = place_of(common, id);
    if (k >= 0 && strcmp(common->trouble[k].text, line) == 0)
        return;
    if (k < 0) {
        struct fault fault = {.load = load, .finding = {.since = common->now}};
        fault.finding.seen = times_of(common, id);
        snprintf(fault.id, sizeof(fault.id), "%s", id);
        k = add(common, &fault);
    }
    if (k < 0)
        return;
    snprintf(common->trouble[k].text, sizeof(common->trouble[k].text), "%s", line);
    tell(common, k);
}

void site_trouble(struct common *common, const char *id, const char *format, ...)
{
    WRITE_LINE(line, SITE_TROUBLE_TEXT_MAX, format);
    set_known(common, FAULT_OF_SITE, id, line);
}

void site_trouble_of_load(struct common *common, uint16_t load, const char *kind,
                          const char *format, ...)
{
    char id[MQTT_ID_MAX];
    WRITE_LINE(line, SITE_TROUBLE_TEXT_MAX, format);
    site_trouble_id(id, kind, common->settings->names[load].name);
    set_known(common, load, id, line);
}

static void solve(struct common *common, int k, const char *line, const char *event)
{
    const struct fault *fault = &common->trouble[k];
    log_line(LOG_LEVEL_NOTICE, "%s", line);
    if (common->ledger)
        ledger_event(common->ledger, common->now, fault->id, event);
    alert(common, fault->id, NULL);
    note_gone(common, fault);
    move(common, k + 1, k);
}

static void end_at(struct common *common, int k, const char *how)
{
    char line[FAULT_NAME_MAX + FAULT_TEXT_MAX + 64];
    struct text text = text_in(line, sizeof(line));
    text_add(&text, "%s: ", how);
    fault_write_line(&common->trouble[k], &text);
    solve(common, k, line, how);
}

static void end(struct common *common, const char *id, const char *how)
{
    int k = place_of(common, id);
    if (k >= 0)
        end_at(common, k, how);
}

void site_solved(struct common *common, const char *id)
{
    end(common, id, FAULT_SOLVED);
}

void site_unwatched(struct common *common, const char *id)
{
    end(common, id, FAULT_UNWATCHED);
}

void site_solved_saying(struct common *common, const char *id, const char *format, ...)
{
    int k = place_of(common, id);
    if (k < 0)
        return;
    char event[SITE_TROUBLE_TEXT_MAX + 16];
    WRITE_LINE(line, SITE_TROUBLE_TEXT_MAX, format);
    snprintf(event, sizeof(event), FAULT_SOLVED ": %s", line);
    solve(common, k, line, event);
}

/* ---- what is inferred ------------------------------------------------------------------- */

void site_findings_begin(struct common *common)
{
    for (int k = 0; k < common->trouble_count; k++)
        common->told[k].listed = common->trouble[k].finding.kind == FINDING_NONE;
}

static bool is_news(const struct told *told, const struct finding *finding)
{
    return told->news == 0 || told->very_likely != is_very_likely(finding) ||
           finding->seen > 2 * told->seen;
}

/* One that was told, and does not show now. */
static void keep(struct common *common, int k, const struct fault *fault)
{
    if (fault->finding.standing == FINDING_EXPLAINED)
        end_at(common, k, FAULT_UNSUPPOSED);
    else
        common->told[k].listed = true;
}

void site_finding(struct common *common, const struct fault *fault)
{
    int k = place_of(common, fault->id);
    if (fault->finding.standing != FINDING_STANDS) {
        if (k >= 0)
            keep(common, k, fault);
        return;
    }
    if (k < 0)
        k = add(common, fault);
    if (k < 0)
        return;
    common->trouble[k] = *fault;
    common->told[k].listed = true;
    if (is_news(&common->told[k], &fault->finding))
        tell(common, k);
}

void site_finding_stood(struct common *common, const struct fault *fault)
{
    int k = add(common, fault);
    if (k < 0)
        return;
    remember_told(common, k);
    common->told[k].news = 1;
    log_line(LOG_LEVEL_WARNING, "still: %s: %s", fault->name, fault->text);
    ledger_event(common->ledger, common->now, fault->id, fault->text);
    raise(common, fault);
}

void site_findings_end(struct common *common, bool settings_changed)
{
    for (int k = common->trouble_count; k-- > 0;)
        if (!common->told[k].listed)
            end_at(common, k, settings_changed ? FAULT_UNWATCHED : FAULT_SOLVED);
}

void site_troubles_renumber(struct common *common, const struct settings *before,
                            const struct settings *after)
{
    for (int k = common->trouble_count; k-- > 0;) {
        struct fault *fault = &common->trouble[k];
        int now = fault->load == FAULT_OF_SITE
                      ? FAULT_OF_SITE
                      : settings_find_load(after, before->names[fault->load].name);
        if (now < 0)
            end_at(common, k, FAULT_UNWATCHED);
        else
            fault->load = (uint16_t)now;
    }
}
