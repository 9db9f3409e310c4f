/* words.c - what several edges put into words: a moment as RFC 3339 writes it, in
 * the site's own zone; a reason, with the name of the load that it speaks of. */
#include "words.h"

#include <stdlib.h>

void time_text(const struct zone *zone, struct wall wall, struct text *text)
{
    struct local local = local_of_wall(zone, wall);
    struct date date = date_of_days(local.day);
    int64_t as_utc_s = (int64_t)local.day * 86400 + local.second;
    int offset_min = (int)((as_utc_s - wall.ms / MS_PER_S) / 60);
    text_add(text, "%04d-%02u-%02uT%02d:%02d:%02d%c%02d:%02d", date.year, date.month, date.day,
             local.second / 3600, local.second / 60 % 60, local.second % 60,
             offset_min < 0 ? '-' : '+', abs(offset_min) / 60, abs(offset_min) % 60);
}

void decision_text(const struct site *site, const struct decision *decision, struct text *text)
{
    const struct reason *reason = &decision->reason;
    int other = reason_load(reason);
    bool known = other >= 0 && other < site->settings->rules.load_count;
    reason_write_named(reason, known ? site->settings->names[other].name : NULL, text);
}

void reason_text(const struct site *site, uint16_t load, struct text *text)
{
    decision_text(site, &site->decisions[load], text);
}
