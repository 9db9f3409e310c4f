/* day_text.c - a day as text: hour by hour, then load by load, then what was done
 * and why. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "day.h"
#include "sluice/page/page.h"
#include "sluice/page/show.h"

enum {
    HOUR_AT = 0,
    SPARE_AT = 7,
    COLUMN_WIDTH = 8,
    LOADS_AT = 41,
    TIME_AT = 7,
    SUBJECT_AT = 7,
    FIGURE_MAX = 120
};

static void put_number(struct page *page, int from, const char *figure)
{
    page_to(page, from + COLUMN_WIDTH - 1 - page_columns(figure));
    page_put(page, figure);
}

static void put_kwh(struct page *page, int column, double mwh)
{
    char buffer[FIGURE_MAX];
    struct text text = text_in(buffer, sizeof(buffer));
    show_kwh(&text, llround(mwh));
    put_number(page, SPARE_AT + column * COLUMN_WIDTH, buffer);
}

static void print_heading(struct page *page, const struct result *day)
{
    char buffer[FIGURE_MAX];
    struct text text = text_in(buffer, sizeof(buffer));
    show_date(&text, day->date);
    text_add(&text, ", %s", day->zone_name);
    page_put(page, day->site);
    page_put_right(page, buffer);
    page_end(page);
    page_end(page);
}

/* ---- hour by hour -------------------------------------------------------------------- */

static void print_hour_heading(struct page *page, bool solar)
{
    static const char *const names[] = {"spare", "import", "export", "solar"};
    page_put(page, "from");
    for (int k = 0; k < (solar ? 4 : 3); k++)
        put_number(page, SPARE_AT + k * COLUMN_WIDTH, names[k]);
    page_to(page, LOADS_AT);
    page_put(page, "loads: from spare + from grid, on");
    page_end(page);
    for (int k = 0; k < (solar ? 4 : 3); k++)
        put_number(page, SPARE_AT + k * COLUMN_WIDTH, "kWh");
    page_to(page, LOADS_AT);
    page_put(page, "kWh");
    page_end(page);
}

static bool is_worth_a_line(struct result_amount sum)
{
    return sum.on_ms >= MS_PER_S || sum.spare_mwh + sum.grid_mwh >= 5000;
}

static void print_load_hour(struct page *page, const struct result_track *load,
                            struct result_amount sum)
{
    char buffer[FIGURE_MAX];
    struct text text = text_in(buffer, sizeof(buffer));
    text_add(&text, "%s ", load->name);
    show_kwh(&text, llround(sum.spare_mwh));
    text_add(&text, " + ");
    show_kwh(&text, llround(sum.grid_mwh));
    text_add(&text, ", ");
    show_duration(&text, sum.on_ms);
    page_to(page, LOADS_AT);
    page_put(page, buffer);
    page_end(page);
}

static void print_hour(struct page *page, const struct result *day, int64_t from_ms, int64_t to_ms,
                       bool solar)
{
    char clock[16];
    struct text text = text_in(clock, sizeof(clock));
    struct result_amount grid = result_sum(&day->grid, from_ms, to_ms);
    show_clock(&text, result_second(day, from_ms));
    page_put(page, clock);
    if (result_covered_ms(&day->grid, from_ms, to_ms) == 0) {
        page_to(page, SPARE_AT + 2);
        page_put(page, "not recorded");
        page_end(page);
        return;
    }
    put_kwh(page, 0, result_sum(&day->spare, from_ms, to_ms).spare_mwh);
    put_kwh(page, 1, grid.grid_mwh);
    put_kwh(page, 2, grid.spare_mwh);
    if (solar)
        put_kwh(page, 3, result_sum(&day->solar, from_ms, to_ms).spare_mwh);
    for (size_t k = 0; k < day->load_count; k++) {
        struct result_amount sum = result_sum(&day->load[k], from_ms, to_ms);
        if (is_worth_a_line(sum))
            print_load_hour(page, &day->load[k], sum);
    }
    if (page->column > 0)
        page_end(page);
}

static void print_hours(struct page *page, const struct result *day)
{
    bool solar = result_total(day, &day->solar).spare_mwh > 0;
    print_hour_heading(page, solar);
    for (int64_t from = day->begin_ms; from < day->known_ms; from += MS_PER_HOUR) {
        int64_t to = from + MS_PER_HOUR;
        print_hour(page, day, from, to < day->end_ms ? to : day->end_ms, solar);
    }
    page_put(page, "all");
    put_kwh(page, 0, result_total(day, &day->spare).spare_mwh);
    put_kwh(page, 1, result_total(day, &day->grid).grid_mwh);
    put_kwh(page, 2, result_total(day, &day->grid).spare_mwh);
    if (solar)
        put_kwh(page, 3, result_total(day, &day->solar).spare_mwh);
    page_end(page);
}

