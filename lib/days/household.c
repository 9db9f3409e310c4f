/* household.c - what figures alone can show of a file of the wrong unit, column, home or
 * half of a year. */
#include "days/household.h"

#include <math.h>

#include "core/hours.h"
#include "core/quantity.h"
#include "days/heater.h"
#include "days/profile.h"
#include "days/report.h"

enum {
    S_PER_DAY = 86400,
    ALMOST_NONE_W = 20, /* less than what stands by in any home that is lived in */
    QUIET_LEAST_S = 3 * 3600,
    EQUAL_LEAST_S = 12 * 3600,
    YEAR_LEAST_DAYS = 300,
    DAYS_LEAST = 14,
};

struct look {
    const struct days *days;
    const struct days_halves *halves;
    double array_kwp;
    const char *path;
    struct days_report *report;
};

static double span_days(const struct look *look)
{
    return (double)look->days->steps * look->days->step_s / S_PER_DAY;
}

/* "14 Jan 2026 17:00" */
enum { WHEN_SIZE = 32 };
static const char *when(const struct days_half_hour *slot, char buffer[static WHEN_SIZE])
{
    struct date date = date_of_days(slot->day);
    struct text text = text_in(buffer, WHEN_SIZE);
    text_add(&text, "%d %s %d %02d:%02d", date.day, month_name(date.month), date.year,
             slot->second / 3600, slot->second / 60 % 60);
    return buffer;
}

static const char *lasting(int64_t seconds, char buffer[static WHEN_SIZE])
{
    struct text text = text_in(buffer, WHEN_SIZE);
    quantity_write(QUANTITY_DURATION_MS, seconds * MS_PER_S, &text);
    return buffer;
}

static double sun_of(const struct look *look, const struct days_flow *flow)
{
    return look->days->at_meter ? flow->export : flow->sun;
}

static const char *sun_name(const struct look *look)
{
    return look->days->at_meter ? "export" : "sun";
}

/* ---- the roof ------------------------------------------------------------------------- */

/* "a twentieth": how small a share is, in words that one says. */
static const char *share_word(double share)
{
    return share < 0.002   ? "a thousandth"
           : share < 0.015 ? "a hundredth"
           : share < 0.07  ? "a twentieth"
           : share < 0.15  ? "a tenth"
           : share < 0.23  ? "a fifth"
                           : "a quarter";
}

/* 1,400 kWh a year for each kWp, give or take a third, from the north of Europe to the
 * middle of Australia. */
static void doubt_yield(const struct look *look)
{
    const double usual_day_kwh = 1400.0 / 365;
    double share = sun_of(look, &look->halves->day_kwh) / (look->array_kwp * usual_day_kwh);
    bool year = span_days(look) >= YEAR_LEAST_DAYS;
    double least = year ? 0.3 : 0.1, most = year ? 1.8 : 2.5;
    if (look->array_kwp <= 0 || span_days(look) < DAYS_LEAST)
        return;
    double sum_kwh = sun_of(look, &look->halves->day_kwh) * (year ? 365 : span_days(look));
    const char *in = year ? "a year" : "in all";
    if (share < least && !look->days->at_meter)
        days_notice(look->report, look->path, 0,
                    "sun %.0f kWh %s from %g kWp: %s of what is usual: thousands separators, "
                    "kW given as W, or another array?",
                    sum_kwh, in, look->array_kwp, share_word(share));
    else if (share > most)
        days_notice(look->report, look->path, 0,
                    "%s %.0f kWh %s from %g kWp: %.1f times what is usual: is the array's size "
                    "right, is it the unit, or is this another home's file?",
                    sun_name(look), sum_kwh, in, look->array_kwp, share);
}

static void doubt_largest_sun(const struct look *look)
{
    double most_w = 0;
    for (size_t k = 0; k < look->halves->count; k++)
        most_w = fmax(most_w, sun_of(look, &look->halves->slot[k].w));
    double share = look->array_kwp > 0 ? most_w / (1000 * look->array_kwp) : 1;
    if (share > 1.25)
        days_notice(look->report, look->path, 0,
                    "the largest half hour of the %s is %.1f kW, and the array %g kWp: is its "
                    "size right, or is this another home's file?",
                    sun_name(look), most_w / 1000, look->array_kwp);
    else if (share < 0.4 && !look->days->at_meter && span_days(look) >= 60)
        days_notice(look->report, look->path, 0,
                    "the largest half hour of the sun is %.1f kW, and the array %g kWp: is its "
                    "size right, or is this another home's file?",
                    most_w / 1000, look->array_kwp);
}

