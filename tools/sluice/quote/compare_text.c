/* compare_text.c - a comparison on a screen of 80 columns. */
#include <math.h>
#include <stdio.h>

#include "compare.h"
#include "sluice/page/page.h"
#include "sluice/page/show.h"

enum { NAME_WIDTH = 18, HARDWARE_WIDTH = 20 };

struct column {
    const char *head, *unit;
    int width;
    void (*write)(const struct comparison *comparison, enum compare_way way, struct text *text);
};

static const struct compare_figures *mean(const struct comparison *comparison, enum compare_way way)
{
    return &comparison->compare->result[way].mean;
}

static const struct compare_offer *offer(const struct comparison *comparison, enum compare_way way)
{
    return &comparison->verdict->offer[way];
}

static void write_number(struct text *text, double value)
{
    if (isfinite(value))
        text_add(text, "%ld", lround(value));
    else
        text_add(text, "-");
}

/* What the bounds have none of. */
static void write_own(struct text *text, enum compare_way way, double value)
{
    write_number(text, compare_is_bound(way) ? NAN : value);
}

/* ---- money ------------------------------------------------------------------------------ */

static void write_saves(const struct comparison *comparison, enum compare_way way,
                        struct text *text)
{
    write_number(text, compare_is_bound(way)
                           ? mean(comparison, WAY_ALWAYS_ON)->cost - mean(comparison, way)->cost
                           : offer(comparison, way)->saves);
}

static void write_cold(const struct comparison *comparison, enum compare_way way, struct text *text)
{
    write_own(text, way, offer(comparison, way)->cold);
}

static void write_cost(const struct comparison *comparison, enum compare_way way, struct text *text)
{
    write_own(text, way, offer(comparison, way)->cost);
}

static void write_payback(const struct comparison *comparison, enum compare_way way,
                          struct text *text)
{
    double years = offer(comparison, way)->payback_years;
    if (compare_is_bound(way) || way == WAY_ALWAYS_ON)
        text_add(text, "-");
    else if (!isfinite(years) || years > 99)
        text_add(text, "never");
    else
        text_add(text, "%.1f", years);
}

static void write_net(const struct comparison *comparison, enum compare_way way, struct text *text)
{
    write_own(text, way, offer(comparison, way)->net);
}

static void write_spread(const struct comparison *comparison, enum compare_way way,
                         struct text *text)
{
    bool known = way != WAY_ALWAYS_ON && comparison->compare->sample_count > 1;
    write_own(text, way,
              known ? offer(comparison, way)->net_most - offer(comparison, way)->net_least : NAN);
}

static void write_mark(const struct comparison *comparison, enum compare_way way, struct text *text)
{
    if (way == comparison->verdict->buy)
        text_add(text, "best");
    else if (offer(comparison, way)->near)
        text_add(text, "near");
}

/* ---- heat and comfort ------------------------------------------------------------------------ */

/* A bound has no bill, only what bill and missing heat come to. */
static void write_bill(const struct comparison *comparison, enum compare_way way, struct text *text)
{
    const struct compare_figures *figures = mean(comparison, way);
    write_number(text, compare_is_bound(way) ? figures->cost : figures->bill);
}

static void write_sun(const struct comparison *comparison, enum compare_way way, struct text *text)
{
    write_own(text, way, mean(comparison, way)->sun_kwh);
}

static void write_grid(const struct comparison *comparison, enum compare_way way, struct text *text)
{
    write_own(text, way, mean(comparison, way)->grid_kwh);
}

static void write_spoilt(const struct comparison *comparison, enum compare_way way,
                         struct text *text)
{
    write_own(text, way, mean(comparison, way)->spoilt);
}

static void write_cool(const struct comparison *comparison, enum compare_way way, struct text *text)
{
    write_own(text, way, mean(comparison, way)->cool_kwh);
}

static void write_coldest(const struct comparison *comparison, enum compare_way way,
                          struct text *text)
{
    write_number(text, mean(comparison, way)->coldest_c);
}

static void write_cycles(const struct comparison *comparison, enum compare_way way,
                         struct text *text)
{
    write_own(text, way, mean(comparison, way)->cycles);
}

static void write_share(const struct comparison *comparison, enum compare_way way,
                        struct text *text)
{
    write_number(text, 100 * mean(comparison, way)->share);
}

static const struct column money[] = {
    {"saves", "a year", 7, write_saves},
    {"cold", "a year", 7, write_cold},
    {"price", "", 6, write_cost},
    {"paid", "years", 6, write_payback},
    {"net", "", 6, write_net},
    {"spread", "", 5, write_spread},
    {"", "", 5, write_mark},
};
static const struct column comfort[] = {
    {"bill", "a year", 6, write_bill}, {"sun", "kWh", 5, write_sun},
    {"grid", "kWh", 5, write_grid},    {"spoilt", "times", 7, write_spoilt},
    {"<42", "kWh", 4, write_cool},     {"least", "°C", 6, write_coldest},
    {"cycles", "", 7, write_cycles},   {"%", "", 4, write_share},
};