/* ---- load by load --------------------------------------------------------------------- */

static void print_floor(struct page *page, const struct result *day,
                        const struct result_floor *floor)
{
    char buffer[FIGURE_MAX + RESULT_TEXT_MAX];
    struct text text = text_in(buffer, sizeof(buffer));
    if (floor->deadline_ms == 0)
        return;
    text_add(&text, "%s: ", floor->text);
    switch (floor->promise) {
    case PROMISE_KEPT:
        text_add(&text, "kept, at ");
        show_clock(&text, result_second(day, floor->kept_ms));
        if (floor->kept_ms < day->begin_ms)
            text_add(&text, " the evening before");
        break;
    case PROMISE_MISSED:
        text_add(&text, "NOT KEPT: %s", floor->missed);
        break;
    case PROMISE_OPEN:
        text_add(&text, "not yet");
        break;
    case PROMISE_UNKNOWN:
        text_add(&text, "not known whether kept: %s",
                 floor->missed ? floor->missed : "nothing recorded of it");
        break;
    }
    page_to(page, 2);
    page_put(page, "guaranteed ");
    page_wrap(page, 4, buffer);
}

static void print_total(struct page *page, const struct result *day,
                        const struct result_track *load)
{
    char buffer[FIGURE_MAX];
    struct text text = text_in(buffer, sizeof(buffer));
    struct result_amount sum = result_total(day, load);
    double all_mwh = sum.spare_mwh + sum.grid_mwh;
    show_kwh(&text, llround(sum.spare_mwh));
    text_add(&text, " kWh from spare power, ");
    show_kwh(&text, llround(sum.grid_mwh));
    text_add(&text, " kWh from the grid");
    if (all_mwh > 0)
        text_add(&text, " (%d %% spare)", (int)(sum.spare_mwh * 100 / all_mwh));
    text_add(&text, "; on for ");
    show_duration(&text, sum.on_ms);
    text_add(&text, " in %zu run%s", load->run_count, load->run_count == 1 ? "" : "s");
    page_put(page, result_title(load));
    page_put(page, ": ");
    page_wrap(page, 4, buffer);
    for (int k = 0; k < load->floor_count; k++)
        print_floor(page, day, &load->floor[k]);
}

/* ---- what was done and why ------------------------------------------------------------- */

enum turn_kind { TURN_OTHER, TURN_ON, TURN_OFF };

static bool begins(const char *text, const char *word)
{
    return strncmp(text, word, strlen(word)) == 0;
}

static enum turn_kind turn_of(const char *text)
{
    if (begins(text, "on:"))
        return TURN_ON;
    return begins(text, "off:") || begins(text, "ordered off") ? TURN_OFF : TURN_OTHER;
}

/* Whether the event switches its load: reasons that change while a load stays off
 * are many on a cloudy day, and only asked for sometimes. */
static bool switches(const struct result *day, size_t index)
{
    const struct result_event *event = &day->event[index];
    enum turn_kind turn = turn_of(event->text);
    if (turn == TURN_OTHER)
        return true;
    for (size_t k = index; k-- > 0;) {
        const struct result_event *earlier = &day->event[k];
        enum turn_kind was = turn_of(earlier->text);
        if (was != TURN_OTHER && strcmp(earlier->subject, event->subject) == 0)
            return was != turn;
    }
    return turn == TURN_ON;
}

static void print_event(struct page *page, const struct result *day,
                        const struct result_event *event)
{
    char clock[16];
    struct text text = text_in(clock, sizeof(clock));
    show_clock(&text, result_second(day, event->at_ms));
    page_put(page, clock);
    page_to(page, TIME_AT);
    page_put(page, event->subject);
    page_put(page, "  ");
    page_wrap(page, TIME_AT + 2, event->text);
}

static void print_events(struct page *page, const struct result *day, bool every_reason)
{
    page_put(page, every_reason ? "What was decided, and why" : "What was switched, and why");
    page_end(page);
    for (size_t k = 0; k < day->event_count; k++) {
        const struct result_event *event = &day->event[k];
        if (event->at_ms >= day->begin_ms && event->at_ms < day->end_ms &&
            (every_reason || switches(day, k)))
            print_event(page, day, event);
    }
}

void day_print(const struct result *day, bool every_reason)
{
    struct page page = {0};
    print_heading(&page, day);
    print_hours(&page, day);
    page_end(&page);
    for (size_t k = 0; k < day->load_count; k++)
        print_total(&page, day, &day->load[k]);
    page_end(&page);
    print_events(&page, day, every_reason);
}
