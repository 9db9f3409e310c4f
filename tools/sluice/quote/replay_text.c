/* replay_text.c - a replay as tables of 80 columns: the house, each load, hot water and
 * money; then what was taken for granted, as figures are worth no more than that. */
#include <inttypes.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "replay.h"
#include "replay_home.h"
#include "sluice/page/page.h"
#include "sluice/page/show.h"

#define MWH_PER_KWH 1e6

enum { FLAT_ABOVE_S = 300, FIRST_AT = 12, WIDTH = 9, DAYS_BY_DAY = 31, MISSED_MAX = 10 };

int32_t replay_first_day(const struct replay *replay)
{
    return local_of_wall(&replay->result->zone, (struct wall){replay->result->begin_ms}).day;
}

int32_t replay_day_count(const struct replay *replay)
{
    struct wall last = {replay->result->end_ms - 1};
    return local_of_wall(&replay->result->zone, last).day + 1 - replay_first_day(replay);
}

struct result_amount replay_sum(const struct replay *replay, const struct result_track *track,
                                int32_t from_day, int32_t to_day)
{
    const struct zone *zone = &replay->result->zone;
    return result_sum(track, wall_of_local(zone, from_day, 0).ms,
                      wall_of_local(zone, to_day, 0).ms);
}

static void write_date(struct text *text, int32_t day)
{
    struct date date = date_of_days(day);
    text_add(text, "%d %s %d", date.day, month_name(date.month), date.year);
}

void replay_write_span(const struct replay *replay, struct text *text)
{
    int32_t first = replay_first_day(replay), count = replay_day_count(replay);
    write_date(text, first);
    if (count == 1)
        return;
    text_add(text, " to ");
    write_date(text, first + count - 1);
    text_add(text, ", %" PRId32 " days", count);
}

/* ---- lines ------------------------------------------------------------------------------ */

static void put(struct page *page, int column, const char *figure)
{
    page_to(page, FIRST_AT + (column + 1) * WIDTH - 1 - page_columns(figure));
    page_put(page, figure);
}

static void put_number(struct page *page, int column, const char *format, double value)
{
    char buffer[32];
    snprintf(buffer, sizeof(buffer), format, value);
    put(page, column, buffer);
}

static void put_names(struct page *page, const char *first, const char *const names[], int count)
{
    page_put(page, first);
    for (int k = 0; k < count; k++)
        put(page, k, names[k]);
    page_end(page);
}

static void put_text(struct page *page, const char *format, ...)
    __attribute__((format(printf, 2, 3)));
static void put_text(struct page *page, const char *format, ...)
{
    char buffer[400];
    va_list arguments;
    va_start(arguments, format);
    struct text text = text_in(buffer, sizeof(buffer));
    text_add_list(&text, format, arguments);
    va_end(arguments);
    page_wrap(page, 2, buffer);
}

/* ---- rows: days or months ---------------------------------------------------------------- */

static bool by_day(const struct replay *replay)
{
    if (replay->by != REPLAY_BY_LENGTH)
        return replay->by == REPLAY_BY_DAY;
    return replay_day_count(replay) <= DAYS_BY_DAY;
}

/* The end of the row that begins with the day `from`. */
static int32_t end_of_row(const struct replay *replay, int32_t from)
{
    int32_t end = replay_first_day(replay) + replay_day_count(replay), to = from + 1;
    while (!by_day(replay) && to < end && date_of_days(to).month == date_of_days(from).month)
        to++;
    return to;
}

static void write_row_name(const struct replay *replay, int32_t from, struct text *text)
{
    char buffer[32];
    struct text date = text_in(buffer, sizeof(buffer));
    write_date(&date, from);
    const char *month = buffer;
    while (*month >= '0' && *month <= '9')
        month++;
    text_add(text, "%s", by_day(replay) ? buffer : month + 1);
}

static void put_house(struct page *page, const struct replay *replay, int32_t from, int32_t to)
{
    const struct result *result = replay->result;
    struct result_amount grid = replay_sum(replay, &result->grid, from, to);
    const double mwh[] = {replay_sum(replay, &result->solar, from, to).spare_mwh,
                          replay_sum(replay, &result->use, from, to).grid_mwh, grid.grid_mwh,
                          grid.spare_mwh};
    for (int k = 0; k < 4; k++)
        put_number(page, k, "%.1f", mwh[k] / MWH_PER_KWH);
    page_end(page);
}

