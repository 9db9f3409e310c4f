/* compare_picture.c - bars, and a day.
 *
 * Colours are those of the picture of a day: what the sun gave is orange, what the grid
 * gave is blue. */
#include "compare_picture.h"

#include <math.h>

#include "sluice/page/sheet.h"
#include "sluice/page/show.h"

enum {
    HALF_WIDTH = 520,
    NAMES = 200,
    BAR = 16,
    PITCH = 22,
    FIGURE = 74, /* room for a figure after the longest bar */
    AXIS = 30,
};

static struct svg_font font(double size, const char *colour, enum svg_anchor anchor, int bold)
{
    return (struct svg_font){size, colour, anchor, bold};
}

static bool is_shown(const struct comparison *comparison, int way)
{
    return comparison->compare->result[way].there && !compare_is_bound((enum compare_way)way);
}

static int shown_count(const struct comparison *comparison)
{
    int count = 0;
    for (int way = 0; way < WAY_COUNT; way++)
        count += is_shown(comparison, way);
    return count;
}

static void draw_name(struct svg *svg, const struct comparison *comparison, int way, double y)
{
    bool bought = comparison->verdict->buy == (enum compare_way)way;
    char buffer[64];
    struct text text = text_in(buffer, sizeof(buffer));
    compare_write_name(comparison, (enum compare_way)way, &text);
    svg_words(svg, NAMES - 8, y + BAR - 4, font(11, INK, SVG_END, bought), buffer);
}

/* ---- savings -------------------------------------------------------------------- */

static double possible(const struct comparison *comparison, enum compare_way bound)
{
    return comparison->compare->result[WAY_ALWAYS_ON].mean.cost -
           comparison->compare->result[bound].mean.cost;
}

struct scale {
    double least, most, left, right;
};

static double place(const struct scale *scale, double value)
{
    return scale->left +
           (value - scale->least) / (scale->most - scale->least) * (scale->right - scale->left);
}

static struct scale savings_scale(const struct comparison *comparison)
{
    struct scale scale = {.left = NAMES, .right = HALF_WIDTH - FIGURE, .most = 1};
    for (int way = 0; way < WAY_COUNT; way++) {
        if (!is_shown(comparison, way))
            continue;
        scale.least = fmin(scale.least, comparison->verdict->offer[way].saves_least);
        scale.most = fmax(scale.most, comparison->verdict->offer[way].saves_most);
    }
    scale.most = fmax(scale.most, possible(comparison, WAY_FORESIGHT_PROPORTIONAL));
    if (scale.least < 0)
        scale.left += 50;
    return scale;
}

static void draw_saving(struct svg *svg, const struct comparison *comparison,
                        const struct scale *scale, int way, double y)
{
    const struct compare_offer *offer = &comparison->verdict->offer[way];
    double zero = place(scale, 0), at = place(scale, offer->saves);
    char buffer[48];
    struct text text = text_in(buffer, sizeof(buffer));
    svg_box(svg, fmin(zero, at), y, fabs(at - zero), BAR, KEPT, 2);
    if (offer->saves_most - offer->saves_least > 0.5)
        svg_line(svg, place(scale, offer->saves_least), y + BAR / 2.0,
                 place(scale, offer->saves_most), y + BAR / 2.0, INK, 2, "");
    compare_write_money(comparison, offer->saves, &text);
    svg_words(svg, at < zero ? at - 6 : at + 6, y + BAR - 4,
              font(12, INK, at < zero ? SVG_END : SVG_START, 0), buffer);
}

static void draw_possible(struct svg *svg, const struct comparison *comparison,
                          const struct scale *scale, double foot)
{
    double x = place(scale, possible(comparison, WAY_FORESIGHT_PROPORTIONAL));
    svg_line(svg, x, 2, x, foot + 4, DEADLINE, 1.2, "5 3");
    svg_words(svg, x, foot + 16, font(10.5, DEADLINE, SVG_END, 0),
              "had weather and draws been known beforehand");
}

void compare_draw_savings(const struct comparison *comparison, FILE *to)
{
    int height = shown_count(comparison) * PITCH + AXIS + 8;
    struct scale scale = savings_scale(comparison);
    struct svg svg = svg_begin_inline(to, HALF_WIDTH, height, "What each way saves a year");
    double y = 4, foot = y + shown_count(comparison) * PITCH;
    draw_possible(&svg, comparison, &scale, foot);
    for (int way = 0; way < WAY_COUNT; way++) {
        if (!is_shown(comparison, way))
            continue;
        draw_name(&svg, comparison, way, y);
        draw_saving(&svg, comparison, &scale, way, y);
        y += PITCH;
    }
    svg_line(&svg, place(&scale, 0), 2, place(&scale, 0), y, MUTED, 1, "");
    svg_end(&svg);
}

/* ---- where heat comes from ---------------------------------------------------------- */

