/* doubts.c - suspicions that only the figures themselves can raise.
 *
 * Units: a factor of a thousand is easily seen. A home whose highest step is below 50 W
 * (less than a refrigerator and a router draw) was told in kilowatts, and one that
 * averages more than 20 kW over a main switch of 63 A or so was told in watts. A roof
 * gives at most about 1.3 kW per kWp, and over days with any sun more than 2 W per kWp.
 * Times: the middle of the sun's energy falls near noon by the zone's standard time. Zones
 * are drawn within half an hour to an hour of their sun, a roof to the east or west moves
 * the middle by as much again: beyond an hour and a half a word is said, but only a word,
 * as the far west of China or Spain is further off. A wrong zone is mostly further still.
 * Season: days are longer in summer, by an hour and a half and more beyond some twelve
 * degrees of latitude; nearer to the equator nothing can be told. Where the days hold one
 * solstice alone, only a day of over twelve hours and a half is summer's: clouds, hills and
 * roofs make days shorter, nothing makes them longer. Bounds are common practice, no
 * source. */
#include "days/doubts.h"

#include <math.h>
#include <stdlib.h>

#include "days/names.h"
#include "days/report.h"

enum {
    S_PER_DAY = 86400,
    SEASON_OF_DAYS = 90, /* so many may be taken for a year by who reads fast */
    NOON_WITHIN_S = 5400,
    LONG_DAY_S = 45000,
    SEASON_DAYS = 20, /* so many around a solstice stand for it */
    SEASON_DIFFERS_S = 5400,
    LIT_ABOVE = 100, /* a step is lit with over a hundredth of the brightest's power */
};

struct look {
    const struct days_seen *seen;
    const char *const *paths;
    struct days_report *report;
};

static const char *path_of(const struct look *look, enum days_role role)
{
    return look->paths[look->seen[role].most_at.file];
}

/* The unit that is a thousand times as large, or a thousandth. */
static enum days_unit other_unit(enum days_unit unit)
{
    switch (unit) {
    case DAYS_W:
        return DAYS_KW;
    case DAYS_KW:
        return DAYS_W;
    case DAYS_WH:
        return DAYS_KWH;
    case DAYS_KWH:
        return DAYS_WH;
    case DAYS_W_PER_KWP:
        return DAYS_KW_PER_KWP;
    case DAYS_KW_PER_KWP:
        return DAYS_W_PER_KWP;
    default:
        return unit;
    }
}

/* Whoever told the unit: a thousand times too much or too little is no home's. */
static bool stop_power(const struct look *look, enum days_role role)
{
    enum days_unit told = look->seen[role].unit, meant = other_unit(told);
    const char *name = days_role_name(role);
    days_stop(look->report, path_of(look, role), look->seen[role].most_at.line,
              "%s: %s %s, but it looks like %s; --%s NAME:%s reads it so", name,
              look->seen[role].unit_named ? "the option says" : "the file says",
              days_unit_name(told), days_unit_name(meant), name, days_unit_name(meant));
    return false;
}

/* A boarding house draws so much: here a unit that an option names is believed. */
static bool suspect_draws(const struct look *look)
{
    const char *unit = days_unit_name(look->seen[DAYS_DRAW].unit);
    const struct days_seen *seen = &look->seen[DAYS_DRAW];
    const char *what = "which makes over 2000 l a day: is it litres an hour?";
    bool named = look->seen[DAYS_DRAW].unit_named;
    if (named)
        days_notice(look->report, path_of(look, DAYS_DRAW), seen->most_at.line,
                    "draw: read as %s, as the option says, %s", unit, what);
    else
        days_stop(look->report, path_of(look, DAYS_DRAW), seen->most_at.line,
                  "draw: the file says %s, %s give its unit with --draw NAME:UNIT", unit, what);
    return named;
}

static bool is_kilo(enum days_unit unit)
{
    return unit == DAYS_KW || unit == DAYS_KWH || unit == DAYS_KW_PER_KWP;
}

static bool sense_power(const struct look *look, enum days_role role, double least_peak_w,
                        double most_peak_w)
{
    const struct days_seen *seen = &look->seen[role];
    bool kilo = is_kilo(look->seen[role].unit);
    if (!seen->there || seen->count == 0 || seen->most <= 0)
        return true;
    if (kilo ? seen->most > most_peak_w : seen->most < least_peak_w)
        return stop_power(look, role);
    return true;
}

/* 2,000 l a day is ten times what a family draws. */
static bool sense_draws(const struct look *look, int32_t step_s)
{
    const struct days_seen *seen = &look->seen[DAYS_DRAW];
    if (!seen->there || seen->count == 0)
        return true;
    double days = (double)seen->count * step_s / S_PER_DAY;
    if (seen->sum / days < 2000)
        return true;
    return suspect_draws(look);
}

bool days_doubt_units(const struct days_seen seen[static DAYS_ROLE_COUNT],
                      const struct days_options *options, int32_t step_s, const char *const paths[],
                      struct days_report *report)
{
    struct look look = {seen, paths, report};
    double array = options->array_kwp;
    bool per_kwp =
        seen[DAYS_SOLAR].unit == DAYS_W_PER_KWP || seen[DAYS_SOLAR].unit == DAYS_KW_PER_KWP;
    bool clear = sense_power(&look, DAYS_USE, 50, 100e3);
    clear = sense_power(&look, DAYS_IMPORT, 50, 100e3) && clear;
    clear = sense_power(&look, DAYS_GRID, 50, 100e3) && clear;
    clear = sense_power(&look, DAYS_EXPORT, 30, 200e3) && clear;
    clear =
        sense_power(&look, DAYS_SOLAR, per_kwp ? 5 * array : 30, per_kwp ? 2e3 * array : 200e3) &&
        clear;
    return sense_draws(&look, step_s) && clear;
}

