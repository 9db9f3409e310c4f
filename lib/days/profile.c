/* profile.c - quarters of a year and no names of seasons: which half of the earth it is,
 * the data alone do not say. */
#include "days/profile.h"

#include <string.h>

const char *days_season_name(int season)
{
    static const char *const names[DAYS_SEASONS] = {"Dec-Feb", "Mar-May", "Jun-Aug", "Sep-Nov"};
    return names[season];
}

int days_season_of(int32_t day)
{
    return date_of_days(day).month % 12 / 3;
}

/* ---- the mean day ------------------------------------------------------------------- */

/* An hour is two half hours. */
static void take_mean(struct days_profile *profile, const struct days_half_hour *slot,
                      int32_t slot_s, double covered_s[DAYS_SEASONS][DAYS_HALF_HOURS])
{
    int season = days_season_of(slot->day);
    for (int32_t second = slot->second; second < slot->second + slot_s; second += 1800) {
        int half = second / 1800;
        days_flow_add(&profile->season[season].mean_w[half], &slot->w, slot->covered_s);
        covered_s[season][half] += slot->covered_s;
    }
}

/* ---- the largest -------------------------------------------------------------------- */

/* The days come one after another: a day's largest is the last one in, or none yet. */
static void take_peak(struct days_peak peaks[static DAYS_PEAKS], double w,
                      const struct days_half_hour *slot)
{
    int at = DAYS_PEAKS - 1;
    for (int k = 0; k < DAYS_PEAKS; k++)
        if (peaks[k].w > 0 && peaks[k].day == slot->day)
            at = k;
    if (w <= peaks[at].w)
        return;
    for (; at > 0 && w > peaks[at - 1].w; at--)
        peaks[at] = peaks[at - 1];
    peaks[at] = (struct days_peak){w, slot->day, slot->second};
}

void days_profile_make(const struct days_halves *halves, struct days_profile *profile)
{
    double covered_s[DAYS_SEASONS][DAYS_HALF_HOURS] = {0};
    int32_t last_day = INT32_MIN;
    memset(profile, 0, sizeof(*profile));
    for (size_t k = 0; k < halves->count; k++) {
        const struct days_half_hour *slot = &halves->slot[k];
        take_mean(profile, slot, halves->slot_s, covered_s);
        take_peak(profile->import, slot->w.import, slot);
        take_peak(profile->export, slot->w.export, slot);
        profile->season[days_season_of(slot->day)].days += slot->day != last_day;
        last_day = slot->day;
    }
    for (int season = 0; season < DAYS_SEASONS; season++)
        for (int half = 0; half < DAYS_HALF_HOURS; half++)
            profile->season[season].mean_w[half] =
                days_flow_divided(&profile->season[season].mean_w[half], covered_s[season][half]);
}
