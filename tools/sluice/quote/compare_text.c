/* compare_text.c - a comparison on a screen of 80 columns. */
#include <math.h>
#include <stdio.h>

#include "compare.h"
#include "sluice/page/page.h"
#include "sluice/page/show.h"

enum { NAME_WIDTH = 15 };

struct column {
    const char *head, *unit;
    int width;
    void (*write)(const struct comparison *comparison, enum compare_way way, struct text *text);
};

static const struct compare_figures *mean(const struct comparison *comparison, enum compare_way way)
{
    return &comparison->compare->result[way].mean;
}

static void write_number(struct text *text, const char *format, double value)
{
    if (isfinite(value))
        text_add(text, format, value);
    else
        text_add(text, "-");
}

/* A bound has no bill, only what bill and missing heat come to. */
static void write_bill(const struct comparison *comparison, enum compare_way way, struct text *text)
{
    const struct compare_figures *figures = mean(comparison, way);
    write_number(text, "%.0f", compare_is_bound(way) ? figures->cost : figures->bill);
}

static void write_saves(const struct comparison *comparison, enum compare_way way,
                        struct text *text)
{
    const struct compare_figures *figures = mean(comparison, way);
    const struct compare_figures *always = mean(comparison, WAY_ALWAYS_ON);
    write_number(text, "%.0f",
                 compare_is_bound(way) ? always->cost - figures->cost
                                       : always->bill - figures->bill);
}

static void write_sun(const struct comparison *comparison, enum compare_way way, struct text *text)
{
    write_number(text, "%.0f", compare_is_bound(way) ? NAN : mean(comparison, way)->sun_kwh);
}

static void write_grid(const struct comparison *comparison, enum compare_way way, struct text *text)
{
    write_number(text, "%.0f", compare_is_bound(way) ? NAN : mean(comparison, way)->grid_kwh);
}

static void write_spoilt(const struct comparison *comparison, enum compare_way way,
                         struct text *text)
{
    write_number(text, "%.0f", compare_is_bound(way) ? NAN : mean(comparison, way)->spoilt);
}

static void write_coldest(const struct comparison *comparison, enum compare_way way,
                          struct text *text)
{
    write_number(text, "%.0f", mean(comparison, way)->coldest_c);
}

static void write_cycles(const struct comparison *comparison, enum compare_way way,
                         struct text *text)
{
    write_number(text, "%.0f", compare_is_bound(way) ? NAN : mean(comparison, way)->cycles);
}

static void write_cost(const struct comparison *comparison, enum compare_way way, struct text *text)
{
    write_number(text, "%.0f", compare_is_bound(way) ? NAN : comparison->verdict->offer[way].cost);
}

static void write_payback(const struct comparison *comparison, enum compare_way way,
                          struct text *text)
{
    const struct compare_offer *offer = &comparison->verdict->offer[way];
    if (compare_is_bound(way) || way == WAY_ALWAYS_ON)
        text_add(text, "-");
    else if (!isfinite(offer->payback_years) || offer->payback_years > 99)
        text_add(text, "never");
    else
        text_add(text, "%.1f", offer->payback_years);
}

static void write_share(const struct comparison *comparison, enum compare_way way,
                        struct text *text)
{
    write_number(text, "%.0f", 100 * mean(comparison, way)->share);
}

static const struct column columns[] = {
    {"bill", "a year", 7, write_bill},      {"saves", "a year", 7, write_saves},
    {"sun", "kWh", 5, write_sun},           {"grid", "kWh", 5, write_grid},
    {"spoilt", "showers", 8, write_spoilt}, {"coldest", "C", 8, write_coldest},
    {"cycles", "a year", 7, write_cycles},  {"price", "", 6, write_cost},
    {"paid", "years", 6, write_payback},    {"share", "%", 6, write_share},
};
enum { COLUMNS = sizeof columns / sizeof columns[0] };

static void put_row(struct page *page, const char *name, const struct comparison *comparison,
                    enum compare_way way, const char *const *fixed)
{
    int at = NAME_WIDTH;
    page_put(page, name);
    for (int c = 0; c < COLUMNS; c++) {
        char buffer[32] = "";
        struct text text = text_in(buffer, sizeof(buffer));
        if (fixed)
            text_add(&text, "%s", fixed[c]);
        else
            columns[c].write(comparison, way, &text);
        at += columns[c].width;
        page_to(page, at - page_columns(buffer));
        page_put(page, buffer);
    }
    page_end(page);
}

static void put_table(struct page *page, const struct comparison *comparison)
{
    const char *heads[COLUMNS], *units[COLUMNS];
    for (int c = 0; c < COLUMNS; c++) {
        heads[c] = columns[c].head;
        units[c] = columns[c].unit;
    }
    put_row(page, "", comparison, WAY_ALWAYS_ON, heads);
    units[7] = comparison->compare->wish.quote->currency;
    put_row(page, "", comparison, WAY_ALWAYS_ON, units);
    for (int way = 0; way < WAY_COUNT; way++)
        if (comparison->compare->result[way].there)
            put_row(page, compare_way_name((enum compare_way)way), comparison,
                    (enum compare_way)way, NULL);
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

static void put_tuned(struct page *page, const struct comparison *comparison)
{
    if (!comparison->compare->wish.tune)
        return;
    page_end(page);
    printf("Tuned by %d runs. In the settings file:\n", comparison->compare->tune_runs);
    if (!compare_tell_tuned(comparison, put_line, NULL))
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
    show_power(&text, comparison->compare->load.power_w);
    page_put(&page, buffer);
    page_end(&page);
    page_end(&page);
    put_table(&page, comparison);
    page_end(&page);
    compare_tell_verdict(comparison, put_sentence, &page);
    compare_tell_doubts(comparison, put_sentence, &page);
    put_tuned(&page, comparison);
    page_end(&page);
    puts("Assumptions:");
    compare_tell_assumptions(comparison, put_item, &page);
}
