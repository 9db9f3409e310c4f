/* power_panel.c - the power of the house over the day.
 *
 * Above the line what the sun gave: solar power where it is measured, in front of it
 * what was spare, in front of that what the loads took of it. Below the line what was
 * imported. All on one scale, so that areas of equal size are equal energy. */
#include "power_panel.h"

#include <math.h>

#include "sluice/page/show.h"

enum side { SIDE_SPARE, SIDE_GRID };

struct scale {
    double zero_y, px_per_w;
};

static double watts(const struct result_piece *piece, enum side side)
{
    double mwh = side == SIDE_SPARE ? piece->amount.spare_mwh : piece->amount.grid_mwh;
    return mwh * 3600 / (double)(piece->to_ms - piece->from_ms);
}

static double highest(const struct result_track *track, enum side side)
{
    double most = 0;
    for (size_t k = 0; k < track->count; k++)
        most = watts(&track->piece[k], side) > most ? watts(&track->piece[k], side) : most;
    return most;
}

static int64_t within(const struct result *day, int64_t at_ms)
{
    return at_ms < day->begin_ms ? day->begin_ms : at_ms > day->end_ms ? day->end_ms : at_ms;
}

/* One area a stretch without gaps; each piece is a level step. */
static void draw_area(struct picture *picture, const struct result_track *track, enum side side,
                      const struct scale *scale, const char *colour)
{
    double sign = side == SIDE_SPARE ? -1 : 1;
    for (size_t k = 0; k < track->count;) {
        double x = picture_x(picture, within(picture->day, track->piece[k].from_ms));
        svg_area_begin(&picture->svg, x, scale->zero_y);
        int64_t end_ms = track->piece[k].from_ms;
        for (; k < track->count && track->piece[k].from_ms - end_ms < MS_PER_MIN; k++) {
            const struct result_piece *piece = &track->piece[k];
            double y = scale->zero_y + sign * watts(piece, side) * scale->px_per_w;
            svg_area_to(&picture->svg, picture_x(picture, within(picture->day, piece->from_ms)), y);
            svg_area_to(&picture->svg, picture_x(picture, within(picture->day, piece->to_ms)), y);
            end_ms = piece->to_ms;
        }
        x = picture_x(picture, within(picture->day, end_ms));
        svg_area_to(&picture->svg, x, scale->zero_y);
        svg_area_end(&picture->svg, colour, "");
    }
}

/* What the loads took of spare power, one upon the other, at the spare track's
 * pieces. */
static void draw_used(struct picture *picture, const struct scale *scale)
{
    const struct result *day = picture->day;
    for (size_t k = 0; k < day->spare.count; k++) {
        const struct result_piece *piece = &day->spare.piece[k];
        double used_mwh = 0;
        for (size_t load = 0; load < day->load_count; load++)
            used_mwh += result_sum(&day->load[load], piece->from_ms, piece->to_ms).spare_mwh;
        double height = used_mwh * 3600 / (double)(piece->to_ms - piece->from_ms) * scale->px_per_w;
        double x = picture_x(picture, within(day, piece->from_ms));
        double width = picture_x(picture, within(day, piece->to_ms)) - x;
        /* A hair of overlap, so that no seams show between pieces. */
        svg_box(&picture->svg, x, scale->zero_y - height, width + 0.2, height, USED, 0);
    }
}

/* 1, 2 or 5 kW (or less) between the lines, so that there are three to seven. */
static double step_w(double span_w)
{
    static const double steps[] = {100, 200, 500, 1000, 2000, 5000, 10000, 20000, 50000};
    for (size_t k = 0; k < sizeof(steps) / sizeof(steps[0]); k++)
        if (span_w / steps[k] <= 7)
            return steps[k];
    return 100000;
}

static void draw_lines(struct picture *picture, const struct scale *scale, double up_w,
                       double down_w)
{
    const struct svg_font font = {12, MUTED, SVG_END, 0};
    double step = step_w(up_w + down_w);
    for (double w = -(double)(int64_t)(down_w / step) * step; w <= up_w; w += step) {
        char buffer[32];
        struct text text = text_in(buffer, sizeof(buffer));
        double y = scale->zero_y - w * scale->px_per_w;
        int64_t size_w = (int64_t)(w < 0 ? -w : w);
        text_add(&text, step < 1000 ? "%.1f kW" : "%.0f kW", (double)size_w / 1000);
        svg_line(&picture->svg, PLOT_LEFT, y, PLOT_RIGHT, y, w == 0 ? INK : FAINT, 1, "");
        svg_words(&picture->svg, PLOT_LEFT - 8, y + 4, font, buffer);
    }
}

