/* compare_report.c - a run once more, with someone watching. */
#include "quote/compare_report.h"

#include <math.h>
#include <stdlib.h>

enum { BIN_S = 86400 / REPORT_BINS, DAYS_MAX = 400 };

struct watcher {
    const struct compare *compare;
    struct report *report;
    int64_t month_until_ms; /* the month of the calendar, looked up once a day */
    int month;
    int64_t day_begin_ms, day_end_ms;
};

static double overlap_s(int64_t from, int64_t to, int64_t begin, int64_t end)
{
    int64_t first = from > begin ? from : begin, last = to < end ? to : end;
    return last > first ? (double)(last - first) / 1000 : 0;
}

static void look_up_month(struct watcher *watcher, struct wall at)
{
    const struct zone *zone = watcher->compare->home.zone;
    if (at.ms < watcher->month_until_ms)
        return;
    struct local local = local_of_wall(zone, at);
    watcher->month = date_of_days(local.day).month - 1;
    watcher->month_until_ms = wall_of_local(zone, local.day + 1, 0).ms;
}

/* As account.c has it: what the roof gives beyond the household's use heats first. */
static void add_month(struct watcher *watcher, const struct trial_span *span)
{
    struct report_month *month = &watcher->report->month[watcher->month];
    double load_w = span->load_w[0];
    double sun_w = fmin(load_w, fmax(0, span->solar_w - span->use_w));
    double kwh_per_w = (double)(span->to.ms - span->from.ms) / 3.6e9;
    month->there = true;
    month->sun_kwh += sun_w * kwh_per_w;
    month->grid_kwh += (load_w - sun_w) * kwh_per_w;
}

static void add_bins(struct watcher *watcher, const struct trial_span *span)
{
    if (span->to.ms <= watcher->day_begin_ms || span->from.ms >= watcher->day_end_ms)
        return;
    for (int k = 0; k < REPORT_BINS; k++) {
        struct report_bin *bin = &watcher->report->bin[k];
        int64_t begin = watcher->day_begin_ms + (int64_t)k * BIN_S * MS_PER_S;
        double part =
            overlap_s(span->from.ms, span->to.ms, begin, begin + BIN_S * MS_PER_S) / BIN_S;
        bin->solar_w += span->solar_w * part;
        bin->use_w += span->use_w * part;
        bin->load_w += span->load_w[0] * part;
        if (part > 0)
            bin->tank_c = span->tank_c[0];
    }
}

static void watch(void *context, const struct trial_span *span)
{
    struct watcher *watcher = context;
    look_up_month(watcher, span->from);
    add_month(watcher, span);
    add_bins(watcher, span);
}

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

bool report_make(const struct compare *compare, enum compare_way way, struct report *report,
                 struct trouble *trouble)
{
    struct trial_home home;
    struct trial_outcome outcome;
    struct watcher watcher = {.compare = compare, .report = report, .month_until_ms = INT64_MIN};
    struct trial_plan plan = compare_plan(compare, way, &home);
    const struct zone *zone = compare->home.zone;
    *report = (struct report){.day = ordinary_day(&compare->sample[0], zone)};
    watcher.day_begin_ms = wall_of_local(zone, report->day, 0).ms;
    watcher.day_end_ms = watcher.day_begin_ms + MS_PER_DAY;
    return trial_run(&home, &compare->sample[0], &plan, watch, &watcher, &outcome, trouble);
}