static bool is_deep_night(const struct days_half_hour *slot)
{
    return slot->second >= 22 * 3600 || slot->second < 3 * 3600;
}

static void doubt_night(const struct look *look)
{
    double night_w = 0, all_w = 0;
    for (size_t k = 0; k < look->halves->count; k++) {
        double w = sun_of(look, &look->halves->slot[k].w);
        all_w += w;
        night_w += is_deep_night(&look->halves->slot[k]) ? w : 0;
    }
    if (all_w <= 0 || night_w / all_w < 0.02)
        return;
    days_notice(look->report, look->path, 0, "%.0f %% of the %s is between 22:00 and 3:00: %s",
                100 * night_w / all_w, sun_name(look),
                look->days->at_meter
                    ? "are import and export exchanged, are the times another zone's, or is "
                      "there a battery?"
                    : "are the columns exchanged, or the times another zone's?");
}

static void doubt_surplus(const struct look *look)
{
    if (sun_of(look, &look->halves->day_kwh) <= 0)
        days_notice(look->report, look->path, 0,
                    "neither sun nor export in it: without one of them there is no surplus to "
                    "use");
}

/* ---- the household ---------------------------------------------------------------------- */

static double use_of(const struct look *look, const struct days_flow *flow)
{
    return look->days->at_meter ? flow->import : flow->use;
}

static void doubt_use(const struct look *look)
{
    double day_kwh = use_of(look, &look->halves->day_kwh);
    const char *name = look->days->at_meter ? "import" : "use";
    if (day_kwh < 1)
        days_notice(look->report, look->path, 0,
                    "%s %.2f kWh a day: kW given as W, or does no one live there?", name, day_kwh);
    else if (day_kwh > 150)
        days_notice(look->report, look->path, 0,
                    "%s %.0f kWh a day: is this one home, and is it the unit?", name, day_kwh);
}

/* Correlation of use and sun over all half hours (K. Pearson's r): a household's is weak. */
static double follows_sun(const struct look *look)
{
    double n = 0, use = 0, sun = 0, use_use = 0, sun_sun = 0, use_sun = 0;
    for (size_t k = 0; k < look->halves->count; k++) {
        double u = look->halves->slot[k].w.use, s = look->halves->slot[k].w.sun;
        n++;
        use += u;
        sun += s;
        use_use += u * u;
        sun_sun += s * s;
        use_sun += u * s;
    }
    double spread = sqrt(n * use_use - use * use) * sqrt(n * sun_sun - sun * sun);
    return spread > 0 ? (n * use_sun - use * sun) / spread : 0;
}

static void doubt_following(const struct look *look)
{
    double r = look->days->at_meter ? 0 : follows_sun(look);
    if (r > 0.8 && span_days(look) >= 2)
        days_notice(look->report, look->path, 0,
                    "use follows the sun (correlation %.2f): is it the household's, or the "
                    "inverter's or a sum with the sun in it?",
                    r);
}

/* ---- runs of slots ------------------------------------------------------------------------ */

struct runs {
    int count;
    int64_t all_s, longest_s;
    const struct days_half_hour *longest;
};

static void take_run(struct runs *runs, const struct days_half_hour *from, int64_t seconds,
                     int64_t least_s)
{
    if (seconds < least_s)
        return;
    runs->count++;
    runs->all_s += seconds;
    if (seconds > runs->longest_s) {
        runs->longest_s = seconds;
        runs->longest = from;
    }
}

/* Whether a slot goes on with what the one before it has. */
typedef bool slot_test(const struct look *look, const struct days_half_hour *slot, bool first);

static struct runs find_runs(const struct look *look, slot_test *goes_on, int64_t least_s)
{
    const struct days_halves *halves = look->halves;
    struct runs runs = {0};
    for (size_t k = 0; k < halves->count; k++) {
        size_t from = k;
        int64_t seconds = halves->slot[k].covered_s;
        if (!goes_on(look, &halves->slot[k], true))
            continue;
        while (k + 1 < halves->count && goes_on(look, &halves->slot[k + 1], false))
            seconds += halves->slot[++k].covered_s;
        take_run(&runs, &halves->slot[from], seconds, least_s);
    }
    return runs;
}