/* A car may be offered power for hours in which it is away or full. */
static int64_t hours_ms(const struct replay *replay, int load, const struct result_amount *sum)
{
    return record_is_blind(&replay->settings->loads[load]) ? sum->draws_ms : sum->on_ms;
}

static void put_load(struct page *page, const struct replay *replay, int load,
                     const struct result_amount *sum)
{
    bool floors = replay->settings->loads[load].floor_count > 0;
    double all_mwh = sum->spare_mwh + sum->grid_mwh;
    put_number(page, 0, "%.1f", sum->spare_mwh / MWH_PER_KWH);
    put_number(page, 1, "%.1f", sum->grid_mwh / MWH_PER_KWH);
    if (all_mwh > 0)
        put_number(page, 2, "%.0f %%", 100 * sum->spare_mwh / all_mwh);
    put_number(page, 3, "%.1f", (double)hours_ms(replay, load, sum) / MS_PER_HOUR);
    put_number(page, 4, "%.0f", sum->starts);
    if (floors) {
        put_number(page, 5, "%.0f", sum->kept);
        put_number(page, 6, "%.0f", sum->missed);
    }
    page_end(page);
}

static void print_house(struct page *page, const struct replay *replay)
{
    static const char *const names[] = {"solar", "used", "import", "export"};
    int32_t first = replay_first_day(replay), end = first + replay_day_count(replay);
    put_names(page, "kWh", names, 4);
    for (int32_t from = first, to; from < end; from = to) {
        char buffer[32];
        struct text text = text_in(buffer, sizeof(buffer));
        to = end_of_row(replay, from);
        write_row_name(replay, from, &text);
        page_put(page, buffer);
        put_house(page, replay, from, to);
    }
    page_put(page, "all");
    put_house(page, replay, first, end);
}

static void print_load(struct page *page, const struct replay *replay, int load)
{
    const struct load_settings *settings = &replay->settings->loads[load];
    const struct result_track *track = &replay->result->load[load];
    const char *hours = record_is_blind(settings) ? "drew h" : "on h";
    const char *const names[] = {"sun kWh", "grid kWh", "of sun", hours,
                                 "starts",  "kept",     "missed"};
    int32_t first = replay_first_day(replay), end = first + replay_day_count(replay);
    bool floors = settings->floor_count > 0;
    char buffer[96];
    struct text text = text_in(buffer, sizeof(buffer));
    text_add(&text, "%s, ", result_title(track));
    show_power(&text, settings->power_w);
    page_put(page, buffer);
    if (floors)
        put(page, 6, "guarantees");
    page_end(page);
    put_names(page, "", names, floors ? 7 : 5);
    for (int32_t from = first, to; from < end; from = to) {
        struct text name = text_in(buffer, sizeof(buffer));
        to = end_of_row(replay, from);
        struct result_amount sum = replay_sum(replay, track, from, to);
        write_row_name(replay, from, &name);
        page_put(page, buffer);
        put_load(page, replay, load, &sum);
    }
    struct result_amount all = replay_sum(replay, track, first, end);
    page_put(page, "all");
    put_load(page, replay, load, &all);
    if (all.untaken > 0)
        put_text(page,
                 "%" PRId32 " more would be counted as kept by its set-point, but it was away or "
                 "full and took less. So they would be in service: without a meter of its own "
                 "(role: load) sluice cannot know what a set-point load takes.",
                 all.untaken);
}

static void print_missed(struct page *page, const struct replay *replay)
{
    const struct result *result = replay->result;
    int told = 0, untold = 0;
    for (size_t k = 0; k < result->event_count; k++) {
        const struct result_event *event = &result->event[k];
        if (!strstr(event->text, " missed by "))
            continue;
        if (told++ >= MISSED_MAX) {
            untold++;
            continue;
        }
        char buffer[32];
        struct text text = text_in(buffer, sizeof(buffer));
        write_date(&text, local_of_wall(replay->home->zone, (struct wall){event->at_ms - 1}).day);
        put_text(page, "%s: %s, %s", buffer, event->subject, event->text);
    }
    if (untold > 0)
        put_text(page, "and %d more", untold);
    if (told > 0)
        page_end(page);
}

/* ---- water, money, and what it rests on ----------------------------------------------------- */