static void draw_source(struct svg *svg, const struct compare_figures *figures, double px_per_kwh,
                        double y)
{
    double sun = figures->sun_kwh * px_per_kwh, grid = figures->grid_kwh * px_per_kwh;
    double all = figures->sun_kwh + figures->grid_kwh;
    char buffer[32];
    struct text text = text_in(buffer, sizeof(buffer));
    svg_box(svg, NAMES, y, sun, BAR, USED, 0);
    svg_box(svg, NAMES + sun, y, grid, BAR, GRID, 0);
    text_add(&text, "%.0f %% sun", all > 0 ? 100 * figures->sun_kwh / all : 0);
    svg_words(svg, NAMES + sun + grid + 6, y + BAR - 4, font(12, INK, SVG_START, 0), buffer);
}

static void draw_key(struct svg *svg, double x, double y, const char *colour, const char *word)
{
    svg_box(svg, x, y - 9, 11, 11, colour, 2);
    svg_words(svg, x + 16, y, font(11.5, MUTED, SVG_START, 0), word);
}

void compare_draw_sources(const struct comparison *comparison, FILE *to)
{
    int height = shown_count(comparison) * PITCH + AXIS + 8;
    double most = 1, y = 4;
    for (int way = 0; way < WAY_COUNT; way++)
        if (is_shown(comparison, way))
            most = fmax(most, comparison->compare->result[way].mean.sun_kwh +
                                  comparison->compare->result[way].mean.grid_kwh);
    struct svg svg = svg_begin_inline(to, HALF_WIDTH, height, "Where the heat comes from");
    for (int way = 0; way < WAY_COUNT; way++) {
        if (!is_shown(comparison, way))
            continue;
        draw_name(&svg, comparison, way, y);
        draw_source(&svg, &comparison->compare->result[way].mean,
                    (HALF_WIDTH - NAMES - FIGURE) / most, y);
        y += PITCH;
    }
    draw_key(&svg, NAMES, y + 16, USED, "spare sun");
    draw_key(&svg, NAMES + 110, y + 16, GRID, "grid");
    svg_end(&svg);
}

/* ---- months ---------------------------------------------------------------------------- */

#define MWH_PER_KWH 1e6

static double most_of_months(const struct result *report)
{
    double most = 1;
    for (int month = 1; month <= REPORT_MONTHS; month++) {
        struct result_amount heat;
        report_month(report, month, &heat);
        most = fmax(most, (heat.spare_mwh + heat.grid_mwh) / MWH_PER_KWH);
    }
    return most;
}

void compare_draw_months(const struct comparison *comparison, FILE *to)
{
    enum { HEIGHT = 152, TOP = 16, FOOT = 126, LEFT = 10, PITCH_X = 42, WIDTH = 30 };
    const struct result *report = comparison->report;
    double px_per_kwh = (FOOT - TOP) / most_of_months(report);
    struct svg svg = svg_begin_inline(to, HALF_WIDTH, HEIGHT, "Heat month by month");
    for (int m = 0; m < REPORT_MONTHS; m++) {
        struct result_amount heat;
        bool there = report_month(report, m + 1, &heat);
        double x = LEFT + m * PITCH_X, sun = heat.spare_mwh / MWH_PER_KWH * px_per_kwh;
        double grid = heat.grid_mwh / MWH_PER_KWH * px_per_kwh;
        char buffer[16];
        struct text text = text_in(buffer, sizeof(buffer));
        svg_words(&svg, x + WIDTH / 2.0, FOOT + 16, font(11.5, MUTED, SVG_MIDDLE, 0),
                  month_name(m + 1));
        if (!there)
            continue;
        svg_box(&svg, x, FOOT - sun, WIDTH, sun, USED, 0);
        svg_box(&svg, x, FOOT - sun - grid, WIDTH, grid, GRID, 0);
        text_add(&text, "%.0f", (heat.spare_mwh + heat.grid_mwh) / MWH_PER_KWH);
        svg_words(&svg, x + WIDTH / 2.0, FOOT - sun - grid - 4, font(10, INK, SVG_MIDDLE, 0),
                  buffer);
    }
    svg_line(&svg, LEFT, FOOT, LEFT + REPORT_MONTHS * PITCH_X - 12, FOOT, MUTED, 1, "");
    svg_end(&svg);
}

/* ---- a day -------------------------------------------------------------------------------- */

enum { DAY_LEFT = 34, DAY_RIGHT = HALF_WIDTH - 44, DAY_TOP = 18, DAY_FOOT = 126, DAY_HEIGHT = 168 };

static double day_x(int bin)
{
    return DAY_LEFT + (double)(DAY_RIGHT - DAY_LEFT) * bin / REPORT_BINS;
}

static double most_w(const struct report_bin bins[])
{
    double most = 1000;
    for (int k = 0; k < REPORT_BINS; k++)
        most = fmax(most, fmax(bins[k].solar_w, bins[k].use_w + bins[k].load_w));
    return ceil(most / 1000) * 1000;
}

