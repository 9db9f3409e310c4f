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

static struct site_trouble *find(struct common *common, const char *id)
{
    for (int k = 0; k < common->trouble_count; k++)
        if (strcmp(common->trouble[k].id, id) == 0)
            return &common->trouble[k];
    return NULL;
}

static_assert(SITE_TROUBLE_KIND_MAX + 1 + SETTINGS_NAME_MAX <= MQTT_ID_MAX,
              "an id that is cut would stand for two things");

void site_trouble_id(char id[static MQTT_ID_MAX], const char *kind, const char *name)
{
    snprintf(id, MQTT_ID_MAX, "%.*s-%.*s", SITE_TROUBLE_KIND_MAX, kind, SETTINGS_NAME_MAX - 1,
             name);
}

void site_note(struct common *common, const char *subject, const char *format, ...)
{
    char line[LEDGER_EVENT_MAX];
    struct text text = text_in(line, sizeof(line));
    va_list arguments;
    va_start(arguments, format);
    text_add_list(&text, format, arguments);
    va_end(arguments);
    log_line(LOG_LEVEL_INFO, "%s: %s", subject, line);
    if (common->ledger)
        ledger_event(common->ledger, common->now, subject, line);
}

bool site_has_trouble(struct common *common, const char *id)
{
    return find(common, id) != NULL;
}

static void alert(struct common *common, const char *id, const char *text)
{
    if (common->mqtt && strcmp(id, SITE_TROUBLE_BROKER) != 0)
        mqtt_alert(common->mqtt, id, text);
}

void site_trouble_again(struct common *common, int k)
{
    alert(common, common->trouble[k].id, common->trouble[k].text);
}

static void tell(struct common *common, const struct site_trouble *trouble)
{
    log_line(LOG_LEVEL_WARNING, "%s", trouble->text);
    if (common->ledger)
        ledger_event(common->ledger, common->now, trouble->id, trouble->text);
    alert(common, trouble->id, trouble->text);
}

void site_trouble(struct common *common, const char *id, const char *format, ...)
{
    char line[SITE_TROUBLE_TEXT_MAX];
    struct text text = text_in(line, sizeof(line));
    va_list arguments;
    va_start(arguments, format);
    text_add_list(&text, format, arguments);
    va_end(arguments);
    struct site_trouble *trouble = find(common, id);
    if (trouble && strcmp(trouble->text, line) == 0)
        return;
    if (!trouble && common->trouble_count == SITE_TROUBLES_MAX)
        return;
    if (!trouble)
        trouble = &common->trouble[common->trouble_count++];
    snprintf(trouble->id, sizeof(trouble->id), "%s", id);
    snprintf(trouble->text, sizeof(trouble->text), "%s", line);
    tell(common, trouble);
}

static void solve(struct common *common, struct site_trouble *trouble, const char *line,
                  const char *event)
{
    log_line(LOG_LEVEL_NOTICE, "%s", line);
    if (common->ledger)
        ledger_event(common->ledger, common->now, trouble->id, event);
    alert(common, trouble->id, NULL);
    *trouble = common->trouble[--common->trouble_count];
}

static void end(struct common *common, const char *id, const char *how)
{
    char line[SITE_TROUBLE_TEXT_MAX + 64];
    struct site_trouble *trouble = find(common, id);
    if (!trouble)
        return;
    snprintf(line, sizeof(line), "%s: %s", how, trouble->text);
    solve(common, trouble, line, how);
}

void site_solved(struct common *common, const char *id)
{
    end(common, id, "solved");
}

void site_unwatched(struct common *common, const char *id)
{
    end(common, id, "no longer watched since the settings changed");
}

void site_solved_saying(struct common *common, const char *id, const char *format, ...)
{
    char line[SITE_TROUBLE_TEXT_MAX];
    struct site_trouble *trouble = find(common, id);
    if (!trouble)
        return;
    struct text text = text_in(line, sizeof(line));
    va_list arguments;
    va_start(arguments, format);
    text_add_list(&text, format, arguments);
    va_end(arguments);
    solve(common, trouble, line, line);
}