static void print_water(struct page *page, const struct replay *replay)
{
    const struct trial_outcome *outcome = replay->outcome;
    if (replay->home->tank_count == 0 || outcome->showers == 0)
        return;
    put_text(page,
             "Hot water: %.0f kWh drawn in %" PRId64 " draws; %" PRId64
             " of them spoilt (below 38 °C for over a minute); coldest at the tap %.1f °C; "
             "%.1f kWh of heat was missing.",
             outcome->tapped_kwh, outcome->showers, outcome->spoilt_showers, outcome->coldest_c,
             outcome->unmet_kwh);
}

static void print_money(struct page *page, const struct replay *replay)
{
    const struct tariff *tariff = replay->home->tariff;
    const struct bill_parts *parts = &replay->outcome->bill_parts;
    if (tariff->count == 0 && tariff->feed_in_micro == 0 && tariff->daily_micro == 0)
        return;
    put_text(page,
             "Money: %.2f to pay: %.2f for imported energy, less %.2f for exported, %.2f by the "
             "day, %.2f for demand.",
             (double)parts->total_micro / 1e6, (double)parts->import_micro / 1e6,
             (double)parts->feed_in_micro / 1e6, (double)parts->daily_micro / 1e6,
             (double)parts->demand_micro / 1e6);
}

static void print_flat(struct page *page, const struct replay *replay)
{
    if (replay->step_s <= FLAT_ABOVE_S)
        return;
    put_text(page,
             "Flat steps: within each %d min sun and use are taken as even. Clouds and kettles are "
             "not there, which flatters these figures and hides starts; --refine makes seconds "
             "of the steps, as they may have been, and says what that changes.",
             replay->step_s / 60);
}

static void print_refined(struct page *page, const struct replay *replay)
{
    if (!replay->told) {
        print_flat(page, replay);
        return;
    }
    double sun[2] = {0}, grid[2] = {0};
    int64_t cycles[2] = {0};
    const struct trial_outcome *outcome[2] = {replay->told, replay->outcome};
    for (int way = 0; way < 2; way++)
        for (int k = 0; k < replay->home->load_count; k++) {
            sun[way] += outcome[way]->load[k].sun_kwh;
            grid[way] += outcome[way]->load[k].grid_kwh;
            cycles[way] += outcome[way]->load[k].cycles;
        }
    put_text(page,
             "Refined: the steps of %d min were made of seconds as clouds and appliances may have "
             "made them. With the steps as they are, the loads would have taken %.0f kWh from "
             "the sun and %.0f kWh from the grid in %" PRId64 " starts; with the seconds it is "
             "%.0f, %.0f and %" PRId64 ", as shown.",
             replay->step_s / 60, sun[0], grid[0], cycles[0], sun[1], grid[1], cycles[1]);
}

void replay_print_flat(const struct replay *replay)
{
    struct page page = {0};
    if (!replay->told)
        print_flat(&page, replay);
}

static void print_assumption(void *context, const char *text)
{
    put_text(context, "- %s", text);
}

static void print_heading(struct page *page, const struct replay *replay)
{
    char buffer[96];
    struct text text = text_in(buffer, sizeof(buffer));
    replay_write_span(replay, &text);
    page_put(page, replay->settings->site_name);
    page_put_right(page, buffer);
    page_end(page);
    page_end(page);
}

void replay_print(const struct replay *replay)
{
    struct page page = {0};
    print_heading(&page, replay);
    print_house(&page, replay);
    page_end(&page);
    for (int k = 0; k < replay->home->load_count; k++) {
        print_load(&page, replay, k);
        page_end(&page);
    }
    print_missed(&page, replay);
    print_water(&page, replay);
    print_money(&page, replay);
    print_refined(&page, replay);
    put_text(&page, "Assumptions:");
    home_assumptions(replay->home, replay->settings, replay->water, print_assumption, &page);
}

void replay_print_reasons(const struct replay *replay)
{
    struct page page = {0};
    page_end(&page);
    page_put(&page, "What was switched, and why");
    page_end(&page);
    for (size_t k = 0; k < replay->result->event_count; k++) {
        const struct result_event *event = &replay->result->event[k];
        char buffer[32];
        struct text text = text_in(buffer, sizeof(buffer));
        if (!event->switches)
            continue;
        struct local local = local_of_wall(replay->home->zone, (struct wall){event->at_ms});
        struct date date = date_of_days(local.day);
        text_add(&text, "%04d-%02d-%02d ", date.year, date.month, date.day);
        show_clock(&text, local.second);
        page_put(&page, buffer);
        page_put(&page, "  ");
        page_put(&page, event->subject);
        page_put(&page, "  ");
        page_wrap(&page, 18, event->text);
    }
}
