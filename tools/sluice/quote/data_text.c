/* data_text.c - the preview on a screen of 80 columns: what was read, what it comes to,
 * the mean day of each season, what looks wrong. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "core/quantity.h"
#include "data_preview.h"
#include "days/names.h"
#include "sluice/page/page.h"
#include "sluice/page/show.h"

enum { DOUBTS_SHOWN = 3, LINE_SIZE = 320, BARS_AT = 24 };

static void put_to_right(struct page *page, int column, const char *text)
{
    page_to(page, column - page_columns(text));
    page_put(page, text);
}

/* ---- channels ------------------------------------------------------------------------- */

enum { AS_AT = 24, UNIT_AT = 41, STEP_END = 54, DAY_END = 63, MOST_END = 72, MISSING_END = 80 };

static void put_channel_heads(struct page *page)
{
    page_put(page, "in the file");
    page_to(page, AS_AT);
    page_put(page, "read as");
    page_to(page, UNIT_AT);
    page_put(page, "in");
    put_to_right(page, STEP_END, "step");
    put_to_right(page, DAY_END, "a day");
    put_to_right(page, MOST_END, "largest");
    put_to_right(page, MISSING_END, "missing");
    page_end(page);
}

static void put_amounts(struct page *page, const struct days_found_channel *channel)
{
    char buffer[48];
    struct text text = text_in(buffer, sizeof(buffer));
    bool water = channel->role == DAYS_DRAW;
    if (!isnan(channel->day_kwh)) {
        text_add(&text, water ? "%.0f l" : "%.1f kWh", channel->day_kwh);
        put_to_right(page, DAY_END, buffer);
    }
    text = text_in(buffer, sizeof(buffer));
    if (!isnan(channel->most_w)) {
        text_add(&text, water ? "%.0f l/h" : "%.2f kW", channel->most_w / (water ? 1 : 1000));
        put_to_right(page, MOST_END, buffer);
    }
}

static void put_missing(struct page *page, const struct days_found_channel *channel)
{
    char buffer[48];
    struct text text = text_in(buffer, sizeof(buffer));
    double percent = channel->count ? 100.0 * (double)channel->missing / (double)channel->count : 0;
    if (channel->missing == 0)
        text_add(&text, "none");
    else
        text_add(&text, percent < 0.1 ? "<0.1 %%" : "%.1f %%", percent);
    put_to_right(page, MISSING_END, buffer);
}

static void put_channel(struct page *page, const struct days_found_channel *channel)
{
    char buffer[64];
    struct text text = text_in(buffer, sizeof(buffer));
    const char *fate = data_fate(channel);
    int most = AS_AT - 2;
    text_add(&text, "%s", channel->name);
    if (page_columns(buffer) > most) { /* names are cut to keep the columns */
        struct page narrow = {.width = most};
        page_put(&narrow, buffer);
        page->column = narrow.column;
    } else {
        page_put(page, buffer);
    }
    page_to(page, AS_AT);
    page_put(page, *fate ? fate : data_role(channel));
    page_to(page, UNIT_AT);
    page_put(page, channel->unit == DAYS_UNIT_BY_HEADER ? "?" : days_unit_name(channel->unit));
    text = text_in(buffer, sizeof(buffer));
    quantity_write(QUANTITY_DURATION_MS, (int64_t)channel->step_s * MS_PER_S, &text);
    put_to_right(page, STEP_END, buffer);
    put_amounts(page, channel);
    put_missing(page, channel);
    page_end(page);
}

static void put_channels(struct page *page, const struct days_found *found)
{
    if (found->count == 0)
        return;
    put_channel_heads(page);
    for (int k = 0; k < found->count; k++)
        put_channel(page, &found->channel[k]);
}

/* ---- lists ------------------------------------------------------------------------------ */

struct list {
    struct page *page;
    const char *title; /* put before the first item */
    bool first;        /* there is nothing above it */
    int count, most;
};

static void put_item(void *context, const char *item)
{
    struct list *list = context;
    if (list->count++ == 0 && list->title) {
        if (!list->first)
            page_end(list->page);
        page_put(list->page, list->title);
        page_end(list->page);
    }
    if (list->most && list->count > list->most)
        return;
    page_put(list->page, "- ");
    page_wrap(list->page, 2, item);
}

/* ---- the mean day ------------------------------------------------------------------------- */

/* Eighths of a line's height. */
static const char *bar(double share)
{
    static const char *const bars[] = {" ", "▁", "▂", "▃", "▄", "▅", "▆", "▇", "█"};
    int eighths = (int)lround(share * 8);
    eighths = eighths == 0 && share > 0.01 ? 1 : eighths;
    return bars[eighths < 0 ? 0 : eighths > 8 ? 8 : eighths];
}

typedef double flow_of(const struct data_preview *preview, const struct days_flow *flow);

static void put_bars(struct page *page, const struct data_preview *preview,
                     const struct days_season *season, flow_of *flow, double largest_w)
{
    char figure[24], bars[DAYS_HALF_HOURS * 4 + 1];
    struct text text = text_in(figure, sizeof(figure)), drawn = text_in(bars, sizeof(bars));
    double kwh = 0;
    for (int half = 0; half < DAYS_HALF_HOURS; half++) {
        double w = flow(preview, &season->mean_w[half]);
        kwh += w / 2 / 1000;
        text_add(&drawn, "%s", bar(w / largest_w));
    }
    while (drawn.used > 0 && bars[drawn.used - 1] == ' ')
        bars[--drawn.used] = '\0';
    text_add(&text, "%.1f", kwh);
    put_to_right(page, BARS_AT - 2, figure);
    page_to(page, BARS_AT);
    page_put(page, bars);
    page_end(page);
}

