/* halves.c - import and export are told row by row before anything is averaged: half an
 * hour of cloud and sun has both. */
#include "days/halves.h"

#include <math.h>
#include <stdlib.h>

enum { HALF_HOUR_S = 1800 };

static int64_t row_s(const struct days *days, size_t row)
{
    return (int64_t)days->step_s * (days->lasts ? days->lasts[row] : 1);
}

static struct days_flow flow_of(const struct days *days, size_t row)
{
    double use = (double)days->use_w[row], sun = (double)days->solar_w[row];
    if (days->at_meter)
        return (struct days_flow){use, sun, NAN, NAN};
    return (struct days_flow){fmax(use - sun, 0), fmax(sun - use, 0), use, sun};
}

void days_flow_add(struct days_flow *sum, const struct days_flow *flow, double by)
{
    sum->import += flow->import * by;
    sum->export += flow->export * by;
    sum->use += flow->use * by;
    sum->sun += flow->sun * by;
}

struct days_flow days_flow_divided(const struct days_flow *sum, double by)
{
    struct days_flow mean = {0};
    if (by > 0)
        days_flow_add(&mean, sum, 1 / by);
    return mean;
}

/* The slot of `at_s` and its first moment after that. */
static int64_t open_slot(struct days_halves *halves, const struct zone *zone, int64_t at_s)
{
    struct local local = local_of_wall(zone, (struct wall){at_s * MS_PER_S});
    int32_t into_s = local.second % halves->slot_s;
    halves->slot[halves->count++] =
        (struct days_half_hour){.day = local.day, .second = local.second - into_s};
    return at_s + halves->slot_s - into_s;
}

static void fill(struct days_halves *halves, const struct days *days, const struct zone *zone)
{
    int64_t at_s = days->first.ms / MS_PER_S, slot_end_s = at_s;
    struct days_flow sum_ws = {0};
    for (size_t row = 0; row < days->count; row++) {
        struct days_flow flow = flow_of(days, row);
        for (int64_t end_s = at_s + row_s(days, row); at_s < end_s;) {
            if (at_s == slot_end_s)
                slot_end_s = open_slot(halves, zone, at_s);
            int64_t to_s = end_s < slot_end_s ? end_s : slot_end_s;
            struct days_half_hour *slot = &halves->slot[halves->count - 1];
            days_flow_add(&slot->w, &flow, (double)(to_s - at_s));
            days_flow_add(&sum_ws, &flow, (double)(to_s - at_s));
            slot->covered_s += (int32_t)(to_s - at_s);
            at_s = to_s;
        }
    }
    for (size_t k = 0; k < halves->count; k++)
        halves->slot[k].w = days_flow_divided(&halves->slot[k].w, halves->slot[k].covered_s);
    double span_days = (double)days->steps * days->step_s / 86400;
    halves->day_kwh = days_flow_divided(&sum_ws, span_days * 3.6e6);
}

bool days_halves_make(const struct days *days, const struct zone *zone, struct days_halves *halves)
{
    int64_t span_s = (int64_t)days->steps * days->step_s;
    *halves =
        (struct days_halves){.slot_s = days->step_s > HALF_HOUR_S ? 2 * HALF_HOUR_S : HALF_HOUR_S};
    /* one more at either end, and one where an offset of half an hour changes */
    halves->slot = calloc((size_t)(span_s / halves->slot_s) + 4, sizeof(*halves->slot));
    if (!halves->slot)
        return false;
    fill(halves, days, zone);
    return true;
}

void days_halves_free(struct days_halves *halves)
{
    free(halves->slot);
    *halves = (struct days_halves){0};
}
