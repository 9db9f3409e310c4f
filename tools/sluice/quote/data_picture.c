/* data_picture.c - the mean day of a season: what the roof gave (or sent into the grid)
 * behind, what the household took (or imported) before it. All seasons have one scale. */
#include <math.h>

#include "data_preview.h"
#include "sluice/page/sheet.h"
#include "sluice/page/show.h"
#include "sluice/page/svg.h"

enum { WIDTH = 520, HEIGHT = 190, LEFT = 34, RIGHT = 510, TOP = 12, FOOT = 164 };

#define HOUSEHOLD "#b9b2a6"

static double x_of(int half)
{
    return LEFT + (double)half / DAYS_HALF_HOURS * (RIGHT - LEFT);
}

static void draw_axes(struct svg *svg, double top_w, double px_per_w)
{
    double step_w = top_w > 6000 ? 2000 : top_w > 2000 ? 1000 : 500;
    char buffer[16];
    for (double w = 0; w <= top_w; w += step_w) {
        struct text text = text_in(buffer, sizeof(buffer));
        text_add(&text, step_w < 1000 ? "%.1f" : "%.0f", w / 1000);
        svg_line(svg, LEFT, FOOT - w * px_per_w, RIGHT, FOOT - w * px_per_w, FAINT, 1, "");
        svg_words(svg, LEFT - 5, FOOT - w * px_per_w + 4, (struct svg_font){11, MUTED, SVG_END, 0},
                  buffer);
    }
    for (int hour = 0; hour <= 24; hour += 6) {
        struct text text = text_in(buffer, sizeof(buffer));
        show_clock(&text, hour * 3600);
        svg_words(svg, x_of(2 * hour), FOOT + 16,
                  (struct svg_font){11, MUTED, hour == 24 ? SVG_END : SVG_MIDDLE, 0}, buffer);
    }
}

static void draw_steps(struct svg *svg, const struct data_preview *preview, int season,
                       double px_per_w)
{
    svg_area_begin(svg, LEFT, FOOT);
    for (int half = 0; half < DAYS_HALF_HOURS; half++) {
        double w = data_sun_w(preview, &preview->profile.season[season].mean_w[half]);
        svg_area_to(svg, x_of(half), FOOT - w * px_per_w);
        svg_area_to(svg, x_of(half + 1), FOOT - w * px_per_w);
    }
    svg_area_to(svg, RIGHT, FOOT);
    svg_area_end(svg, preview->loaded->days.at_meter ? SPARE : SOLAR, "");
}

void data_draw_season(const struct data_preview *preview, int season, FILE *to)
{
    double use_w, sun_w;
    data_largest_w(preview, &use_w, &sun_w);
    double top_w = 1.05 * fmax(use_w, sun_w), px_per_w = (FOOT - TOP) / top_w;
    struct svg svg = svg_begin_inline(to, WIDTH, HEIGHT, "The mean day of a season");
    draw_axes(&svg, top_w, px_per_w);
    draw_steps(&svg, preview, season, px_per_w);
    for (int half = 0; half < DAYS_HALF_HOURS; half++) {
        double w = data_use_w(preview, &preview->profile.season[season].mean_w[half]);
        svg_box(&svg, x_of(half), FOOT - w * px_per_w, x_of(half + 1) - x_of(half) + 0.2,
                w * px_per_w, preview->loaded->days.at_meter ? GRID : HOUSEHOLD, 0);
    }
    svg_end(&svg);
}
