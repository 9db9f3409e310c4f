/* order.c - reading orders as people write them.
 *
 * One verb and perhaps an end: a duration, or "until" a time. Times need a clock
 * that can be trusted; durations do not. */
#include "order.h"

#include <stdio.h>
#include <string.h>

#include "core/quantity.h"

/* The rest of `text` after `word` and blanks, or NULL where it does not begin so. */
static const char *after_word(const char *text, const char *word)
{
    size_t length = strlen(word);
    if (strncmp(text, word, length) != 0 || (text[length] != ' ' && text[length] != '\0'))
        return NULL;
    return text + length + strspn(text + length, " ");
}

static bool parse_clock(const char *text, int32_t *second, struct trouble *trouble)
{
    int64_t value;
    if (!quantity_parse(QUANTITY_TIME_S, text, &value, trouble))
        return false;
    *second = (int32_t)value;
    return true;
}

static bool is_date(unsigned month, unsigned day)
{
    return month >= 1 && month <= 12 && day >= 1 && day <= 31;
}

/* "17:00": the next one; "2026-01-20 17:00": that one. */
static bool parse_until(const char *text, const struct zone *zone, struct moment now,
                        struct wall *until, struct trouble *trouble)
{
    int year, used = 0;
    unsigned month, day;
    int32_t second;
    if (!now.wall_trusted)
        return trouble_set(trouble, "",
                           "the clock is not synchronised yet (timedatectl shows it): clock times "
                           "mean nothing until it is");
    if (sscanf(text, "%4d-%2u-%2u%n", &year, &month, &day, &used) == 3 && used == 10) {
        const char *clock = text + used + strspn(text + used, " T");
        struct date date = {(int16_t)year, (uint8_t)month, (uint8_t)day};
        int32_t days = is_date(month, day) ? days_of_date(date) : 0;
        if (!is_date(month, day) || date_of_days(days).day != day)
            return trouble_set(trouble, "", "\"%s\" is not a date", text);
        if (!parse_clock(clock, &second, trouble))
            return false;
        *until = wall_of_local(zone, days, second);
        return true;
    }
    if (!parse_clock(text, &second, trouble))
        return false;
    struct local local = local_of_wall(zone, now.wall);
    *until = wall_of_local(zone, local.day, second);
    if (until->ms <= now.wall.ms)
        *until = wall_of_local(zone, local.day + 1, second);
    return true;
}

static bool parse_end(const char *text, const struct zone *zone, struct moment now,
                      struct mono *until, struct trouble *trouble)
{
    const char *time = after_word(text, "until");
    int64_t left_ms;
    if (time) {
        struct wall wall;
        if (!parse_until(time, zone, now, &wall, trouble))
            return false;
        left_ms = wall.ms - now.wall.ms;
        if (left_ms <= 0)
            return trouble_set(trouble, "", "\"%s\" has passed already", time);
    } else if (!quantity_parse(QUANTITY_DURATION_MS, text, &left_ms, trouble)) {
        return false;
    } else if (left_ms <= 0) {
        return trouble_set(trouble, "", "\"%s\" is no time at all", text);
    }
    *until = mono_after(now.mono, left_ms);
    return true;
}

static bool parse_on(const char *rest, const struct zone *zone, struct moment now,
                     struct command *command, struct trouble *trouble)
{
    command->kind = COMMAND_ON;
    if (*rest == '\0')
        return trouble_set(trouble, "",
                           "\"on\" needs an end: a duration, such as \"on 2 h\", or a time, such "
                           "as \"on until 17:00\"");
    if (!parse_end(rest, zone, now, &command->until, trouble))
        return false;
    if (mono_since_ms(command->until, now.mono) > ORDER_LONGEST_ON_MS)
        return trouble_set(trouble, "", "\"%s\" is longer than the 24 h that a manual run may last",
                           rest);
    return true;
}

static bool parse_off(const char *rest, const struct zone *zone, struct moment now,
                      struct command *command, struct trouble *trouble)
{
    command->kind = COMMAND_OFF;
    command->until = MONO_NEVER;
    return *rest == '\0' || parse_end(rest, zone, now, &command->until, trouble);
}

bool order_parse(const char *text, const struct zone *zone, struct moment now,
                 struct command *command, struct trouble *trouble)
{
    const char *rest;
    *command = (struct command){.until = MONO_NEVER};
    if ((rest = after_word(text, "on")))
        return parse_on(rest, zone, now, command, trouble);
    if ((rest = after_word(text, "off")))
        return parse_off(rest, zone, now, command, trouble);
    if ((rest = after_word(text, "auto")) && *rest == '\0') {
        command->kind = COMMAND_AUTO;
        return true;
    }
    return trouble_set(trouble, "",
                       "\"%.60s\" is not an order: write \"on 2 h\", \"on until 17:00\", \"off\", "
                       "\"off 2 h\" or \"auto\"",
                       text);
}

bool order_parse_test(const char *text, struct moment now, struct command *command,
                      struct trouble *trouble)
{
    const char *on = after_word(text, "on"), *off = after_word(text, "off"), *end;
    int64_t left_ms;
    *command = (struct command){.kind = COMMAND_TEST, .flag = on != NULL, .until = now.mono};
    if ((end = after_word(text, "end")) && *end == '\0')
        return true;
    if (!on && !off)
        return trouble_set(trouble, "",
                           "\"%.60s\" is not a test: write \"on 90 s\", \"off 90 s\" or \"end\"",
                           text);
    if (!quantity_parse(QUANTITY_DURATION_MS, on ? on : off, &left_ms, trouble))
        return false;
    if (left_ms <= 0 || left_ms > ORDER_LONGEST_TEST_MS)
        return trouble_set(trouble, "", "\"%.60s\" is not within the 5 min that a test may last",
                           text);
    command->until = mono_after(now.mono, left_ms);
    return true;
}

bool order_parse_holiday(const char *text, const struct zone *zone, struct moment now,
                         struct wall *back, struct trouble *trouble)
{
    const char *rest = after_word(text, "until");
    if (after_word(text, "end")) {
        back->ms = 0;
        return true;
    }
    if (!rest)
        return trouble_set(
            trouble, "", "\"%.60s\" is not a holiday: write \"until 2026-01-20 17:00\" or \"end\"",
            text);
    if (!parse_until(rest, zone, now, back, trouble))
        return false;
    if (back->ms <= now.wall.ms)
        return trouble_set(trouble, "", "\"%s\" has passed already", rest);
    if (back->ms - now.wall.ms > ORDER_LONGEST_HOLIDAY_MS)
        return trouble_set(trouble, "", "\"%s\" is more than a year ahead", rest);
    return true;
}