struct table {
    const struct column *column;
    int count, names; /* names: columns for names and hardware */
};

static const struct table money_table = {money, sizeof money / sizeof money[0],
                                         NAME_WIDTH + HARDWARE_WIDTH};
static const struct table comfort_table = {comfort, sizeof comfort / sizeof comfort[0],
                                           NAME_WIDTH + HARDWARE_WIDTH - 2};

typedef void cell_of(const struct comparison *comparison, enum compare_way way,
                     const struct column *column, struct text *text);

static void head_cell(const struct comparison *comparison, enum compare_way way,
                      const struct column *column, struct text *text)
{
    (void)comparison;
    (void)way;
    text_add(text, "%s", column->head);
}

static void unit_cell(const struct comparison *comparison, enum compare_way way,
                      const struct column *column, struct text *text)
{
    const struct quote_settings *quote = comparison->compare->wish.quote;
    (void)way;
    if (column->write == write_cost)
        text_add(text, "%s", quote->currency);
    else if (column->write == write_net)
        text_add(text, "%u y", quote->years);
    else
        text_add(text, "%s", column->unit);
}

static void own_cell(const struct comparison *comparison, enum compare_way way,
                     const struct column *column, struct text *text)
{
    column->write(comparison, way, text);
}

static void put_name(struct page *page, const struct comparison *comparison, enum compare_way way)
{
    char buffer[64] = "";
    struct text text = text_in(buffer, sizeof(buffer));
    page_put(page, compare_way_name(way));
    page_to(page, NAME_WIDTH);
    compare_write_hardware(comparison, way, &text);
    page_put(page, buffer);
}

static void put_cells(struct page *page, const struct table *table,
                      const struct comparison *comparison, enum compare_way way, cell_of *cell)
{
    int at = table->names;
    for (int c = 0; c < table->count; c++) {
        char buffer[32] = "";
        struct text text = text_in(buffer, sizeof(buffer));
        cell(comparison, way, &table->column[c], &text);
        at += table->column[c].width;
        if (*buffer)
            page_to(page, at - page_columns(buffer));
        page_put(page, buffer);
    }
    page_end(page);
}

static void put_table(struct page *page, const struct table *table,
                      const struct comparison *comparison)
{
    put_cells(page, table, comparison, WAY_ALWAYS_ON, head_cell);
    put_cells(page, table, comparison, WAY_ALWAYS_ON, unit_cell);
    for (int way = 0; way < WAY_COUNT; way++)
        if (comparison->compare->result[way].there) {
            put_name(page, comparison, (enum compare_way)way);
            put_cells(page, table, comparison, (enum compare_way)way, own_cell);
        }
}

static void put_sentence(void *context, const char *text)
{
    page_wrap(context, 2, text);
}

static void put_item(void *context, const char *text)
{
    page_put(context, "- ");
    page_wrap(context, 2, text);
}

static void put_line(void *context, const char *text)
{
    (void)context;
    puts(text);
}

static void put_settings(struct page *page, const struct comparison *comparison)
{
    enum compare_way buy = comparison->verdict->buy;
    if (compare_is_sluice(buy) && buy != WAY_SLUICE && buy != WAY_TUNED) {
        page_end(page);
        puts("To run what is advised, in the settings file:");
        compare_tell_lines(comparison, buy, put_line, NULL);
    }
    if (!comparison->compare->wish.tune)
        return;
    page_end(page);
    printf("Tuned by %d runs, for the hardware as set. In the settings file:\n",
           comparison->compare->tune_runs);
    if (!compare_tell_lines(comparison, WAY_TUNED, put_line, NULL))
        puts("  nothing to change: no value tried is better than those configured");
    compare_tell_tuning(comparison, put_sentence, page);
}

void compare_print(const struct comparison *comparison)
{
    struct page page = {0};
    char buffer[160];
    struct text text = text_in(buffer, sizeof(buffer));
    page_put(&page, comparison->settings->site_name);
    compare_write_span(comparison, &text);
    page_put_right(&page, buffer);
    page_end(&page);
    text = text_in(buffer, sizeof(buffer));
    text_add(&text, "%s, ", compare_load_title(comparison));
    show_power(&text, comparison->compare->present.element_w);
    text_add(&text, ", thermostat at %d °C", comparison->compare->present.set_mc / 1000);
    page_put(&page, buffer);
    page_end(&page);
    page_end(&page);
    put_table(&page, &money_table, comparison);
    page_end(&page);
    compare_tell_verdict(comparison, put_sentence, &page);
    compare_tell_doubts(comparison, put_sentence, &page);
    put_settings(&page, comparison);
    page_end(&page);
    puts("Heat and comfort in a year:");
    put_table(&page, &comfort_table, comparison);
    page_end(&page);
    puts("Prices:");
    compare_tell_items(comparison, put_item, &page);
    page_end(&page);
    puts("Assumptions:");
    compare_tell_assumptions(comparison, put_item, &page);
    compare_tell_refined(comparison, put_item, &page);
    compare_tell_foreseen(comparison, put_item, &page);
}