/* ---- days --------------------------------------------------------------------------- */

static void sense_span(const struct days *days, const char *path, struct days_report *report)
{
    int64_t span_d = (int64_t)days->steps * days->step_s / S_PER_DAY;
    if (span_d >= SEASON_OF_DAYS && span_d < 364)
        days_notice(
            report, path, 0,
            "%d days: part of a year is missing. Figures are for these days alone: a year's "
            "money can't be worked out from them",
            (int)span_d);
}

static int32_t second_by_standard(const struct zone *zone, struct wall wall)
{
    int64_t second = (wall.ms / MS_PER_S + zone->standard_offset_s) % S_PER_DAY;
    return (int32_t)(second < 0 ? second + S_PER_DAY : second);
}

static struct wall middle_of_row(const struct days *days, size_t row)
{
    return (struct wall){days->first.ms + ((int64_t)row * 2 + 1) * days->step_s * MS_PER_S / 2};
}

static void sense_noon(const struct days *days, const struct days_options *options,
                       const char *path, struct days_report *report)
{
    double east = 0, north = 0; /* of the energy's mean on the clock's dial */
    size_t stride = days->step_s < 300 ? (size_t)(300 / days->step_s) : 1;
    for (size_t k = 0; k < days->count; k += stride) {
        int32_t second = second_by_standard(options->zone, middle_of_row(days, k));
        double angle = second * 2 * M_PI / S_PER_DAY;
        north += (double)days->solar_w[k] * cos(angle);
        east += (double)days->solar_w[k] * sin(angle);
    }
    if (hypot(north, east) <= 0)
        return;
    int32_t second = (int32_t)(atan2(east, north) * S_PER_DAY / (2 * M_PI));
    second = (second + S_PER_DAY) % S_PER_DAY;
    if (abs(second - S_PER_DAY / 2) <= NOON_WITHIN_S)
        return;
    days_notice(report, path, 0,
                "the middle of the sun is at %02d:%02d by the zone's standard time, far from "
                "noon: is the timezone of the settings the home's, and are the times in it "
                "(--times utc, standard or local)? A zone that is far off its sun, or a roof to "
                "the east or west, would explain it too",
                second / 3600, second / 60 % 60);
}

/* ---- season --------------------------------------------------------------------------- */

struct seasons {
    int64_t lit_s[2]; /* around the solstices of June and of December */
    int days[2];
};

/* 0: May to July, 1: November to January, -1: neither. */
static int solstice_of(int32_t day)
{
    int month = date_of_days(day).month;
    return month >= 5 && month <= 7 ? 0 : month >= 11 || month == 1 ? 1 : -1;
}

static void take_day(struct seasons *seasons, const struct days *days, int32_t day, int lit)
{
    int solstice = solstice_of(day);
    if (solstice < 0 || lit == 0)
        return;
    seasons->days[solstice]++;
    /* a step at either end is lit in part only */
    seasons->lit_s[solstice] += (int64_t)lit * days->step_s - days->step_s / 2;
}

static float brightest(const struct days *days)
{
    float most = 0;
    for (size_t k = 0; k < days->count; k++)
        most = days->solar_w[k] > most ? days->solar_w[k] : most;
    return most;
}

/* By standard time, whose days are all of one length. */
static struct seasons see_seasons(const struct days *days, const struct zone *zone)
{
    struct seasons seasons = {0};
    float least_w = brightest(days) / LIT_ABOVE;
    int32_t today = 0;
    int lit = 0;
    for (size_t k = 0; k < days->count; k++) {
        int64_t second = middle_of_row(days, k).ms / MS_PER_S + zone->standard_offset_s;
        int32_t day = (int32_t)(second / S_PER_DAY);
        if (day != today)
            take_day(&seasons, days, today, lit);
        lit = day != today ? 0 : lit;
        today = day;
        lit += days->solar_w[k] > least_w;
    }
    take_day(&seasons, days, today, lit);
    return seasons;
}

enum days_half days_half_of_earth(const struct days *days, const struct zone *zone)
{
    struct seasons seasons = see_seasons(days, zone);
    double lit_s[2] = {0};
    for (int k = 0; k < 2; k++)
        if (seasons.days[k] > 0)
            lit_s[k] = (double)seasons.lit_s[k] / seasons.days[k];
    bool both = seasons.days[0] >= SEASON_DAYS && seasons.days[1] >= SEASON_DAYS;
    bool june = both ? lit_s[0] - lit_s[1] > SEASON_DIFFERS_S : lit_s[0] > LONG_DAY_S;
    bool december = both ? lit_s[1] - lit_s[0] > SEASON_DIFFERS_S : lit_s[1] > LONG_DAY_S;
    return june == december ? DAYS_HALF_UNKNOWN : june ? DAYS_NORTH : DAYS_SOUTH;
}

void days_doubt_days(const struct days *days, const struct days_options *options, const char *path,
                     struct days_report *report)
{
    sense_span(days, path, report);
    sense_noon(days, options, path, report);
}