static void draw_area(struct svg *svg, const struct report_bin bins[], double px_per_w,
                      const char *colour)
{
    svg_area_begin(svg, DAY_LEFT, DAY_FOOT);
    for (int k = 0; k < REPORT_BINS; k++) {
        svg_area_to(svg, day_x(k), DAY_FOOT - bins[k].solar_w * px_per_w);
        svg_area_to(svg, day_x(k + 1), DAY_FOOT - bins[k].solar_w * px_per_w);
    }
    svg_area_to(svg, DAY_RIGHT, DAY_FOOT);
    svg_area_end(svg, colour, "");
}

/* The household below, the heater on top of it: orange as far as the sun reaches. */
static void draw_use(struct svg *svg, const struct report_bin *bin, int k, double px_per_w)
{
    double x = day_x(k), width = day_x(k + 1) - x + 0.2;
    double sun_w = fmin(bin->load_w, fmax(0, bin->solar_w - bin->use_w));
    double use = bin->use_w * px_per_w, sun = sun_w * px_per_w;
    double grid = (bin->load_w - sun_w) * px_per_w;
    svg_box(svg, x, DAY_FOOT - use, width, use, "#b9b2a6", 0);
    svg_box(svg, x, DAY_FOOT - use - sun, width, sun, USED, 0);
    svg_box(svg, x, DAY_FOOT - use - sun - grid, width, grid, GRID, 0);
}

static double tank_y(double c)
{
    return DAY_FOOT - (c - 20) / 60 * (DAY_FOOT - DAY_TOP);
}

static void draw_tank(struct svg *svg, const struct report_bin bins[])
{
    for (int k = 1; k < REPORT_BINS; k++)
        svg_line(svg, (day_x(k - 1) + day_x(k)) / 2, tank_y(bins[k - 1].tank_c),
                 (day_x(k) + day_x(k + 1)) / 2, tank_y(bins[k].tank_c), DEADLINE, 1.6, "");
    for (int c = 20; c <= 80; c += 20) {
        char buffer[16];
        struct text text = text_in(buffer, sizeof(buffer));
        text_add(&text, "%d °C", c);
        svg_words(svg, DAY_RIGHT + 5, tank_y(c) + 4, font(10, DEADLINE, SVG_START, 0), buffer);
    }
}

static void draw_axes(struct svg *svg, double top_w, double px_per_w)
{
    double step_w = top_w > 6000 ? 2000 : 1000;
    for (double w = 0; w <= top_w; w += step_w) {
        char buffer[16];
        struct text text = text_in(buffer, sizeof(buffer));
        text_add(&text, "%.0f", w / 1000);
        svg_line(svg, DAY_LEFT, DAY_FOOT - w * px_per_w, DAY_RIGHT, DAY_FOOT - w * px_per_w, FAINT,
                 1, "");
        svg_words(svg, DAY_LEFT - 5, DAY_FOOT - w * px_per_w + 4, font(10, MUTED, SVG_END, 0),
                  buffer);
    }
    for (int hour = 0; hour <= 24; hour += 4) {
        char buffer[16];
        struct text text = text_in(buffer, sizeof(buffer));
        show_clock(&text, hour * 3600);
        svg_words(svg, day_x(hour * REPORT_BINS / 24), DAY_FOOT + 16,
                  font(10.5, MUTED, SVG_MIDDLE, 0), buffer);
    }
    svg_words(svg, DAY_LEFT - 5, 10, font(10, MUTED, SVG_END, 0), "kW");
    svg_words(svg, DAY_RIGHT + 5, 10, font(10, DEADLINE, SVG_START, 0), "tank");
}

void compare_draw_day(const struct comparison *comparison, FILE *to)
{
    struct report_bin bins[REPORT_BINS];
    for (int k = 0; k < REPORT_BINS; k++)
        bins[k] = report_bin(comparison->report, k);
    double top_w = most_w(bins), px_per_w = (DAY_FOOT - DAY_TOP) / top_w;
    struct svg svg = svg_begin_inline(to, HALF_WIDTH, DAY_HEIGHT, "An ordinary day");
    draw_axes(&svg, top_w, px_per_w);
    draw_area(&svg, bins, px_per_w, SOLAR);
    for (int k = 0; k < REPORT_BINS; k++)
        draw_use(&svg, &bins[k], k, px_per_w);
    draw_tank(&svg, bins);
    draw_key(&svg, DAY_LEFT, DAY_FOOT + 36, SOLAR, "solar");
    draw_key(&svg, DAY_LEFT + 75, DAY_FOOT + 36, "#b9b2a6", "household");
    draw_key(&svg, DAY_LEFT + 180, DAY_FOOT + 36, USED, "heater, sun");
    draw_key(&svg, DAY_LEFT + 290, DAY_FOOT + 36, GRID, "heater, grid");
    draw_key(&svg, DAY_LEFT + 400, DAY_FOOT + 36, DEADLINE, "tank");
    svg_end(&svg);
}
