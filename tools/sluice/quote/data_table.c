/* data_table.c - days as a table with an offset beside each time, so that it is read alike
 * whatever the zone, and in kW to a tenth of a watt. */
#include <stdlib.h>

#include "data_preview.h"

static void write_time(FILE *to, const struct zone *zone, struct wall at)
{
    struct local local = local_of_wall(zone, at);
    struct date date = date_of_days(local.day);
    int64_t offset_s = (int64_t)local.day * 86400 + local.second - at.ms / MS_PER_S;
    fprintf(to, "%04d-%02d-%02dT%02d:%02d:%02d%c%02d:%02d", date.year, date.month, date.day,
            local.second / 3600, local.second / 60 % 60, local.second % 60,
            offset_s < 0 ? '-' : '+', (int)(labs((long)offset_s) / 3600),
            (int)(labs((long)offset_s) / 60 % 60));
}

/* Litres within the row, where draws have steps of their own. */
static double drawn_l(const struct days *days, size_t row)
{
    double sum = 0;
    int64_t from_s = (int64_t)row * days->step_s, to_s = from_s + days->step_s;
    for (int64_t k = from_s / days->draw_step_s;
         k * days->draw_step_s < to_s && k < (int64_t)days->draw_count; k++)
        sum += (double)days->draw_l[k];
    return sum;
}

void data_write_table(const struct days *days, const struct zone *zone, FILE *to)
{
    bool draws = days->draw_l && days->draw_step_s <= days->step_s;
    fprintf(to, "time,%s%s\n", days->at_meter ? "import_kw,export_kw" : "use_kw,solar_kw",
            draws ? ",hot_water_l" : "");
    for (size_t k = 0; k < days->count; k++) {
        write_time(to, zone, (struct wall){days->first.ms + (int64_t)k * days->step_s * MS_PER_S});
        fprintf(to, ",%.4f,%.4f", (double)days->use_w[k] / 1000, (double)days->solar_w[k] / 1000);
        if (draws)
            fprintf(to, ",%.3f", drawn_l(days, k));
        fputc('\n', to);
    }
}
