/* lane_panel.c - one load over the day.
 *
 * Bars are the load's mean power in each piece of history, coloured by where its
 * energy came from. The dark band beneath them is the time for which the load was
 * on: a band without a bar above it is a load that was on and drew nothing, such as a
 * heater whose thermostat has opened. */
#include "lane_panel.h"

#include <math.h>

#include "sluice/page/show.h"

enum { BARS_TOP = 26, BARS_HEIGHT = 46, BAND_HEIGHT = 5, TIMES_WIDTH = 92, DOT = 8 };

static double mean_w(const struct result_piece *piece, double mwh)
{
    return mwh * 3600 / (double)(piece->to_ms - piece->from_ms);
}

static double most_w(const struct result_track *load)
{
    double most = (double)load->power_w;
    for (size_t k = 0; k < load->count; k++) {
        double w = mean_w(&load->piece[k],
                          load->piece[k].amount.spare_mwh + load->piece[k].amount.grid_mwh);
        most = w > most ? w : most;
    }
    return most > 0 ? most : 1;
}

static void draw_bars(struct picture *picture, const struct result_track *load, double foot)
{
    double px_per_w = BARS_HEIGHT / most_w(load);
    for (size_t k = 0; k < load->count; k++) {
        const struct result_piece *piece = &load->piece[k];
        int64_t from = piece->from_ms, to = piece->to_ms;
        from = from < picture->day->begin_ms ? picture->day->begin_ms : from;
        to = to > picture->day->end_ms ? picture->day->end_ms : to;
        double x = picture_x(picture, from), width = picture_x(picture, to) - x + 0.2;
        double spare = mean_w(piece, piece->amount.spare_mwh) * px_per_w;
        double grid = mean_w(piece, piece->amount.grid_mwh) * px_per_w;
        svg_box(&picture->svg, x, foot - spare, width, spare, USED, 0);
        svg_box(&picture->svg, x, foot - spare - grid, width, grid, GRID, 0);
    }
}

/* ---- runs ------------------------------------------------------------------------------ */

int picture_run_number(const struct result *day, const struct result_run *run)
{
    int number = 1;
    bool before = true; /* in the order of the lanes, which settles runs that begin together */
    for (size_t k = 0; k < day->load_count; k++)
        for (size_t r = 0; r < day->load[k].run_count; r++) {
            const struct result_run *other = &day->load[k].run[r];
            before = before && other != run;
            number += other->from_ms < run->from_ms || (other->from_ms == run->from_ms && before);
        }
    return number;
}

static void draw_dot(struct picture *picture, double x, double y, int number)
{
    char buffer[16];
    struct text text = text_in(buffer, sizeof(buffer));
    text_add(&text, "%d", number);
    svg_circle(&picture->svg, x, y, DOT, CLOSED);
    svg_words(&picture->svg, x, y + 3.6, (struct svg_font){10, PAPER, SVG_MIDDLE, 1}, buffer);
}

void picture_times(const struct result *day, const struct result_run *run, struct text *text)
{
    if (!run->from_before)
        show_clock(text, result_second(day, run->from_ms));
    text_add(text, "–");
    if (!run->goes_on)
        show_clock(text, result_second(day, run->to_ms));
}

/* The dot goes where there is room for it, the times where there is room for them. */
static void draw_runs(struct picture *picture, const struct result_track *load, double top)
{
    double foot = top + BARS_TOP + BARS_HEIGHT, free_from = 0;
    for (size_t k = 0; k < load->run_count; k++) {
        const struct result_run *run = &load->run[k];
        double from = picture_x(picture, run->from_ms), to = picture_x(picture, run->to_ms);
        double next =
            k + 1 < load->run_count ? picture_x(picture, load->run[k + 1].from_ms) : SIDE_LEFT;
        svg_box(&picture->svg, from, foot + 2, to - from < 1 ? 1 : to - from, BAND_HEIGHT, CLOSED,
                1);
        if (from < free_from)
            continue;
        draw_dot(picture, from + DOT, top + 14, picture_run_number(picture->day, run));
        free_from = from + 2 * DOT;
        if (next - from < TIMES_WIDTH + 2 * DOT)
            continue;
        char buffer[48];
        struct text text = text_in(buffer, sizeof(buffer));
        picture_times(picture->day, run, &text);
        svg_words(&picture->svg, from + 2 * DOT + 5, top + 18,
                  (struct svg_font){12, INK, SVG_START, 0}, buffer);
        free_from = from + TIMES_WIDTH + 2 * DOT;
    }
}

