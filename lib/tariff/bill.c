/* bill.c - what a household pays, added up step by step.
 *
 * A year of seconds is thirty million steps, and between two edges of the tariff they
 * are all alike: so which bands hold is asked once for each such stretch, and a step
 * inside it costs a few additions. A stretch never passes midnight or a change of the
 * zone's offset, so days, months and demand windows are found from its beginning too. */
#include "bill.h"

enum { HALF_HOUR_MS = 30 * MS_PER_MIN, MICRO = 1000000 };

/* ---- demand ------------------------------------------------------------------------ */

static int64_t window_length_ms(const struct tariff_demand *charge)
{
    return charge->window_ms ? charge->window_ms : HALF_HOUR_MS;
}

/* A window that the data leave half empty counts in full; steps that fill it over its
 * end count for the time that they took. */
static int64_t window_mw(const struct bill_demand *demand, const struct tariff_demand *charge)
{
    int64_t length_ms = window_length_ms(charge);
    if (demand->window_ms > length_ms)
        length_ms = demand->window_ms;
    int64_t whole = demand->window_mwh / length_ms, rest = demand->window_mwh % length_ms;
    return whole * MS_PER_HOUR + (rest * MS_PER_HOUR + length_ms / 2) / length_ms;
}

static int64_t highest_mw(const struct bill_demand *demand, const struct tariff_demand *charge)
{
    int64_t mw = window_mw(demand, charge);
    return mw > demand->month_mw ? mw : demand->month_mw;
}

static int64_t month_charge_mw(const struct bill *bill, int index,
                               const struct tariff_demand *charge)
{
    int64_t mw = highest_mw(&bill->demand[index], charge);
    return charge->per == TARIFF_PER_DAY ? mw * bill->month_days : mw;
}

static void begin_window(const struct bill *bill, struct bill_demand *demand,
                         const struct tariff_demand *charge, int64_t from_ms)
{
    int64_t length_ms = window_length_ms(charge);
    demand->month_mw = highest_mw(demand, charge);
    demand->window_mwh = demand->window_ms = 0;
    demand->window_end_ms =
        bill->midnight_ms + ((from_ms - bill->midnight_ms) / length_ms + 1) * length_ms;
}

static void add_demand(struct bill *bill, const struct tariff *tariff, int64_t from_ms,
                       int64_t to_ms, int64_t import_mwh)
{
    for (int i = 0; i < tariff->demand_count; i++) {
        struct bill_demand *demand = &bill->demand[i];
        if (!demand->counts)
            continue;
        if (from_ms >= demand->window_end_ms)
            begin_window(bill, demand, &tariff->demand[i], from_ms);
        demand->window_mwh += import_mwh;
        demand->window_ms += to_ms - from_ms;
    }
}

static void end_month(struct bill *bill, const struct tariff *tariff)
{
    for (int i = 0; i < tariff->demand_count; i++)
        bill->demand[i] = (struct bill_demand){
            .charge_mw = bill->demand[i].charge_mw + month_charge_mw(bill, i, &tariff->demand[i]),
        };
    bill->month_days = 0;
}

/* ---- stretches of time ---------------------------------------------------------------- */

static bool same_month(int32_t day, int32_t other)
{
    struct date a = date_of_days(day), b = date_of_days(other);
    return a.year == b.year && a.month == b.month;
}

/* A midnight that comes twice begins one day, not two. */
static void count_day(struct bill *bill, const struct tariff *tariff, int32_t day)
{
    if (bill->begun && day <= bill->day)
        return;
    if (bill->begun && !same_month(day, bill->day))
        end_month(bill, tariff);
    bill->begun = true;
    bill->day = day;
    bill->days++;
    bill->month_days++;
}

/* The place in the bill's arrays: what no band covers comes last. */
static int8_t place_of(const struct tariff_band band[], int count, const struct local *local)
{
    int at = tariff_band_at(band, count, local);
    return (int8_t)(at == TARIFF_NO_BAND ? TARIFF_BANDS_MAX : at);
}

