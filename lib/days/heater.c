/* heater.c - what a night takes beside the heater is its quietest quarter; what stands
 * above that by the heater's power is the heater. */
#include "days/heater.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "core/quantity.h"
#include "core/text.h"

enum {
    S_PER_DAY = 86400,
    HALF_HOUR_S = 1800,
    NIGHT_FROM_S = 21 * 3600, /* where one looks for a heater that nobody told of */
    NIGHT_SLOTS = 20,         /* half hours, to 7:00 */
    NIGHTS_LEAST = 10,
    STEP_LEAST_W = 1000,
    EXPORT_MOST_W = 50,
};

static int compare_doubles(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static void sort(double *values, size_t count)
{
    qsort(values, count, sizeof(*values), compare_doubles);
}

/* Of sorted values: the one at this share of them. */
static double quantile(const double *sorted, size_t count, double share)
{
    return sorted[(size_t)(share * (double)(count - 1) + 0.5)];
}

/* The mean of the lowest quarter; sorts the values. */
static double quiet_w(double *values, size_t count)
{
    size_t quarter = count < 4 ? 1 : count / 4;
    double sum = 0;
    sort(values, count);
    for (size_t k = 0; k < quarter; k++)
        sum += values[k];
    return sum / (double)quarter;
}

/* ---- looking for one ------------------------------------------------------------------ */

struct night {
    const struct days_half_hour *slot;
    int count;
    double quiet_w, most_w; /* the most above the quiet level */
    double height_w;        /* of its run, above the middle of the rest */
    int begins, ends;       /* the first slot of a run, and the one after the last */
};

static double above(const struct night *night, int slot)
{
    return night->slot[slot].w.import - night->quiet_w;
}

static void see_night(struct night *night)
{
    double values[NIGHT_SLOTS];
    for (int k = 0; k < night->count; k++)
        values[k] = night->slot[k].w.import;
    night->quiet_w = quiet_w(values, (size_t)night->count);
    for (int k = 0; k < night->count; k++)
        night->most_w = fmax(night->most_w, above(night, k));
}

/* Whole nights only: each begins NIGHT_SLOTS half hours in a row. */
static size_t find_nights(const struct days_halves *halves, struct night *nights)
{
    int slots = NIGHT_SLOTS * HALF_HOUR_S / halves->slot_s;
    size_t count = 0;
    for (size_t k = 0; k + (size_t)slots <= halves->count; k++) {
        if (halves->slot[k].second != NIGHT_FROM_S)
            continue;
        nights[count] = (struct night){.slot = &halves->slot[k], .count = slots};
        see_night(&nights[count++]);
    }
    return count;
}

static bool shows(const struct night *night, double power_w)
{
    return fabs(night->most_w - power_w) <= 0.15 * power_w;
}

/* The middle of what is high, above the middle of what is low: the quietest quarter is
 * less than what the rest of the household takes meanwhile. */
static double height_of(const struct night *night, double power_w)
{
    double high[NIGHT_SLOTS], low[NIGHT_SLOTS];
    size_t highs = 0, lows = 0;
    for (int k = 0; k < night->count; k++)
        if (above(night, k) >= 0.8 * power_w)
            high[highs++] = night->slot[k].w.import;
        else if (above(night, k) < 0.2 * power_w)
            low[lows++] = night->slot[k].w.import;
    if (highs == 0 || lows == 0)
        return night->most_w;
    sort(high, highs);
    sort(low, lows);
    return quantile(high, highs, 0.5) - quantile(low, lows, 0.5);
}

/* A slot before the first whole one is part of it, and one after the last. */
static void find_run(struct night *night, double power_w)
{
    int last = 0;
    night->begins = -1;
    for (int k = 0; k < night->count; k++)
        if (above(night, k) >= 0.8 * power_w) {
            night->begins = night->begins < 0 ? k : night->begins;
            last = k;
        }
    if (night->begins > 0 && above(night, night->begins - 1) >= 0.2 * power_w)
        night->begins--;
    if (last + 1 < night->count && above(night, last + 1) >= 0.2 * power_w)
        last++;
    night->ends = last + 1;
    night->height_w = height_of(night, power_w);
}

static double median_most(const struct night *nights, size_t count, double *room)
{
    for (size_t k = 0; k < count; k++)
        room[k] = nights[k].most_w;
    sort(room, count);
    return quantile(room, count, 0.5);
}

/* Where runs begin and end, from the evening's 21:00 on; false: at no certain time. */
static bool see_times(struct night *nights, size_t count, int32_t slot_s, double *room,
                      struct days_heater_seen *seen)
{
    double *begins = room, *ends = room + count, *heights = ends + count;
    size_t hits = 0, near = 0;
    for (size_t k = 0; k < count; k++) {
        if (!shows(&nights[k], seen->like.power_w))
            continue;
        find_run(&nights[k], seen->like.power_w);
        begins[hits] = nights[k].begins * slot_s;
        heights[hits] = nights[k].height_w;
        ends[hits++] = nights[k].ends * slot_s;
    }
    if (hits < NIGHTS_LEAST || hits * 10 < count * 6)
        return false;
    sort(begins, hits);
    sort(ends, hits);
    sort(heights, hits);
    double middle = quantile(begins, hits, 0.5);
    for (size_t k = 0; k < hits; k++)
        near += fabs(begins[k] - middle) <= 5400;
    if (near * 10 < hits * 6)
        return false;
    int32_t from_s = (int32_t)quantile(begins, hits, 0.05) / 3600 * 3600;
    int32_t to_s = ((int32_t)quantile(ends, hits, 0.95) + 3599) / 3600 * 3600;
    seen->begins_s = (NIGHT_FROM_S + (int32_t)middle) % S_PER_DAY;
    seen->like.from_s = (NIGHT_FROM_S + from_s) % S_PER_DAY;
    seen->like.to_s = (NIGHT_FROM_S + to_s) % S_PER_DAY;
    seen->like.power_w = round(quantile(heights, hits, 0.5) / 100) * 100;
    seen->nights = (int)hits;
    return true;
}

bool days_heater_look(const struct days_halves *halves, struct days_heater_seen *seen)
{
    size_t most = halves->count * (size_t)halves->slot_s / (S_PER_DAY / 2) + 2;
    struct night *nights = malloc(most * sizeof(*nights));
    double *room = malloc(3 * most * sizeof(*room));
    bool found = false;
    *seen = (struct days_heater_seen){0};
    if (nights && room) {
        size_t count = find_nights(halves, nights);
        double power_w = count > 0 ? median_most(nights, count, room) : 0;
        seen->of = (int)count;
        seen->like.power_w = power_w;
        found = power_w >= STEP_LEAST_W && see_times(nights, count, halves->slot_s, room, seen);
    }
    free(nights);
    free(room);
    return found;
}

/* ---- taking one out ------------------------------------------------------------------- */

struct taking {
    const struct days *days;
    const struct days_heater *heater;
    float *heat_w;     /* [rows] what would be taken */
    double *room;      /* [rows of two days] */
    double *plateau_w; /* [spans] how high its runs stand */
    struct days_heater_taken taken;
    double export_w; /* the mean within its hours, where that is all that is known */
};

/* The first row that begins at `wall` or later. */
static int64_t row_at(const struct days *days, struct wall wall)
{
    int64_t step_ms = (int64_t)days->step_s * MS_PER_S;
    int64_t apart_ms = wall.ms - days->first.ms;
    return apart_ms <= 0 ? apart_ms / step_ms : (apart_ms + step_ms - 1) / step_ms;
}

static double level_around(struct taking *taking, size_t from, size_t to)
{
    size_t hour = (size_t)(3600 / taking->days->step_s), count = 0;
    size_t first = from > hour ? from - hour : 0;
    for (size_t k = first; k < to + hour && k < taking->days->count; k++)
        taking->room[count++] = (double)taking->days->use_w[k];
    return quiet_w(taking->room, count);
}

/* Rows from..to stand above the level. Their median is how high; false: too short. */
static bool take_run(struct taking *taking, size_t from, size_t to, double level_w,
                     double *plateau_w)
{
    double power_w = taking->heater->power_w, step_s = taking->days->step_s, heat_ws = 0;
    size_t high = 0;
    for (size_t k = from; k < to; k++) {
        double above_w = (double)taking->days->use_w[k] - level_w;
        heat_ws += fmin(above_w, power_w) * step_s;
        if (above_w >= 0.6 * power_w)
            taking->room[high++] = above_w;
    }
    if (high == 0 || heat_ws < 0.85 * power_w * fmax(step_s, HALF_HOUR_S))
        return false;
    sort(taking->room, high);
    *plateau_w = quantile(taking->room, high, 0.5);
    for (size_t k = from; k < to; k++)
        taking->heat_w[k] = (float)fmin((double)taking->days->use_w[k] - level_w, power_w);
    return true;
}

static void take_span(struct taking *taking, size_t from, size_t to)
{
    double level_w = level_around(taking, from, to), plateau_w = 0;
    bool any = false;
    for (size_t k = from; k < to; k++) {
        size_t begin = k;
        while (k < to && (double)taking->days->use_w[k] - level_w >= 0.2 * taking->heater->power_w)
            k++;
        any |= k > begin && take_run(taking, begin, k, level_w, &plateau_w);
    }
    if (any)
        taking->plateau_w[taking->taken.spans++] = plateau_w;
    for (size_t k = from; k < to && taking->days->at_meter; k++)
        taking->export_w += (double)taking->days->solar_w[k] / (double)(to - from);
    taking->taken.of++;
}

static void take_spans(struct taking *taking, const struct zone *zone)
{
    const struct days *days = taking->days;
    const struct days_heater *heater = taking->heater;
    struct wall end = {days->first.ms + (int64_t)days->count * days->step_s * MS_PER_S};
    int32_t last = local_of_wall(zone, end).day;
    for (int32_t day = local_of_wall(zone, days->first).day; day <= last; day++) {
        int64_t from = row_at(days, wall_of_local(zone, day, heater->from_s));
        int64_t to =
            row_at(days, wall_of_local(zone, day + (heater->to_s <= heater->from_s), heater->to_s));
        if (from >= 0 && to > from && to <= (int64_t)days->count)
            take_span(taking, (size_t)from, (size_t)to);
    }
}

static void write_power(struct text *text, double w)
{
    quantity_write(QUANTITY_POWER_W, (int64_t)round(w / 100) * 100, text);
}

/* Does it fit? */
static bool judge(struct taking *taking, struct trouble *trouble)
{
    char wanted_buffer[32], found_buffer[32];
    struct text wanted = text_in(wanted_buffer, sizeof(wanted_buffer));
    struct text found = text_in(found_buffer, sizeof(found_buffer));
    struct days_heater_taken *taken = &taking->taken;
    double power_w = taking->heater->power_w;
    write_power(&wanted, power_w);
    if (taken->of == 0)
        return trouble_set(trouble, "", "the days hold no whole span of these hours");
    if (taking->export_w / taken->of > EXPORT_MOST_W)
        return trouble_set(trouble, "",
                           "the roof gives power within these hours, and what it gives is not "
                           "known: the heater can't be distinguished from it. Generation, or the "
                           "household's own use, would be needed");
    if (taken->spans * 2 < taken->of)
        return trouble_set(trouble, "", "steps of %s show on %d of %d days only", wanted_buffer,
                           taken->spans, taken->of);
    sort(taking->plateau_w, (size_t)taken->spans);
    double middle_w = quantile(taking->plateau_w, (size_t)taken->spans, 0.5);
    int alike = 0;
    for (int k = 0; k < taken->spans; k++)
        alike += fabs(taking->plateau_w[k] - middle_w) <= 0.15 * middle_w;
    write_power(&found, middle_w);
    if (middle_w < 0.8 * power_w || middle_w > 1.25 * power_w)
        return trouble_set(trouble, "", "the steps within these hours are of %s, not %s",
                           found_buffer, wanted_buffer);
    if (alike * 10 < taken->spans * 7)
        return trouble_set(trouble, "",
                           "what stands out within these hours is of another size from day to "
                           "day: it is no heater's");
    return true;
}

static void subtract(struct days *days, struct taking *taking)
{
    double sum_w = 0;
    for (size_t k = 0; k < days->count; k++) {
        days->use_w[k] -= taking->heat_w[k];
        sum_w += (double)taking->heat_w[k];
    }
    taking->taken.day_kwh = sum_w / (double)days->count * 24 / 1000;
}

bool days_heater_take(struct days *days, const struct zone *zone, const struct days_heater *heater,
                      struct days_heater_taken *taken, struct trouble *trouble)
{
    size_t spans = (size_t)((int64_t)days->steps * days->step_s / S_PER_DAY) + 2;
    struct taking taking = {
        .days = days,
        .heater = heater,
        .heat_w = calloc(days->count, sizeof(float)),
        .room = malloc((size_t)(2 * S_PER_DAY / days->step_s + 2) * sizeof(double)),
        .plateau_w = malloc(spans * sizeof(double)),
    };
    bool took = false;
    *taken = (struct days_heater_taken){0};
    if (days->lasts || !taking.heat_w || !taking.room || !taking.plateau_w) {
        trouble_set(trouble, "", days->lasts ? "the days' steps are not even" : "out of memory");
    } else {
        take_spans(&taking, zone);
        took = judge(&taking, trouble);
        if (took)
            subtract(days, &taking);
        *taken = taking.taken;
    }
    free(taking.heat_w);
    free(taking.room);
    free(taking.plateau_w);
    return took;
}
