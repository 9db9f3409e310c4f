/* days_sense.c - suspicions that only the figures themselves can raise.
 *
 * Units: a factor of a thousand is easily seen. A home whose highest step is below 50 W
 * (less than a refrigerator and a router draw) was told in kilowatts, and one that
 * averages more than 20 kW over a main switch of 63 A or so was told in watts. A roof
 * gives at most about 1.3 kW per kWp, and over days with any sun more than 2 W per kWp.
 * Times: the middle of the sun's energy falls near local noon (from 10:00 to 15:00 with
 * summer time and any roof but a steep east or west one), wherever the home is; if not,
 * the times are another zone's. Bounds are common practice, no source. */
#include "trial/days_sense.h"

#include <math.h>

#include "trial/days_report.h"

enum { S_PER_DAY = 86400 };

struct look {
    const struct days_seen *seen;
    const struct days_columns *columns;
    const char *path;
    struct days_report *report;
};

static bool suspect(const struct look *look, enum days_role role, const char *what)
{
    const char *unit = days_unit_name(look->columns->unit[role]);
    const struct days_seen *seen = &look->seen[role];
    if (look->columns->unit_named[role])
        days_notice(look->report, look->path, seen->most_line, "%s: read as %s, as told; %s",
                    days_role_name(role), unit, what);
    else
        days_stop(look->report, look->path, seen->most_line,
                  "%s: the file says %s, %s; --%s NAME:UNIT tells what it is", days_role_name(role),
                  unit, what, days_role_name(role));
    return look->columns->unit_named[role];
}

static bool is_kilo(enum days_unit unit)
{
    return unit == DAYS_KW || unit == DAYS_KWH || unit == DAYS_KW_PER_KWP;
}

static bool sense_power(const struct look *look, enum days_role role, double least_peak_w,
                        double most_peak_w)
{
    const struct days_seen *seen = &look->seen[role];
    bool kilo = is_kilo(look->columns->unit[role]);
    if (look->columns->index[role] < 0 || seen->count == 0 || seen->most <= 0)
        return true;
    bool energy = look->columns->unit[role] == DAYS_KWH || look->columns->unit[role] == DAYS_WH;
    if (kilo && seen->most > most_peak_w)
        return suspect(look, role,
                       energy ? "but it looks like watt-hours, a thousand times less"
                              : "but it looks like watts, a thousand times less");
    if (!kilo && seen->most < least_peak_w)
        return suspect(look, role,
                       energy ? "but it looks like kilowatt-hours, a thousand times more"
                              : "but it looks like kilowatts, a thousand times more");
    return true;
}

/* 2,000 l a day is ten times what a family draws. */
static bool sense_draws(const struct look *look, int32_t step_s)
{
    const struct days_seen *seen = &look->seen[DAYS_DRAW];
    if (look->columns->index[DAYS_DRAW] < 0 || seen->count == 0)
        return true;
    double days = (double)seen->count * step_s / S_PER_DAY;
    if (seen->sum / days < 2000)
        return true;
    return suspect(look, DAYS_DRAW, "which makes over 2000 l a day: litres an hour, perhaps?");
}

bool days_sense_units(const struct days_seen seen[static DAYS_ROLE_COUNT],
                      const struct days_columns *columns, const struct days_options *options,
                      int32_t step_s, const char *path, struct days_report *report)
{
    struct look look = {seen, columns, path, report};
    double array = options->array_kwp;
    bool per_kwp =
        columns->unit[DAYS_SOLAR] == DAYS_W_PER_KWP || columns->unit[DAYS_SOLAR] == DAYS_KW_PER_KWP;
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
    if (span_d >= 300 && span_d < 364)
        days_notice(report, path, 0,
                    "%d days: part of a year is missing, and a year's money cannot be told from it",
                    (int)span_d);
}

static void sense_sun(const struct days *days, const struct days_options *options, const char *path,
                      struct days_report *report)
{
    double east = 0, north = 0; /* of the energy's mean on the clock's dial */
    size_t stride = days->step_s < 300 ? (size_t)(300 / days->step_s) : 1;
    for (size_t k = 0; k < days->count; k += stride) {
        struct wall middle = {days->first.ms + ((int64_t)k * 2 + 1) * days->step_s * MS_PER_S / 2};
        double angle = local_of_wall(options->zone, middle).second * 2 * M_PI / S_PER_DAY;
        north += (double)days->solar_w[k] * cos(angle);
        east += (double)days->solar_w[k] * sin(angle);
    }
    if (hypot(north, east) <= 0)
        return;
    int32_t second = (int32_t)(atan2(east, north) * S_PER_DAY / (2 * M_PI));
    second = (second + S_PER_DAY) % S_PER_DAY;
    if (second >= 10 * 3600 && second <= 15 * 3600)
        return;
    days_notice(report, path, 0,
                "the sun's middle is at %02d:%02d by the zone's clock: are the times another "
                "zone's? (--times utc, standard or local)",
                second / 3600, second / 60 % 60);
}

void days_sense_days(const struct days *days, const struct days_options *options, const char *path,
                     struct days_report *report)
{
    sense_span(days, path, report);
    sense_sun(days, options, path, report);
}