static void put_scale(struct page *page)
{
    page_put(page, "mean day");
    put_to_right(page, BARS_AT - 2, "kWh");
    page_to(page, BARS_AT);
    for (int hour = 0; hour < 24; hour += 3) {
        char clock[8];
        struct text text = text_in(clock, sizeof(clock));
        show_clock(&text, hour * 3600);
        page_put(page, clock);
        if (hour < 21)
            page_put(page, " ");
    }
    page_end(page);
}

static void put_season(struct page *page, const struct data_preview *preview, int season,
                       double use_w, double sun_w)
{
    const struct days_season *shown = &preview->profile.season[season];
    struct data_flows names = data_flow_names(preview);
    if (shown->days == 0)
        return;
    page_put(page, days_season_name(season));
    page_to(page, 9);
    page_put(page, names.use);
    put_bars(page, preview, shown, data_use_w, use_w);
    if (sun_w <= 1)
        return;
    page_to(page, 9);
    page_put(page, names.sun);
    put_bars(page, preview, shown, data_sun_w, sun_w);
}

static void put_mean_days(struct page *page, const struct data_preview *preview)
{
    struct data_flows names = data_flow_names(preview);
    double use_w, sun_w;
    char buffer[LINE_SIZE];
    struct text text = text_in(buffer, sizeof(buffer));
    data_largest_w(preview, &use_w, &sun_w);
    put_scale(page);
    for (int season = 0; season < DAYS_SEASONS; season++)
        put_season(page, preview, season, use_w, sun_w);
    page_to(page, BARS_AT);
    text_add(&text, "█ %s ", names.use);
    show_power(&text, llround(use_w));
    if (sun_w > 1) {
        text_add(&text, ", %s ", names.sun);
        show_power(&text, llround(sun_w));
    }
    page_put(page, buffer);
    page_end(page);
}

/* ---- all ---------------------------------------------------------------------------------- */

static void put_largest(struct page *page, const char *what,
                        const struct days_peak peaks[static DAYS_PEAKS], int32_t slot_s)
{
    char buffer[LINE_SIZE];
    struct text text = text_in(buffer, sizeof(buffer));
    if (peaks[0].w <= 0)
        return;
    text_add(&text, "Largest %s of %s: ", slot_s > 1800 ? "hours" : "half hours", what);
    data_write_peaks(peaks, &text);
    page_wrap(page, 2, buffer);
}

static void put_days(struct page *page, const struct data_preview *preview)
{
    char buffer[LINE_SIZE];
    struct text text = text_in(buffer, sizeof(buffer));
    data_write_day(preview, &text);
    page_put(page, "A day: ");
    page_wrap(page, 2, buffer);
    if (preview->loaded->days.at_meter)
        page_wrap(page, 2,
                  "What the household takes from its own roof is in neither import nor export: "
                  "what it uses and what is generated are not known.");
    put_largest(page, "import", preview->profile.import, preview->halves.slot_s);
    put_largest(page, "export", preview->profile.export, preview->halves.slot_s);
    page_end(page);
    put_mean_days(page, preview);
}

static void put_heading(struct page *page, const struct data_preview *preview)
{
    char buffer[LINE_SIZE];
    struct text text = text_in(buffer, sizeof(buffer));
    data_write_files(preview, &text);
    page_put(page, buffer);
    text = text_in(buffer, sizeof(buffer));
    data_write_span(preview, &text);
    if (buffer[0] == '\0')
        text_add(&text, "not usable as it is");
    page_put_right(page, buffer);
    page_end(page);
    text = text_in(buffer, sizeof(buffer));
    text_add(&text, "local time of %s", preview->zone_name);
    page_put_right(page, buffer);
    page_end(page);
    page_end(page);
}

void data_print(const struct data_preview *preview)
{
    struct page page = {0};
    struct list reading = {
        .page = &page, .title = "How it was read:", .first = preview->loaded->found.count == 0};
    struct list doubts = {.page = &page, .title = "Look at these:"};
    put_heading(&page, preview);
    put_channels(&page, &preview->loaded->found);
    data_tell_reading(preview, put_item, &reading);
    if (preview->loaded->found.count + reading.count > 0)
        page_end(&page);
    if (preview->loaded->days.steps > 0)
        put_days(&page, preview);
    data_tell_doubts(preview, put_item, &doubts);
    if (doubts.count == 0 && preview->loaded->days.steps > 0) {
        page_end(&page);
        page_put(&page, "Nothing in it looks wrong.");
        page_end(&page);
    }
}

void data_print_essentials(const struct data_preview *preview)
{
    struct page page = {0};
    struct list doubts = {.page = &page, .most = DOUBTS_SHOWN};
    char buffer[LINE_SIZE];
    struct text text = text_in(buffer, sizeof(buffer));
    data_write_files(preview, &text);
    text_add(&text, ", ");
    data_write_span(preview, &text);
    text_add(&text, "; a day ");
    char day_buffer[LINE_SIZE];
    struct text day = text_in(day_buffer, sizeof(day_buffer));
    data_write_day(preview, &day);
    text_add(&text, "%s", day_buffer);
    page_wrap(&page, 2, buffer);
    data_tell_heater(preview, put_item, &doubts);
    for (int k = 0; k < preview->doubts.count; k++)
        put_item(&doubts, preview->doubts.item[k].text);
    if (doubts.count > DOUBTS_SHOWN) {
        text = text_in(buffer, sizeof(buffer));
        text_add(&text, "- and %d more: \"sluice data\" shows all", doubts.count - DOUBTS_SHOWN);
        page_put(&page, buffer);
        page_end(&page);
    }
    page_end(&page);
}
