/* values_text.c - how a moment, a word and a reason are written, for all readers of the rows. */
#include "values/values.h"

#include <stdlib.h>
#include <string.h>

void value_write_moment(const struct zone *zone, struct wall wall, struct text *text)
{
    struct local local = local_of_wall(zone, wall);
    struct date date = date_of_days(local.day);
    int64_t as_utc_s = (int64_t)local.day * 86400 + local.second;
    int offset_min = (int)((as_utc_s - wall.ms / MS_PER_S) / 60);
    text_add(text, "%04d-%02u-%02uT%02d:%02d:%02d%c%02d:%02d", date.year, date.month, date.day,
             local.second / 3600, local.second / 60 % 60, local.second % 60,
             offset_min < 0 ? '-' : '+', abs(offset_min) / 60, abs(offset_min) % 60);
}

void value_write_word(const char *words, int64_t number, struct text *text)
{
    for (; number > 0 && *words; number--) {
        words += strcspn(words, ",");
        words += *words == ',';
    }
    text_add(text, "%.*s", (int)strcspn(words, ","), words);
}

void decision_text(const struct settings *settings, const struct decision *decision,
                   struct text *text)
{
    const struct reason *reason = &decision->reason;
    int other = reason_load(reason);
    bool known = other >= 0 && other < settings->rules.load_count;
    reason_write(reason, known ? settings->names[other].name : NULL, text);
}
