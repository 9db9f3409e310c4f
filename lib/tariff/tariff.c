/* tariff.c - what energy costs at a moment.
 *
 * The last band that holds gives the price. A price can change only where a band's
 * hours begin or end, or, for a band of some months, at midnight or where the clock
 * jumps; so the next change is looked for from one such edge to the next. */
#include "tariff.h"

static bool in_season(uint8_t first_month, uint8_t last_month, uint8_t month)
{
    if (first_month == 0)
        return true;
    if (first_month <= last_month)
        return month >= first_month && month <= last_month;
    return month >= first_month || month <= last_month;
}

int tariff_band_at(const struct tariff_band band[], int count, const struct local *local)
{
    uint8_t month = count > 0 ? date_of_days(local->day).month : 0;
    for (int i = count - 1; i >= 0; i--)
        if (in_season(band[i].first_month, band[i].last_month, month) &&
            hours_open(&band[i].hours, local))
            return i;
    return TARIFF_NO_BAND;
}

int32_t tariff_price(const struct tariff *tariff, const struct local *local)
{
    int band = tariff_band_at(tariff->band, tariff->count, local);
    return band == TARIFF_NO_BAND ? 0 : tariff->band[band].price_micro;
}

int32_t tariff_feed_in(const struct tariff *tariff, const struct local *local)
{
    int band = tariff_band_at(tariff->feed_in_band, tariff->feed_in_count, local);
    return band == TARIFF_NO_BAND ? tariff->feed_in_micro : tariff->feed_in_band[band].price_micro;
}

bool tariff_demand_counts(const struct tariff_demand *demand, const struct local *local)
{
    uint8_t month = date_of_days(local->day).month;
    return in_season(demand->first_month, demand->last_month, month) &&
           hours_open(&demand->hours, local);
}

/* ---- from edge to edge ----------------------------------------------------------- */

static bool has_seasons(const struct tariff_band band[], int count)
{
    for (int i = 0; i < count; i++)
        if (band[i].first_month != 0)
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

static struct wall bands_edge(const struct tariff_band band[], int count, const struct zone *zone,
                              struct wall wall, struct wall limit)
{
    for (int i = 0; i < count; i++)
        limit = hours_next_edge(&band[i].hours, zone, wall, limit);
    return limit;
}

struct wall tariff_next_edge(const struct tariff *tariff, const struct zone *zone, struct wall wall)
{
    const struct tariff_controlled *controlled = &tariff->controlled;
    struct wall edge = next_date(zone, wall);
    edge = bands_edge(tariff->band, tariff->count, zone, wall, edge);
    edge = bands_edge(tariff->feed_in_band, tariff->feed_in_count, zone, wall, edge);
    edge = bands_edge(controlled->band, controlled->count, zone, wall, edge);
    for (int i = 0; i < tariff->demand_count; i++)
        edge = hours_next_edge(&tariff->demand[i].hours, zone, wall, edge);
    return hours_next_edge(&controlled->hours, zone, wall, edge);
}

static struct wall price_edge(const struct tariff *tariff, const struct zone *zone,
                              struct wall wall, struct wall limit)
{
    if (has_seasons(tariff->band, tariff->count) ||
        has_seasons(tariff->feed_in_band, tariff->feed_in_count))
        limit = earlier(limit, next_date(zone, wall));
    limit = bands_edge(tariff->band, tariff->count, zone, wall, limit);
    return bands_edge(tariff->feed_in_band, tariff->feed_in_count, zone, wall, limit);
}

struct prices {
    int32_t import_micro, feed_in_micro;
};

static struct prices prices_at(const struct tariff *tariff, const struct zone *zone,
                               struct wall wall)
{
    struct local local = local_of_wall(zone, wall);
    return (struct prices){tariff_price(tariff, &local), tariff_feed_in(tariff, &local)};
}

struct wall tariff_next_change(const struct tariff *tariff, const struct zone *zone,
                               struct wall wall, struct wall limit)
{
    const int64_t year_ms = 400 * (int64_t)MS_PER_DAY; /* prices repeat after one */
    struct prices then, now = prices_at(tariff, zone, wall);
    int64_t last_ms = wall.ms < limit.ms - year_ms ? wall.ms + year_ms : limit.ms;
    while (wall.ms < last_ms) {
        wall = price_edge(tariff, zone, wall, limit);
        then = prices_at(tariff, zone, wall);
        if (wall.ms < limit.ms &&
            (then.import_micro != now.import_micro || then.feed_in_micro != now.feed_in_micro))
            return wall;
    }
    return limit;
}