/* ---- floors ----------------------------------------------------------------------------- */

static void write_promise(const struct picture *picture, const struct result_floor *floor,
                          struct text *text)
{
    text_add(text, "%s", floor->text);
    if (floor->promise == PROMISE_KEPT) {
        text_add(text, ": kept ");
        if (floor->kept_ms < picture->day->begin_ms)
            text_add(text, "the evening before, ");
        show_clock(text, result_second(picture->day, floor->kept_ms));
    } else if (floor->promise == PROMISE_MISSED) {
        text_add(text, ": not kept");
    } else if (floor->promise == PROMISE_UNKNOWN) {
        text_add(text, ": not known");
    }
}

static void draw_floor(struct picture *picture, const struct result_floor *floor, double top,
                       int row)
{
    char buffer[RESULT_NAME_MAX + 32];
    struct text text = text_in(buffer, sizeof(buffer));
    const char *colour = floor->promise == PROMISE_KEPT ? KEPT : DEADLINE;
    if (floor->deadline_ms == 0)
        return;
    double x = picture_x(picture, floor->deadline_ms);
    bool late = x > (PLOT_LEFT + 2 * PLOT_RIGHT) / 3;
    write_promise(picture, floor, &text);
    svg_line(&picture->svg, x, top + BARS_TOP - 4, x, top + LANE_HEIGHT - 14, colour, 1.6, "5 3");
    svg_words(&picture->svg, late ? x - 6 : x + 6, top + LANE_HEIGHT - 14 - 13 * row,
              (struct svg_font){12, colour, late ? SVG_END : SVG_START, 1}, buffer);
}

/* ---- words beside -------------------------------------------------------------------------- */

static void draw_name(struct picture *picture, const struct result_track *load, double top)
{
    char buffer[RESULT_NAME_MAX + 32];
    struct text text = text_in(buffer, sizeof(buffer));
    svg_words(&picture->svg, MARGIN, top + 34, (struct svg_font){15, INK, SVG_START, 1},
              result_title(load));
    if (load->power_w == 0)
        return;
    show_power(&text, load->power_w);
    text_add(&text, ", priority %d", load->priority);
    svg_words(&picture->svg, MARGIN, top + 52, (struct svg_font){12, MUTED, SVG_START, 0}, buffer);
}

static void draw_figure(struct picture *picture, double y, const char *colour, const char *figure,
                        const char *name)
{
    svg_box(&picture->svg, SIDE_LEFT, y - 11, 13, 13, colour, 2);
    svg_words(&picture->svg, SIDE_LEFT + 20, y, (struct svg_font){14, INK, SVG_START, 1}, figure);
    svg_words(&picture->svg, SHEET_WIDTH - MARGIN, y, (struct svg_font){12, MUTED, SVG_END, 0},
              name);
}

static void draw_sums(struct picture *picture, const struct result_track *load, double top)
{
    char spare[32], grid[32], on[32];
    struct text text = text_in(spare, sizeof(spare));
    struct result_amount sum = result_total(picture->day, load);
    show_energy(&text, llround(sum.spare_mwh));
    text = text_in(grid, sizeof(grid));
    show_energy(&text, llround(sum.grid_mwh));
    text = text_in(on, sizeof(on));
    show_duration(&text, sum.on_ms);
    draw_figure(picture, top + 34, USED, spare, "spare");
    draw_figure(picture, top + 55, GRID, grid, "grid");
    draw_figure(picture, top + 76, CLOSED, on, "on");
}

void picture_lane(struct picture *picture, const struct result_track *load, double top)
{
    svg_box(&picture->svg, PLOT_LEFT, top + BARS_TOP, PLOT_RIGHT - PLOT_LEFT, BARS_HEIGHT, BACKDROP,
            0);
    picture_hours(picture, top + BARS_TOP, top + BARS_TOP + BARS_HEIGHT, false);
    draw_bars(picture, load, top + BARS_TOP + BARS_HEIGHT);
    draw_runs(picture, load, top);
    for (int k = 0; k < load->floor_count; k++)
        draw_floor(picture, &load->floor[k], top, k);
    draw_name(picture, load, top);
    draw_sums(picture, load, top);
}
