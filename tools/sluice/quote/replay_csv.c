/* replay_csv.c - a replay for spreadsheets: a line for each local day. Comma and decimal
 * point, whatever the locale; a day is 2026-01-14. */
#include <inttypes.h>
#include <math.h>

#include "replay.h"

enum { J_PER_KWH = 3600000 };

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

static void write_load(const struct replay_sum *sum, FILE *to)
{
    fprintf(to, ",%.4f,%.4f,%.4f,%.4f,%" PRId32 ",%" PRId32 ",%" PRId32, sum->sun_j / J_PER_KWH,
            sum->grid_j / J_PER_KWH, (double)sum->on_ms / MS_PER_HOUR,
            (double)sum->draws_ms / MS_PER_HOUR, sum->starts, sum->kept, sum->missed);
}

static void write_day(const struct replay *replay, const struct replay_day *day, FILE *to)
{
    struct date date = date_of_days(day->day);
    fprintf(to, "%04d-%02d-%02d,%.4f,%.4f,%.4f,%.4f,", date.year, date.month, date.day,
            day->solar_j / J_PER_KWH, day->use_j / J_PER_KWH, day->import_j / J_PER_KWH,
            day->export_j / J_PER_KWH);
    if (!isnan(day->top_least_c))
        fprintf(to, "%.2f", day->top_least_c);
    for (int load = 0; load < replay->home->load_count; load++)
        write_load(&day->load[load], to);
    fputc('\n', to);
}

void replay_write_csv(const struct replay *replay, FILE *to)
{
    write_names(replay, to);
    for (size_t k = 0; k < replay->record->day_count; k++)
        write_day(replay, &replay->record->day[k], to);
}
