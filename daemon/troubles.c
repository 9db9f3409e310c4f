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

static struct site_trouble *find(struct site *site, const char *id)
{
    for (int k = 0; k < site->trouble_count; k++)
        if (strcmp(site->troubles[k].id, id) == 0)
            return &site->troubles[k];
    return NULL;
}

static_assert(SITE_TROUBLE_KIND_MAX + 1 + SETTINGS_NAME_MAX <= MQTT_ID_MAX,
              "an id that is cut would stand for two things");

void site_trouble_id(char id[static MQTT_ID_MAX], const char *kind, const char *name)
{
    snprintf(id, MQTT_ID_MAX, "%.*s-%.*s", SITE_TROUBLE_KIND_MAX, kind, SETTINGS_NAME_MAX - 1,
             name);
}

void site_note(struct site *site, const char *subject, const char *format, ...)
{
    char line[LEDGER_EVENT_MAX];
    struct text text = text_in(line, sizeof(line));
    va_list arguments;
    va_start(arguments, format);
    text_add_list(&text, format, arguments);
    va_end(arguments);
    log_line(LOG_LEVEL_INFO, "%s: %s", subject, line);
    if (site->ledger)
        ledger_event(site->ledger, site->now, subject, line);
}

bool site_has_trouble(struct site *site, const char *id)
{
    return find(site, id) != NULL;
}

static void alert(struct site *site, const char *id, const char *text)
{
    if (site->mqtt && strcmp(id, SITE_TROUBLE_BROKER) != 0)
        mqtt_alert(site->mqtt, id, text);
}

void site_trouble_again(struct site *site, int k)
{
    alert(site, site->troubles[k].id, site->troubles[k].text);
}

static void tell(struct site *site, const struct site_trouble *trouble)
{
    log_line(LOG_LEVEL_WARNING, "%s", trouble->text);
    if (site->ledger)
        ledger_event(site->ledger, site->now, trouble->id, trouble->text);
    alert(site, trouble->id, trouble->text);
}

void site_trouble(struct site *site, const char *id, const char *format, ...)
{
    char line[SITE_TROUBLE_TEXT_MAX];
    struct text text = text_in(line, sizeof(line));
    va_list arguments;
    va_start(arguments, format);
    text_add_list(&text, format, arguments);
    va_end(arguments);
    struct site_trouble *trouble = find(site, id);
    if (trouble && strcmp(trouble->text, line) == 0)
        return;
    if (!trouble && site->trouble_count == SITE_TROUBLES_MAX)
        return;
    if (!trouble)
        trouble = &site->troubles[site->trouble_count++];
    snprintf(trouble->id, sizeof(trouble->id), "%s", id);
    snprintf(trouble->text, sizeof(trouble->text), "%s", line);
    tell(site, trouble);
}

static void solve(struct site *site, struct site_trouble *trouble, const char *line,
                  const char *event)
{
    log_line(LOG_LEVEL_NOTICE, "%s", line);
    if (site->ledger)
        ledger_event(site->ledger, site->now, trouble->id, event);
    alert(site, trouble->id, NULL);
    *trouble = site->troubles[--site->trouble_count];
}

void site_solved(struct site *site, const char *id)
{
    char line[SITE_TROUBLE_TEXT_MAX + 16];
    struct site_trouble *trouble = find(site, id);
    if (!trouble)
        return;
    snprintf(line, sizeof(line), "solved: %s", trouble->text);
    solve(site, trouble, line, "solved");
}

void site_solved_saying(struct site *site, const char *id, const char *format, ...)
{
    char line[SITE_TROUBLE_TEXT_MAX];
    struct site_trouble *trouble = find(site, id);
    if (!trouble)
        return;
    struct text text = text_in(line, sizeof(line));
    va_list arguments;
    va_start(arguments, format);
    text_add_list(&text, format, arguments);
    va_end(arguments);
    solve(site, trouble, line, line);
}
