/* tariff.c - what energy costs at a moment.
 *
 * The last band that holds gives the price. The price can change only where a
 * band's hours begin or end, or, for a band of some months, at midnight or where
 * the clock jumps; so the next change is looked for from one such edge to the next. */
#include "tariff.h"

static bool in_season(const struct tariff_band *band, uint8_t month)
{
    if (band->first_month == 0)
        return true;
    if (band->first_month <= band->last_month)
        return month >= band->first_month && month <= band->last_month;
    return month >= band->first_month || month <= band->last_month;
}

int32_t tariff_price(const struct tariff *tariff, const struct local *local)
{
    uint8_t month = date_of_days(local->day).month;
    for (int i = tariff->count - 1; i >= 0; i--)
        if (in_season(&tariff->band[i], month) && hours_open(&tariff->band[i].hours, local))
            return tariff->band[i].price_micro;
    return 0;
}

static bool has_seasons(const struct tariff *tariff)
{
    for (int i = 0; i < tariff->count; i++)
        if (tariff->band[i].first_month != 0)
            return true;
    return false;
}

static struct wall earlier(struct wall a, struct wall b)
{
    return a.ms < b.ms ? a : b;
}

/* The first moment after `wall` at which the local date can change. Counted from
 * the local time, not asked for by date: a midnight that comes twice may have
 * been there already. */
static struct wall next_date(const struct zone *zone, struct wall wall)
{
    struct local local = local_of_wall(zone, wall);
    int64_t part_ms = wall.ms % MS_PER_S;
    int64_t second_ms = wall.ms - part_ms - (part_ms < 0 ? MS_PER_S : 0);
    struct wall change, date = {second_ms + (int64_t)(86400 - local.second) * MS_PER_S};
    return zone_next_change(zone, wall, &change) ? earlier(date, change) : date;
}

static struct wall next_edge(const struct tariff *tariff, const struct zone *zone, struct wall wall,
                             struct wall limit)
{
    if (has_seasons(tariff))
        limit = earlier(limit, next_date(zone, wall));
    for (int i = 0; i < tariff->count; i++)
        limit = hours_next_edge(&tariff->band[i].hours, zone, wall, limit);
    return limit;
}

static int32_t price_at(const struct tariff *tariff, const struct zone *zone, struct wall wall)
{
    struct local local = local_of_wall(zone, wall);
    return tariff_price(tariff, &local);
}

struct wall tariff_next_change(const struct tariff *tariff, const struct zone *zone,
                               struct wall wall, struct wall limit)
{
    const int64_t year_ms = 400 * (int64_t)MS_PER_DAY; /* prices repeat after one */
    int32_t price_micro = price_at(tariff, zone, wall);
    int64_t last_ms = wall.ms < limit.ms - year_ms ? wall.ms + year_ms : limit.ms;
    while (wall.ms < last_ms) {
        wall = next_edge(tariff, zone, wall, limit);
        if (wall.ms < limit.ms && price_at(tariff, zone, wall) != price_micro)
            return wall;
    }
    return limit;
}
