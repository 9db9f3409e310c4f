/* orders.c - orders from people, by socket or by MQTT: one grammar, one answer.
 *
 * An order that cannot be understood changes nothing, and the answer quotes it. */
#include "orders.h"

#include <stdio.h>
#include <string.h>

#include "engine.h"
#include "troubles.h"
#include "words.h"

static bool find_load(struct site *site, const char *name, uint16_t *index, struct text *answer)
{
    const char *names[SETTINGS_LOADS_MAX];
    uint16_t count = site->settings->rules.load_count;
    int found = settings_find_load(site->settings, name);
    if (found >= 0) {
        *index = (uint16_t)found;
        return true;
    }
    for (uint16_t i = 0; i < count; i++)
        names[i] = site->settings->names[i].name;
    const char *nearest = text_nearest(name, names, count);
    text_add(answer, "there is no load \"%.40s\"", name);
    if (nearest)
        text_add(answer, "; do you mean \"%s\"?", nearest);
    return false;
}

static bool give(struct site *site, const struct command *command, struct text *answer)
{
    if (engine_order(site, command))
        return true;
    text_add(answer, "too many orders at once: try again");
    return false;
}

/* As people say it: to the minute, unless it is shorter. */
static int64_t rounded_ms(int64_t left_ms)
{
    int64_t unit = left_ms < MS_PER_MIN ? MS_PER_S : MS_PER_MIN;
    return (left_ms + unit / 2) / unit * unit;
}

static void write_end(struct site *site, struct mono until, struct text *answer)
{
    if (until.ms == MONO_NEVER.ms) {
        text_add(answer, " until told otherwise");
        return;
    }
    int64_t left_ms = mono_since_ms(until, site->now.mono);
    struct local local =
        local_of_wall(&site->settings->rules.zone, (struct wall){site->now.wall.ms + left_ms});
    text_add(answer, " for ");
    quantity_write(QUANTITY_DURATION_MS, rounded_ms(left_ms), answer);
    if (site->now.wall_trusted)
        text_add(answer, ", until %02d:%02d", local.second / 3600, local.second / 60 % 60);
}

bool order_load(struct site *site, const char *load, const char *text, struct text *answer)
{
    struct command command;
    struct trouble trouble;
    uint16_t index;
    if (!find_load(site, load, &index, answer))
        return false;
    if (!order_parse(text, &site->settings->rules.zone, site->now, &command, &trouble)) {
        text_add(answer, "%s", trouble.text);
        return false;
    }
    command.load = index;
    if (!give(site, &command, answer))
        return false;
    text_add(answer, "%s: ", load);
    if (command.kind == COMMAND_AUTO) {
        text_add(answer, "automatic");
    } else {
        text_add(answer, "%s by hand", command.kind == COMMAND_ON ? "on" : "off");
        write_end(site, command.until, answer);
    }
    site_note(site, load, "ordered: %.60s", text);
    return true;
}

/* In the form in which an order is written. */
static void write_local(struct site *site, struct wall wall, struct text *answer)
{
    struct local local = local_of_wall(&site->settings->rules.zone, wall);
    struct date date = date_of_days(local.day);
    text_add(answer, "%04d-%02u-%02u %02d:%02d", date.year, date.month, date.day,
             local.second / 3600, local.second / 60 % 60);
}

bool order_holiday(struct site *site, const char *text, struct text *answer)
{
    struct command command = {.kind = COMMAND_HOLIDAY, .load = LOAD_ALL};
    struct trouble trouble;
    if (!order_parse_holiday(text, &site->settings->rules.zone, site->now, &command.back,
                             &trouble)) {
        text_add(answer, "%s", trouble.text);
        return false;
    }
    if (!give(site, &command, answer))
        return false;
    if (command.back.ms == 0) {
        text_add(answer, "holiday ended");
    } else {
        text_add(answer, "holiday; everything is ready again at ");
        write_local(site, command.back, answer);
    }
    site_note(site, "site", "ordered: holiday %.60s", text);
    return true;
}

static bool parse_yes_no(const char *word, bool *yes, struct text *answer)
{
    *yes = strcmp(word, "yes") == 0 || strcmp(word, "true") == 0;
    if (*yes || strcmp(word, "no") == 0 || strcmp(word, "false") == 0)
        return true;
    text_add(answer, "\"%.40s\" is neither yes nor no", word);
    return false;
}

bool order_inhibit(struct site *site, const char *load, const char *word, struct text *answer)
{
    struct command command = {.kind = COMMAND_INHIBIT, .load = LOAD_ALL};
    bool all = strcmp(load, "all") == 0;
    if (!parse_yes_no(word, &command.flag, answer) ||
        (!all && !find_load(site, load, &command.load, answer)) || !give(site, &command, answer))
        return false;
    text_add(answer, "%s: %s", load,
             command.flag ? "inhibited (this is not isolation: isolate all supplies and prove dead)"
                          : "inhibit lifted");
    site_note(site, all ? "site" : load, "ordered: inhibit %s", command.flag ? "yes" : "no");
    return true;
}

bool order_enable(struct site *site, const char *load, const char *word, struct text *answer)
{
    struct command command = {.kind = COMMAND_ENABLE};
    if (!parse_yes_no(word, &command.flag, answer) ||
        !find_load(site, load, &command.load, answer) || !give(site, &command, answer))
        return false;
    text_add(answer, "%s: %s", load,
             command.flag ? "enabled" : "disabled: runs only when ordered by hand");
    site_note(site, load, "ordered: enable %s", command.flag ? "yes" : "no");
    return true;
}
