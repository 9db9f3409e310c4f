/* evidence.c - two questions that the figures answer.
 *
 * A household always takes something: a refrigerator, a router. So where the taken power
 * is nothing in most of the steps in which the roof gives a good deal, and never nothing
 * in the dark, it is what a grid meter counted as import, and the other is export. A home
 * that stood empty has its zeros by day and night alike. Between the two, nobody can say.
 * By night no roof gives anything. Bounds are common practice, no source. */
#include "days/evidence.h"

#include <math.h>

enum { BRIGHT_W = 300, DARK_W = 1, NOTHING_W = 5, STEPS_LEAST = 24 };
enum { S_PER_DAY = 86400, NIGHT_BEGINS_S = 79200, NIGHT_ENDS_S = 14400 };

enum days_evidence days_says_meter(const float *use_w, const float *sun_w, size_t count)
{
    size_t bright = 0, bright_nothing = 0, dark = 0, dark_nothing = 0;
    for (size_t k = 0; k < count; k++) {
        bool nothing = use_w[k] < NOTHING_W; /* false for what is missing */
        bool is_bright = sun_w[k] > BRIGHT_W, is_dark = sun_w[k] < DARK_W;
        bright += is_bright;
        bright_nothing += is_bright && nothing;
        dark += is_dark;
        dark_nothing += is_dark && nothing;
    }
    if (bright < STEPS_LEAST)
        return DAYS_SAYS_NO;
    double by_day = (double)bright_nothing / (double)bright;
    double by_night = dark > 0 ? (double)dark_nothing / (double)dark : 0;
    if (by_day >= 0.5 && by_night <= 0.1)
        return DAYS_SAYS_YES;
    return by_day - by_night >= 0.25 ? DAYS_SAYS_NEITHER : DAYS_SAYS_NO;
}

bool days_says_exchanged(const float *taken_w, const float *given_w, size_t count,
                         struct wall first, int32_t step_s, const struct zone *zone)
{
    double taken[2] = {0}, given[2] = {0}; /* by day, by night */
    for (size_t k = 0; k < count; k++) {
        int64_t second = first.ms / MS_PER_S + (int64_t)k * step_s + zone->standard_offset_s;
        int64_t of_day = ((second % S_PER_DAY) + S_PER_DAY) % S_PER_DAY;
        bool night = of_day >= NIGHT_BEGINS_S || of_day < NIGHT_ENDS_S;
        taken[night] += isfinite(taken_w[k]) ? (double)taken_w[k] : 0;
        given[night] += isfinite(given_w[k]) ? (double)given_w[k] : 0;
    }
    if ((int64_t)count * step_s < 3 * S_PER_DAY)
        return false;
    return given[1] > 0.1 * (given[0] + given[1]) && taken[1] < 0.02 * (taken[0] + taken[1]);
}
