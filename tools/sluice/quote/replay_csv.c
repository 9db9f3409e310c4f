/* replay_csv.c - a replay for spreadsheets: a line for each local day. Comma and decimal
 * point, whatever the locale; a day is 2026-01-14. */
#include <inttypes.h>
#include <math.h>

#include "replay.h"

#define MWH_PER_KWH 1e6

static void write_names(const struct replay *replay, FILE *to)
{
    static const char *const names[] = {"sun_kwh", "grid_kwh",    "on_h",         "drawing_h",
                                        "starts",  "floors_kept", "floors_missed"};
    fputs("date,solar_kwh,use_kwh,import_kwh,export_kwh,tank_top_least_c", to);
    for (int load = 0; load < replay->home->load_count; load++)
        for (size_t k = 0; k < sizeof(names) / sizeof(names[0]); k++)
            fprintf(to, ",%s_%s", replay->settings->names[load].name, names[k]);
    fputc('\n', to);
}

static void write_load(const struct result_amount *sum, FILE *to)
{
    fprintf(to, ",%.4f,%.4f,%.4f,%.4f,%" PRId32 ",%" PRId32 ",%" PRId32,
            sum->spare_mwh / MWH_PER_KWH, sum->grid_mwh / MWH_PER_KWH,
            (double)sum->on_ms / MS_PER_HOUR, (double)sum->draws_ms / MS_PER_HOUR, sum->starts,
            sum->kept, sum->missed);
}

static void write_day(const struct replay *replay, int32_t day, FILE *to)
{
    const struct result *result = replay->result;
    struct date date = date_of_days(day);
    struct result_amount grid = replay_sum(replay, &result->grid, day, day + 1);
    double coldest_c = replay_sum(replay, &result->tank, day, day + 1).coldest_c;
    fprintf(to, "%04d-%02d-%02d,%.4f,%.4f,%.4f,%.4f,", date.year, date.month, date.day,
            replay_sum(replay, &result->solar, day, day + 1).spare_mwh / MWH_PER_KWH,
            replay_sum(replay, &result->use, day, day + 1).grid_mwh / MWH_PER_KWH,
            grid.grid_mwh / MWH_PER_KWH, grid.spare_mwh / MWH_PER_KWH);
    if (!isnan(coldest_c))
        fprintf(to, "%.2f", coldest_c);
    for (size_t k = 0; k < result->load_count; k++) {
        struct result_amount sum = replay_sum(replay, &result->load[k], day, day + 1);
        write_load(&sum, to);
    }
    fputc('\n', to);
}

void replay_write_csv(const struct replay *replay, FILE *to)
{
    int32_t first = replay_first_day(replay), count = replay_day_count(replay);
    write_names(replay, to);
    for (int32_t day = first; day < first + count; day++)
        write_day(replay, day, to);
}
