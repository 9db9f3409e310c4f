/* axis.c - every hour has a line, every second one a darker one and its time. */
#include "axis.h"

#include "sluice/page/show.h"

double picture_x(const struct picture *picture, int64_t at_ms)
{
    const struct result *day = picture->day;
    return PLOT_LEFT + (double)(PLOT_RIGHT - PLOT_LEFT) * (double)(at_ms - day->begin_ms) /
                           (double)(day->end_ms - day->begin_ms);
}

void picture_hours(struct picture *picture, double top, double bottom, bool labels)
{
    const struct result *day = picture->day;
    for (int64_t at = day->begin_ms; at <= day->end_ms; at += MS_PER_HOUR) {
        int32_t second = result_second(day, at);
        double x = picture_x(picture, at);
        bool main_hour = second % (2 * 3600) == 0;
        char buffer[16];
        struct text text = text_in(buffer, sizeof(buffer));
        if (!labels) {
            svg_line(&picture->svg, x, top, x, bottom, main_hour ? FAINT : PAPER, 1, "");
            continue;
        }
        svg_line(&picture->svg, x, top, x, top + (main_hour ? 6 : 3), MUTED, 1, "");
        show_clock(&text, at == day->end_ms && second == 0 ? 24 * 3600 : second);
        if (main_hour)
            svg_words(&picture->svg, x, top + 20, (struct svg_font){12, MUTED, SVG_MIDDLE, 0},
                      buffer);
    }
}
