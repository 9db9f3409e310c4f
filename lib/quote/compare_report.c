/* compare_report.c - a run once more, written down. */
#include "quote/compare_report.h"

#include <math.h>
#include <stdlib.h>

#include "trial/record.h"

enum { BIN_S = 86400 / REPORT_BINS, DAYS_MAX = 400 };

/* ---- an ordinary day --------------------------------------------------------- */

struct day_sun {
    int32_t day;
    double sum;
};

static int by_sum(const void *a, const void *b)
{
    const struct day_sun *first = a, *second = b;
    return (first->sum > second->sum) - (first->sum < second->sum);
}

/* Whole days only: the first and the last may be parts. Days of the samples are even. */
static int32_t ordinary_day(const struct days *days, const struct zone *zone)
{
    struct day_sun sun[DAYS_MAX] = {0};
    int count = 0;
    int32_t last = INT32_MIN;
    int64_t edge_ms = INT64_MIN;
    for (size_t k = 0; k < days->count; k++) {
        struct wall at = {days->first.ms + (int64_t)k * days->step_s * MS_PER_S};
        if (at.ms >= edge_ms) {
            last = local_of_wall(zone, at).day;
            edge_ms = wall_of_local(zone, last + 1, 0).ms;
            if (count == DAYS_MAX)
                break;
            sun[count++].day = last;
        }
        sun[count - 1].sum += days->solar_w[k];
    }
    if (count < 3)
        return sun[0].day;
    qsort(sun + 1, (size_t)count - 2, sizeof(sun[0]), by_sum);
    return sun[1 + (count - 2) / 2].day;
}

static void begin_result(const struct compare *compare, struct result *result)
{
    const struct days *days = &compare->sample[0];
    *result = (struct result){.zone = *compare->home.zone};
    result->begin_ms = days->first.ms;
    result->end_ms = days->first.ms + (int64_t)days->steps * days->step_s * MS_PER_S;
    result->date = date_of_days(ordinary_day(days, compare->home.zone));
    result_load(result, "");
}

bool report_make(const struct compare *compare, enum compare_way way, struct result *result,
                 struct trouble *trouble)
{
    struct compare_ready ready;
    struct trial_outcome outcome;
    compare_prepare(compare, way, &compare->fit[way], &ready);
    struct record record = {.result = result,
                            .home = &ready.home,
                            .rules = ready.plan.rules,
                            .piece_ms = BIN_S * MS_PER_S};
    begin_result(compare, result);
    if (!trial_run(&ready.home, &compare->sample[0], &ready.plan, record_span, &record, &outcome,
                   trouble))
        return false;
    return !result->lost || trouble_set(trouble, "", "out of memory");
}

/* ---- out of the result -------------------------------------------------------------------------
 */

bool report_month(const struct result *result, int month, struct result_amount *heat)
{
    const struct zone *zone = &result->zone;
    int32_t first = local_of_wall(zone, (struct wall){result->begin_ms}).day;
    int32_t last = local_of_wall(zone, (struct wall){result->end_ms - 1}).day;
    bool there = false;
    *heat = (struct result_amount){.spare_mwh = 0};
    for (int32_t day = first; day <= last; day++) {
        if (date_of_days(day).month != month)
            continue;
        struct result_amount of_day = result_sum(&result->load[0], wall_of_local(zone, day, 0).ms,
                                                 wall_of_local(zone, day + 1, 0).ms);
        heat->spare_mwh += of_day.spare_mwh;
        heat->grid_mwh += of_day.grid_mwh;
        there = true;
    }
    return there;
}

struct report_bin report_bin(const struct result *result, int k)
{
    const double w_per_mwh = 3.6 / BIN_S;
    int64_t from_ms = wall_of_local(&result->zone, days_of_date(result->date), 0).ms +
                      (int64_t)k * BIN_S * MS_PER_S;
    int64_t to_ms = from_ms + BIN_S * MS_PER_S;
    struct result_amount load = result_sum(&result->load[0], from_ms, to_ms);
    double end_c = result_sum(&result->tank, from_ms, to_ms).end_c;
    return (struct report_bin){
        .solar_w = result_sum(&result->solar, from_ms, to_ms).spare_mwh * w_per_mwh,
        .use_w = result_sum(&result->use, from_ms, to_ms).grid_mwh * w_per_mwh,
        .load_w = (load.spare_mwh + load.grid_mwh) * w_per_mwh,
        .tank_c = isnan(end_c) ? 0 : end_c, /* a day that is there in part */
    };
}
