/* replay_sheet.c - a year on one sheet.
 *
 * Days lie side by side. Above, each day's energy: what the sun gave, what was spare of
 * it, what the loads took of that, and below the line what was imported. Beneath, a panel
 * for each load: a column is a day, midnight at the top and at the bottom, so that runs
 * at the same time of day make a band; behind them, in paler tones, the hours with spare
 * power. A run's colour tells whose energy it took. */
#include <inttypes.h>

#include "replay.h"
#include "sluice/page/sheet.h"
#include "sluice/page/show.h"

#define MIXED "#b09070"

#define MWH_PER_KWH 1e6

enum {
    ENERGY_TOP = 142,
    ENERGY_HEIGHT = 170,
    PANEL_GAP = 46,
    PANEL_HEIGHT = 168, /* 7 px an hour */
    S_PER_DAY = 86400,
    AXIS_HEIGHT = 40,
};

struct sheet {
    struct svg svg;
    const struct replay *replay;
    int32_t first_day, days;
};

static double x_of(const struct sheet *sheet, int32_t day)
{
    return PLOT_LEFT +
           (double)(PLOT_RIGHT - PLOT_LEFT) * (double)(day - sheet->first_day) / sheet->days;
}

static double y_of(double top, int32_t second)
{
    return top + (double)PANEL_HEIGHT * second / S_PER_DAY;
}

/* ---- heading ------------------------------------------------------------------------------ */

static void draw_heading(struct sheet *sheet)
{
    const struct replay *replay = sheet->replay;
    char buffer[200];
    struct text text = text_in(buffer, sizeof(buffer));
    double sun = 0, grid = 0;
    for (int k = 0; k < replay->home->load_count; k++) {
        struct result_amount sum = result_total(replay->result, &replay->result->load[k]);
        sun += sum.spare_mwh / MWH_PER_KWH;
        grid += sum.grid_mwh / MWH_PER_KWH;
    }
    svg_words(&sheet->svg, MARGIN, 56, (struct svg_font){30, INK, SVG_START, 1},
              replay->settings->site_name);
    replay_write_span(replay, &text);
    svg_words(&sheet->svg, SHEET_WIDTH - MARGIN, 50, (struct svg_font){18, INK, SVG_END, 0},
              buffer);
    text = text_in(buffer, sizeof(buffer));
    text_add(&text, "a replay, %s", replay->settings->timezone);
    svg_words(&sheet->svg, SHEET_WIDTH - MARGIN, 70, (struct svg_font){12, MUTED, SVG_END, 0},
              buffer);
    text = text_in(buffer, sizeof(buffer));
    text_add(&text, "The loads would have taken %.0f kWh", sun + grid);
    if (sun + grid > 0)
        text_add(&text, ", %.0f %% of it spare solar power", 100 * sun / (sun + grid));
    text_add(&text, ".");
    svg_words(&sheet->svg, MARGIN, 92, (struct svg_font){18, INK, SVG_START, 0}, buffer);
    svg_line(&sheet->svg, MARGIN, 112, SHEET_WIDTH - MARGIN, 112, FAINT, 1.5, "");
}

/* ---- energy by days -------------------------------------------------------------------------- */

struct energies {
    double solar, spare, used, import;
};

static struct result_amount of_day(const struct sheet *sheet, const struct result_track *track,
                                   int32_t day)
{
    return replay_sum(sheet->replay, track, day, day + 1);
}

static struct energies energies_of(const struct sheet *sheet, int32_t day)
{
    const struct result *result = sheet->replay->result;
    struct energies kwh = {
        .solar = of_day(sheet, &result->solar, day).spare_mwh / MWH_PER_KWH,
        .spare = of_day(sheet, &result->spare, day).spare_mwh / MWH_PER_KWH,
        .import = of_day(sheet, &result->grid, day).grid_mwh / MWH_PER_KWH,
    };
    for (size_t k = 0; k < result->load_count; k++)
        kwh.used += of_day(sheet, &result->load[k], day).spare_mwh / MWH_PER_KWH;
    return kwh;
}

