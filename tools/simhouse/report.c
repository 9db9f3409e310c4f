/* The log is for pictures, the summary for scripts: "key value" lines whose keys
 * begin with a load's name where they are a load's. */
#include "report.h"

#include <inttypes.h>
#include <math.h>

#define LOG_EVERY_MS MS_PER_MIN
#define KWH(j) ((j) / 3.6e6)

static void write_heading(const struct report *report)
{
    fprintf(report->log, "time,unix,grid_w,pv_w,use_w");
    for (int i = 0; i < report->scenario->house.load_count; i++) {
        const struct load_spec *load = &report->scenario->load[i];
        fprintf(report->log, ",%s_relay,%s_w,%s_wh,%s_sun_wh", load->name, load->name, load->name,
                load->name);
        if (report->scenario->house.load[i].kind == HOUSE_HEATER)
            fprintf(report->log, ",%s_top_c,%s_bottom_c", load->name, load->name);
    }
    fprintf(report->log, ",tap_c\n");
}

void report_init(struct report *report, const struct scenario *scenario, FILE *log)
{
    *report = (struct report){.scenario = scenario,
                              .log = log,
                              .hottest_tap_c = NAN,
                              .coldest_tap_c = NAN,
                              .minute_tap_c = NAN};
    if (log)
        write_heading(report);
}

static void write_row(const struct report *report, const struct world *world)
{
    struct date date = date_of_days(world->local.day);
    fprintf(report->log, "%04d-%02d-%02dT%02d:%02d,%" PRId64 ",%.1f,%.1f,%.1f", date.year,
            date.month, date.day, world->local.second / 3600, world->local.second / 60 % 60,
            (world_wall(world).ms - world->step_ms) / MS_PER_S, world->grid.total_w, world->pv_w,
            world->use_w);
    for (int i = 0; i < world->load_count; i++) {
        const struct house_load *load = &world->load[i];
        fprintf(report->log, ",%d,%.1f,%.1f,%.1f", load->relay, load->draw_w, load->energy_j / 3600,
                load->sun_j / 3600);
        if (load->settings->kind == HOUSE_HEATER)
            fprintf(report->log, ",%.2f,%.2f", heater_top_c(&load->heater),
                    heater_bottom_c(&load->heater));
    }
    if (isnan(report->minute_tap_c))
        fprintf(report->log, ",\n");
    else
        fprintf(report->log, ",%.2f\n", report->minute_tap_c);
}

void report_step(struct report *report, const struct world *world)
{
    report->hottest_tap_c = fmax(report->hottest_tap_c, world->hot_c);
    report->coldest_tap_c = fmin(report->coldest_tap_c, world->hot_c);
    report->minute_tap_c = fmin(report->minute_tap_c, world->hot_c);
    if (world->local.day == report->scenario->start_day && world->local.second < 17 * 3600)
        for (int i = 0; i < world->load_count; i++)
            report->drawing_by_17_s[i] = world->load[i].drawing_s;
    int64_t began_ms = world->elapsed_ms - world->step_ms;
    if (!report->log || began_ms < report->next_ms)
        return;
    write_row(report, world);
    report->minute_tap_c = NAN;
    report->next_ms = (began_ms / LOG_EVERY_MS + 1) * LOG_EVERY_MS;
}

static void write_load(const struct report *report, const struct house_load *load, int i, FILE *to)
{
    const char *name = report->scenario->load[i].name;
    fprintf(to, "%s.energy_kwh %.3f\n", name, KWH(load->energy_j));
    fprintf(to, "%s.sun_kwh %.3f\n", name, KWH(load->sun_j));
    fprintf(to, "%s.grid_kwh %.3f\n", name, KWH(load->grid_j));
    fprintf(to, "%s.drawing_h %.3f\n", name, load->drawing_s / 3600);
    fprintf(to, "%s.relay_h %.3f\n", name, load->relay_s / 3600);
    fprintf(to, "%s.drawing_by_17_h %.3f\n", name, report->drawing_by_17_s[i] / 3600);
    fprintf(to, "%s.cycles %ld\n", name, load->cycles);
    if (load->settings->kind == HOUSE_HEATER) {
        fprintf(to, "%s.top_c %.2f\n", name, heater_top_c(&load->heater));
        fprintf(to, "%s.bottom_c %.2f\n", name, heater_bottom_c(&load->heater));
        fprintf(to, "%s.lost_kwh %.3f\n", name, KWH(load->heater.tank.lost_j));
    }
    if (load->settings->kind == HOUSE_CHARGER)
        fprintf(to, "%s.charged_kwh %.3f\n", name, load->charger.charged_kwh);
}

void report_summary(const struct report *report, const struct world *world, FILE *to)
{
    fprintf(to, "import_kwh %.3f\n", KWH(world->grid.import_j));
    fprintf(to, "export_kwh %.3f\n", KWH(world->grid.export_j));
    fprintf(to, "pv_kwh %.3f\n", KWH(world->pv_j));
    for (int i = 0; i < world->load_count; i++)
        write_load(report, &world->load[i], i, to);
    if (!isnan(report->hottest_tap_c)) {
        fprintf(to, "tap_hottest_c %.2f\n", report->hottest_tap_c);
        fprintf(to, "tap_coldest_c %.2f\n", report->coldest_tap_c);
        fprintf(to, "tap_drawn_kwh %.3f\n", KWH(world->tap.drawn_j));
        fprintf(to, "tap_spoilt_s %.0f\n", world->tap.spoilt_s);
    }
}