/* At the meter, import alone is nothing whenever the sun shines. */
static bool is_almost_none(const struct look *look, const struct days_half_hour *slot, bool first)
{
    (void)first;
    return use_of(look, &slot->w) < ALMOST_NONE_W &&
           (!look->days->at_meter || slot->w.export < ALMOST_NONE_W);
}

static bool is_equal(const struct look *look, const struct days_half_hour *slot, bool first)
{
    double use_w = use_of(look, &slot->w);
    return use_w >= ALMOST_NONE_W && (first || fabs(use_w - use_of(look, &slot[-1].w)) < 1e-3);
}

static void doubt_quiet(const struct look *look)
{
    struct runs runs = find_runs(look, is_almost_none, QUIET_LEAST_S);
    char all[WHEN_SIZE], longest[WHEN_SIZE], from[WHEN_SIZE];
    if (runs.count == 0)
        return;
    days_notice(look->report, look->path, 0,
                "%s with almost no use (below %d W), in %d stretch%s, the longest of %s from %s: "
                "was nobody there, or are they gaps in the source?",
                lasting(runs.all_s, all), ALMOST_NONE_W, runs.count, runs.count == 1 ? "" : "es",
                lasting(runs.longest_s, longest), when(runs.longest, from));
}

static void doubt_equal(const struct look *look)
{
    struct runs runs = find_runs(look, is_equal, EQUAL_LEAST_S);
    char longest[WHEN_SIZE], from[WHEN_SIZE];
    if (runs.count == 0)
        return;
    days_notice(look->report, look->path, 0,
                "the same use for %s from %s%s: a stuck meter, or filled in by the source?",
                lasting(runs.longest_s, longest), when(runs.longest, from),
                runs.count > 1 ? ", and more such stretches" : "");
}

/* ---- seasons and the heater --------------------------------------------------------------- */

static void doubt_seasons(const struct look *look)
{
    struct days_profile profile;
    char buffer[64];
    struct text text = text_in(buffer, sizeof(buffer));
    if (span_days(look) >= YEAR_LEAST_DAYS || span_days(look) < 28)
        return;
    days_profile_make(look->halves, &profile);
    for (int season = 0; season < DAYS_SEASONS; season++)
        if (profile.season[season].days < DAYS_LEAST)
            text_add(&text, "%s%s", text.used > 0 ? " and " : "", days_season_name(season));
    days_notice(look->report, look->path, 0,
                "%.0f days, %s%snot a whole year: a year's money made of them is the more "
                "doubtful the more seasons are missing",
                span_days(look), text.used > 0 ? "hardly anything of " : "",
                text.used > 0 ? (text_add(&text, ", "), buffer) : "");
}

static void doubt_heater(const struct look *look)
{
    struct days_heater_seen seen;
    char power[24];
    struct text text = text_in(power, sizeof(power));
    if (!days_heater_look(look->halves, &seen))
        return;
    quantity_write(QUANTITY_POWER_W, (int64_t)seen.like.power_w, &text);
    days_notice(look->report, look->path, 0,
                "night steps of %s from %02d:%02d on %d of %d nights: an existing heater%s, take "
                "it out? --heater-in-data \"%02d:%02d-%02d:%02d %s\"",
                power, seen.begins_s / 3600, seen.begins_s / 60 % 60, seen.nights, seen.of,
                seen.like.power_w > 5000 ? " (or a car)" : "", seen.like.from_s / 3600,
                seen.like.from_s / 60 % 60, seen.like.to_s / 3600, seen.like.to_s / 60 % 60, power);
}

void days_doubt_household(const struct days *days, const struct days_halves *halves,
                          double array_kwp, bool heater_known, const char *path,
                          struct days_report *report)
{
    const struct look look = {days, halves, array_kwp, path, report};
    doubt_surplus(&look);
    if (sun_of(&look, &halves->day_kwh) > 0) {
        doubt_yield(&look);
        doubt_largest_sun(&look);
        doubt_night(&look);
        doubt_following(&look);
    }
    doubt_use(&look);
    doubt_quiet(&look);
    doubt_equal(&look);
    doubt_seasons(&look);
    if (!heater_known)
        doubt_heater(&look);
}