static void bar(struct sheet *sheet, int32_t day, double y, double height, const char *colour)
{
    double x = x_of(sheet, day), width = x_of(sheet, day + 1) - x;
    svg_box(&sheet->svg, x, y, width > 8 ? width - 1 : width + 0.1, height, colour, 0);
}

static double nice_step(double span)
{
    static const double steps[] = {0.5, 1, 2, 5, 10, 20, 50, 100};
    for (size_t k = 0; k < sizeof(steps) / sizeof(steps[0]); k++)
        if (span / steps[k] <= 6)
            return steps[k];
    return 200;
}

static void draw_scale(struct sheet *sheet, double zero_y, double px_per_kwh, double up,
                       double down)
{
    double step = nice_step(up + down);
    for (double kwh = -(double)(int)(down / step) * step; kwh <= up; kwh += step) {
        char buffer[32];
        struct text text = text_in(buffer, sizeof(buffer));
        double y = zero_y - kwh * px_per_kwh;
        text_add(&text, "%g kWh", kwh < 0 ? -kwh : kwh);
        svg_line(&sheet->svg, PLOT_LEFT, y, PLOT_RIGHT, y, kwh == 0 ? INK : FAINT, 1, "");
        svg_words(&sheet->svg, PLOT_LEFT - 8, y + 4, (struct svg_font){12, MUTED, SVG_END, 0},
                  buffer);
    }
}

static void draw_figure(struct sheet *sheet, double y, const char *colour, const char *name,
                        const char *format, double value)
{
    char buffer[48];
    struct text text = text_in(buffer, sizeof(buffer));
    text_add(&text, format, value);
    if (colour)
        svg_box(&sheet->svg, SIDE_LEFT, y - 11, 13, 13, colour, 2);
    svg_words(&sheet->svg, SIDE_LEFT + 20, y, (struct svg_font){14, INK, SVG_START, 1}, buffer);
    svg_words(&sheet->svg, SIDE_LEFT + 20, y + 14, (struct svg_font){12, MUTED, SVG_START, 0},
              name);
}

static void draw_energy(struct sheet *sheet)
{
    struct energies all = {0};
    double up = 1, down = 1;
    int32_t end = sheet->first_day + sheet->days;
    for (int32_t day = sheet->first_day; day < end; day++) {
        struct energies kwh = energies_of(sheet, day);
        all.solar += kwh.solar;
        all.spare += kwh.spare;
        all.used += kwh.used;
        all.import += kwh.import;
        up = kwh.solar > up ? kwh.solar : up;
        down = kwh.import > down ? kwh.import : down;
    }
    double px = ENERGY_HEIGHT / (up + down), zero_y = ENERGY_TOP + up * px;
    svg_box(&sheet->svg, PLOT_LEFT, ENERGY_TOP, PLOT_RIGHT - PLOT_LEFT, ENERGY_HEIGHT, BACKDROP, 0);
    for (int32_t day = sheet->first_day; day < end; day++) {
        struct energies kwh = energies_of(sheet, day);
        bar(sheet, day, zero_y - kwh.solar * px, kwh.solar * px, SOLAR);
        bar(sheet, day, zero_y - kwh.spare * px, kwh.spare * px, SPARE);
        bar(sheet, day, zero_y - kwh.used * px, kwh.used * px, USED);
        bar(sheet, day, zero_y, kwh.import * px, GRID);
    }
    draw_scale(sheet, zero_y, px, up, down);
    svg_words(&sheet->svg, MARGIN, ENERGY_TOP + 14, (struct svg_font){15, INK, SVG_START, 1},
              "Each day");
    draw_figure(sheet, ENERGY_TOP + 14, SOLAR, "solar", "%.0f kWh", all.solar);
    draw_figure(sheet, ENERGY_TOP + 54, SPARE, "spare", "%.0f kWh", all.spare);
    draw_figure(sheet, ENERGY_TOP + 94, USED, "used by loads", "%.0f kWh", all.used);
    draw_figure(sheet, ENERGY_TOP + 134, GRID, "imported", "%.0f kWh", all.import);
}