struct figure {
    const char *colour, *name;
    double mwh;
};

static void draw_figures(struct picture *picture, double top)
{
    const struct result *day = picture->day;
    double used_mwh = 0;
    for (size_t k = 0; k < day->load_count; k++)
        used_mwh += result_total(day, &day->load[k]).spare_mwh;
    const struct figure figures[] = {
        {SOLAR, "solar", result_total(day, &day->solar).spare_mwh},
        {SPARE, "spare", result_total(day, &day->spare).spare_mwh},
        {USED, "of it used by loads", used_mwh},
        {NULL, "exported", result_total(day, &day->grid).spare_mwh},
        {GRID, "imported", result_total(day, &day->grid).grid_mwh},
    };
    double y = top;
    for (size_t k = 0; k < sizeof(figures) / sizeof(figures[0]); k++) {
        char buffer[32];
        struct text text = text_in(buffer, sizeof(buffer));
        if (k == 0 && figures[k].mwh <= 0)
            continue; /* no solar meter */
        show_energy(&text, llround(figures[k].mwh));
        if (figures[k].colour)
            svg_box(&picture->svg, SIDE_LEFT, y - 11, 13, 13, figures[k].colour, 2);
        svg_words(&picture->svg, SIDE_LEFT + 20, y, (struct svg_font){15, INK, SVG_START, 1},
                  buffer);
        svg_words(&picture->svg, SIDE_LEFT + 20, y + 15, (struct svg_font){12, MUTED, SVG_START, 0},
                  figures[k].name);
        y += 46;
    }
}

static void draw_gaps(struct picture *picture, double top, double height)
{
    const struct result *day = picture->day;
    int64_t end_ms = day->begin_ms;
    for (size_t k = 0; k <= day->grid.count; k++) {
        int64_t from_ms = k < day->grid.count ? day->grid.piece[k].from_ms : day->end_ms;
        if (from_ms - end_ms > MS_PER_MIN) {
            double x = picture_x(picture, within(day, end_ms));
            double width = picture_x(picture, within(day, from_ms)) - x;
            svg_box(&picture->svg, x, top, width, height, FAINT, 0);
            if (width > 90)
                svg_words(&picture->svg, x + width / 2, top + height / 2,
                          (struct svg_font){12, MUTED, SVG_MIDDLE, 0}, "not recorded");
        }
        if (k < day->grid.count)
            end_ms = day->grid.piece[k].to_ms;
    }
}

void picture_power(struct picture *picture, double top)
{
    const struct result *day = picture->day;
    double up_w = highest(&day->solar, SIDE_SPARE), down_w = highest(&day->grid, SIDE_GRID);
    if (highest(&day->spare, SIDE_SPARE) > up_w)
        up_w = highest(&day->spare, SIDE_SPARE);
    up_w = up_w < 1000 ? 1000 : up_w * 1.05;
    down_w = down_w < 200 ? 200 : down_w * 1.05;
    struct scale scale = {.px_per_w = POWER_HEIGHT / (up_w + down_w)};
    scale.zero_y = top + up_w * scale.px_per_w;
    svg_box(&picture->svg, PLOT_LEFT, top, PLOT_RIGHT - PLOT_LEFT, POWER_HEIGHT, BACKDROP, 0);
    draw_gaps(picture, top, POWER_HEIGHT);
    picture_hours(picture, top, top + POWER_HEIGHT, false);
    draw_lines(picture, &scale, up_w, down_w);
    draw_area(picture, &day->solar, SIDE_SPARE, &scale, SOLAR);
    draw_area(picture, &day->spare, SIDE_SPARE, &scale, SPARE);
    draw_used(picture, &scale);
    draw_area(picture, &day->grid, SIDE_GRID, &scale, GRID);
    svg_line(&picture->svg, PLOT_LEFT, scale.zero_y, PLOT_RIGHT, scale.zero_y, INK, 1, "");
    svg_words(&picture->svg, MARGIN, top + 14, (struct svg_font){15, INK, SVG_START, 1}, "Power");
    svg_words(&picture->svg, MARGIN, scale.zero_y + 18, (struct svg_font){12, MUTED, SVG_START, 0},
              "import");
    draw_figures(picture, top + 14);
}