static void begin_stretch(struct bill *bill, const struct tariff *tariff, const struct zone *zone,
                          struct wall from)
{
    struct local local = local_of_wall(zone, from);
    const struct tariff_controlled *controlled = &tariff->controlled;
    int64_t part_ms = from.ms % MS_PER_S; /* never negative: bills begin after 1970 */
    count_day(bill, tariff, local.day);
    bill->since_ms = from.ms;
    bill->until_ms = tariff_next_edge(tariff, zone, from).ms;
    bill->midnight_ms = from.ms - part_ms - (int64_t)local.second * MS_PER_S;
    bill->in_band = place_of(tariff->band, tariff->count, &local);
    bill->out_band = place_of(tariff->feed_in_band, tariff->feed_in_count, &local);
    bill->controlled_band = place_of(controlled->band, controlled->count, &local);
    for (int i = 0; i < tariff->demand_count; i++)
        bill->demand[i].counts = tariff_demand_counts(&tariff->demand[i], &local);
}

bool bill_add(struct bill *bill, const struct tariff *tariff, const struct zone *zone,
              struct wall from, struct wall to, int64_t import_mwh, int64_t export_mwh,
              int64_t controlled_mwh)
{
    if (to.ms <= from.ms || to.ms - from.ms > MS_PER_DAY ||
        (import_mwh | export_mwh | controlled_mwh) < 0)
        return false;
    if (from.ms < bill->last_ms)
        return false;
    if (!bill->begun || from.ms >= bill->until_ms)
        begin_stretch(bill, tariff, zone, from);
    bill->last_ms = to.ms;
    bill->import_mwh[bill->in_band] += import_mwh;
    bill->export_mwh[bill->out_band] += export_mwh;
    bill->controlled_mwh[bill->controlled_band] += controlled_mwh;
    add_demand(bill, tariff, from.ms, to.ms, import_mwh);
    return true;
}

/* ---- what it comes to ------------------------------------------------------------------- */

/* A sum of products, thousandths of thousandths kept apart so that neither runs over. */
struct sum {
    int64_t whole, millionths;
};

static void add_product(struct sum *sum, int64_t amount, int64_t price_micro)
{
    sum->whole += amount / MICRO * price_micro;
    sum->millionths += amount % MICRO * price_micro;
}

static int64_t rounded(struct sum sum)
{
    int64_t half = sum.millionths < 0 ? -MICRO / 2 : MICRO / 2;
    return sum.whole + (sum.millionths + half) / MICRO;
}

static int64_t price_energy(const int64_t mwh[TARIFF_BANDS_MAX + 1],
                            const struct tariff_band band[], int count, int32_t otherwise_micro)
{
    struct sum sum = {0};
    for (int i = 0; i < count; i++)
        add_product(&sum, mwh[i], band[i].price_micro);
    add_product(&sum, mwh[TARIFF_BANDS_MAX], otherwise_micro);
    return rounded(sum);
}

static int64_t price_demand(const struct bill *bill, const struct tariff *tariff)
{
    struct sum sum = {0};
    for (int i = 0; i < tariff->demand_count; i++) {
        const struct tariff_demand *charge = &tariff->demand[i];
        add_product(&sum, bill->demand[i].charge_mw + month_charge_mw(bill, i, charge),
                    charge->price_micro);
    }
    return rounded(sum);
}

struct bill_parts bill_parts(const struct bill *bill, const struct tariff *tariff)
{
    const struct tariff_controlled *controlled = &tariff->controlled;
    struct bill_parts parts = {
        .import_micro = price_energy(bill->import_mwh, tariff->band, tariff->count, 0),
        .controlled_micro =
            price_energy(bill->controlled_mwh, controlled->band, controlled->count, 0),
        .feed_in_micro = price_energy(bill->export_mwh, tariff->feed_in_band, tariff->feed_in_count,
                                      tariff->feed_in_micro),
        .demand_micro = price_demand(bill, tariff),
        .daily_micro =
            ((int64_t)tariff->daily_micro + controlled->daily_micro) * (int64_t)bill->days,
    };
    parts.total_micro = parts.import_micro + parts.controlled_micro - parts.feed_in_micro +
                        parts.demand_micro + parts.daily_micro;
    return parts;
}