/* ---- a load --------------------------------------------------------------------------------- */

/* By a spare hour's kWh. */
static const char *shade_of(double kwh)
{
    return kwh < 0.3 ? NULL : kwh < 1 ? "#fcf3da" : kwh < 2.5 ? "#fae9bd" : "#f8dd98";
}

static double spare_kwh(const struct sheet *sheet, int32_t day, int hour)
{
    const struct result *result = sheet->replay->result;
    int64_t from_ms = wall_of_local(&result->zone, day, hour * 3600).ms;
    int64_t to_ms = wall_of_local(&result->zone, day, (hour + 1) * 3600).ms;
    return result_sum(&result->spare, from_ms, to_ms).spare_mwh / MWH_PER_KWH;
}

/* Hours of one shade are one box. */
static void shade_day(struct sheet *sheet, int32_t day, double top)
{
    for (int hour = 0, end; hour < 24; hour = end) {
        const char *shade = shade_of(spare_kwh(sheet, day, hour));
        for (end = hour + 1; end < 24 && shade_of(spare_kwh(sheet, day, end)) == shade;)
            end++;
        if (shade)
            bar(sheet, day, y_of(top, hour * 3600), y_of(top, end * 3600) - y_of(top, hour * 3600),
                shade);
    }
}

static const char *colour_of(const struct result_run *run)
{
    double all_mwh = run->spare_mwh + run->grid_mwh;
    if (all_mwh <= 0)
        return CLOSED; /* on, and drew nothing */
    double share = run->spare_mwh / all_mwh;
    return share > 0.85 ? USED : share < 0.15 ? GRID : MIXED;
}

static void draw_run(struct sheet *sheet, const struct result_run *run, double top)
{
    const struct zone *zone = sheet->replay->home->zone;
    struct local from = local_of_wall(zone, (struct wall){run->from_ms});
    struct local to = local_of_wall(zone, (struct wall){run->to_ms});
    for (int32_t day = from.day; day <= to.day; day++) {
        double y = y_of(top, day == from.day ? from.second : 0);
        double end_y = y_of(top, day == to.day ? to.second : S_PER_DAY);
        if (end_y > y)
            bar(sheet, day, y, end_y - y < 0.5 ? 0.5 : end_y - y, colour_of(run));
    }
}

static void draw_hours(struct sheet *sheet, double top)
{
    for (int hour = 0; hour <= 24; hour += 6) {
        char buffer[16];
        struct text text = text_in(buffer, sizeof(buffer));
        double y = y_of(top, hour * 3600);
        show_clock(&text, hour * 3600);
        if (hour % 24 != 0)
            svg_line(&sheet->svg, PLOT_LEFT, y, PLOT_RIGHT, y, FAINT, 1, "");
        svg_words(&sheet->svg, PLOT_LEFT - 8, y + 4, (struct svg_font){11, MUTED, SVG_END, 0},
                  buffer);
    }
}

static void draw_sums(struct sheet *sheet, int load, double top)
{
    const struct replay *replay = sheet->replay;
    char buffer[48];
    struct text on = text_in(buffer, sizeof(buffer));
    struct result_amount sum = result_total(replay->result, &replay->result->load[load]);
    draw_figure(sheet, top + 12, USED, "spare", "%.0f kWh", sum.spare_mwh / MWH_PER_KWH);
    draw_figure(sheet, top + 52, GRID, "grid", "%.0f kWh", sum.grid_mwh / MWH_PER_KWH);
    text_add(&on, "on in %d starts", sum.starts);
    draw_figure(sheet, top + 92, NULL, buffer, "%.0f h", (double)sum.on_ms / MS_PER_HOUR);
    if (replay->settings->loads[load].floor_count == 0)
        return;
    on = text_in(buffer, sizeof(buffer));
    text_add(&on, "guarantees, %d missed", sum.missed);
    draw_figure(sheet, top + 132, sum.missed ? DEADLINE : KEPT, buffer, "%.0f kept", sum.kept);
}

