/* desk.c - a tariff and steps of energy as rows on stdin, prices and bills on stdout, for
 * whoever wants to work them out in another way (against_zoneinfo.py). */
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "tariff/bill.h"

struct desk {
    struct tariff tariff;
    struct zone zone;
    struct bill bill;
    struct hours *hours; /* where spans go */
};

static void fail(const char *line)
{
    fprintf(stderr, "desk: not understood: %s", line);
    exit(1);
}

static struct tariff_band *next_band(struct tariff *tariff, char kind)
{
    switch (kind) {
    case 'i':
        return &tariff->band[tariff->count++];
    case 'f':
        return &tariff->feed_in_band[tariff->feed_in_count++];
    default:
        return &tariff->controlled.band[tariff->controlled.count++];
    }
}

static bool take_zone(struct desk *desk, const char *line)
{
    char rule[128];
    struct trouble trouble;
    *desk = (struct desk){0};
    return sscanf(line, "zone %127s", rule) == 1 && zone_parse(rule, &desk->zone, &trouble);
}

static bool take_band(struct desk *desk, const char *line)
{
    char kind;
    struct tariff_band band = {0};
    if (sscanf(line, "band %c %" SCNd32 " %" SCNu8 " %" SCNu8, &kind, &band.price_micro,
               &band.first_month, &band.last_month) != 4)
        return false;
    struct tariff_band *at = next_band(&desk->tariff, kind);
    *at = band;
    desk->hours = &at->hours;
    return true;
}

static bool take_demand(struct desk *desk, const char *line)
{
    struct tariff_demand demand = {0};
    if (sscanf(line, "demand %" SCNd32 " %" SCNd32 " %" SCNu8 " %" SCNu8 " %" SCNu8,
               &demand.price_micro, &demand.window_ms, &demand.per, &demand.first_month,
               &demand.last_month) != 5)
        return false;
    struct tariff_demand *at = &desk->tariff.demand[desk->tariff.demand_count++];
    *at = demand;
    desk->hours = &at->hours;
    return true;
}

static bool take_charges(struct desk *desk, const char *line)
{
    struct tariff *tariff = &desk->tariff;
    desk->hours = &tariff->controlled.hours;
    tariff->controlled.there = true;
    return sscanf(line, "charges %" SCNd32 " %" SCNd32 " %" SCNd32, &tariff->feed_in_micro,
                  &tariff->daily_micro, &tariff->controlled.daily_micro) == 3;
}

static bool take_span(struct desk *desk, const char *line)
{
    struct hours_span *span = &desk->hours->span[desk->hours->count++];
    return sscanf(line, "span %" SCNd32 " %" SCNd32 " %" SCNu8, &span->from_s, &span->to_s,
                  &span->weekdays) == 3;
}

enum { MWH_PER_KWH = 1000000 };

/* What a kWh through the controlled supply is billed at. */
static int64_t controlled_price(const struct desk *desk, struct wall from, struct wall to)
{
    struct bill bill = {0};
    bill_add(&bill, &desk->tariff, &desk->zone, from, to, 0, 0, MWH_PER_KWH);
    return bill_parts(&bill, &desk->tariff).controlled_micro;
}

static bool take_step(struct desk *desk, const char *line)
{
    int64_t from_s, length_s, import_mwh, export_mwh, controlled_mwh;
    if (sscanf(line, "step %" SCNd64 " %" SCNd64 " %" SCNd64 " %" SCNd64 " %" SCNd64, &from_s,
               &length_s, &import_mwh, &export_mwh, &controlled_mwh) != 5)
        return false;
    struct wall from = {from_s * MS_PER_S}, to = {(from_s + length_s) * MS_PER_S};
    struct local local = local_of_wall(&desk->zone, from);
    printf("%" PRId32 " %" PRId32 " %" PRId64 " %d\n", tariff_price(&desk->tariff, &local),
           tariff_feed_in(&desk->tariff, &local), controlled_price(desk, from, to),
           hours_open(&desk->tariff.controlled.hours, &local));
    return bill_add(&desk->bill, &desk->tariff, &desk->zone, from, to, import_mwh, export_mwh,
                    controlled_mwh);
}

/* The next change after a moment, looked for no farther than a limit. */
static bool take_change(struct desk *desk, const char *line)
{
    int64_t from_s, limit_s;
    if (sscanf(line, "change %" SCNd64 " %" SCNd64, &from_s, &limit_s) != 2)
        return false;
    struct wall limit = {limit_s * MS_PER_S}, from = {from_s * MS_PER_S};
    printf("%" PRId64 "\n",
           tariff_next_change(&desk->tariff, &desk->zone, from, limit).ms / MS_PER_S);
    return true;
}

static bool take_bill(struct desk *desk, const char *line)
{
    (void)line;
    struct bill_parts parts = bill_parts(&desk->bill, &desk->tariff);
    printf("%" PRId64 " %" PRId64 " %" PRId64 " %" PRId64 " %" PRId64 " %" PRId64 "\n",
           parts.import_micro, parts.controlled_micro, parts.feed_in_micro, parts.demand_micro,
           parts.daily_micro, parts.total_micro);
    return true;
}

static const struct {
    const char *word;
    bool (*take)(struct desk *desk, const char *line);
} rows[] = {
    {"zone", take_zone}, {"band", take_band}, {"demand", take_demand}, {"charges", take_charges},
    {"span", take_span}, {"step", take_step}, {"change", take_change}, {"bill", take_bill},
};

static bool take(struct desk *desk, const char *line)
{
    size_t length = strcspn(line, " \n");
    for (size_t i = 0; i < sizeof(rows) / sizeof(rows[0]); i++)
        if (strlen(rows[i].word) == length && strncmp(line, rows[i].word, length) == 0)
            return rows[i].take(desk, line);
    return false;
}

int main(void)
{
    static struct desk desk;
    char line[256];
    while (fgets(line, sizeof(line), stdin))
        if (!take(&desk, line))
            fail(line);
    return 0;
}
