/* time_text.c - a moment as RFC 3339 writes it, in the site's own zone. */
#include <stdlib.h>

#include "site.h"

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