static void draw_load(struct sheet *sheet, int load, double top)
{
    const struct replay *replay = sheet->replay;
    const struct result_track *track = &replay->result->load[load];
    int32_t end = sheet->first_day + sheet->days;
    char buffer[64];
    struct text text = text_in(buffer, sizeof(buffer));
    svg_box(&sheet->svg, PLOT_LEFT, top, PLOT_RIGHT - PLOT_LEFT, PANEL_HEIGHT, BACKDROP, 0);
    for (int32_t day = sheet->first_day; day < end; day++)
        shade_day(sheet, day, top);
    draw_hours(sheet, top);
    for (size_t k = 0; k < track->run_count; k++)
        draw_run(sheet, &track->run[k], top);
    for (int32_t day = sheet->first_day; day < end; day++)
        if (of_day(sheet, track, day).missed > 0)
            svg_circle(&sheet->svg, (x_of(sheet, day) + x_of(sheet, day + 1)) / 2,
                       top + PANEL_HEIGHT + 7, 3, DEADLINE);
    svg_words(&sheet->svg, MARGIN, top - 12, (struct svg_font){15, INK, SVG_START, 1},
              result_title(track));
    show_power(&text, replay->settings->loads[load].power_w);
    svg_words(&sheet->svg, MARGIN, top + 14, (struct svg_font){12, MUTED, SVG_START, 0}, buffer);
    draw_sums(sheet, load, top);
}

/* ---- the days' axis ----------------------------------------------------------------------------
 */

/* Months where there are over forty days, else days. */
static void draw_axis(struct sheet *sheet, double top)
{
    double free_from = 0;
    for (int32_t k = 0; k < sheet->days; k++) {
        struct date date = date_of_days(sheet->first_day + k);
        char buffer[24];
        struct text text = text_in(buffer, sizeof(buffer));
        double x = x_of(sheet, sheet->first_day + k);
        if ((sheet->days > 40 && date.day != 1) || x < free_from || x > PLOT_RIGHT - 20)
            continue;
        if (sheet->days > 40)
            text_add(&text, "%s", month_name(date.month));
        else
            text_add(&text, "%d %s", date.day, month_name(date.month));
        svg_line(&sheet->svg, x, top, x, top + 6, MUTED, 1, "");
        svg_words(&sheet->svg, x + 3, top + 16, (struct svg_font){12, MUTED, SVG_START, 0}, buffer);
        free_from = x + 48;
    }
}

void replay_draw(const struct replay *replay, FILE *to)
{
    char title[128];
    struct text text = text_in(title, sizeof(title));
    double panels_top = ENERGY_TOP + ENERGY_HEIGHT + PANEL_GAP;
    double panels_end =
        panels_top + (double)replay->home->load_count * (PANEL_HEIGHT + PANEL_GAP) - PANEL_GAP;
    double height = panels_end + AXIS_HEIGHT + 16;
    text_add(&text, "%s, ", replay->settings->site_name);
    replay_write_span(replay, &text);
    struct sheet sheet = {svg_begin(to, SHEET_WIDTH, height, title), replay,
                          replay_first_day(replay), replay_day_count(replay)};
    svg_box(&sheet.svg, 0, 0, SHEET_WIDTH, height, PAPER, 0);
    draw_heading(&sheet);
    draw_energy(&sheet);
    for (int k = 0; k < replay->home->load_count; k++)
        draw_load(&sheet, k, panels_top + (double)k * (PANEL_HEIGHT + PANEL_GAP));
    draw_axis(&sheet, panels_end + 10);
    svg_end(&sheet.svg);
}
