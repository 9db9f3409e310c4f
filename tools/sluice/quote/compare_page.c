/* compare_page.c - one page of A4 for the customer: what to buy, by how much and how
 * surely; pictures; the table; what all of it rests on; and what no figure may make one
 * forget about hot water. Needs no other file, no script and no network. */
#include <math.h>
#include <string.h>

#include "compare_picture.h"
#include "sluice/page/escape.h"
#include "sluice/page/sheet.h"
#include "sluice/page/show.h"

static void put_paragraph(void *context, const char *text)
{
    fputs("<p>", context);
    escape_put(context, text);
    fputs("</p>\n", context);
}

static void put_item(void *context, const char *text)
{
    fputs("<li>", context);
    escape_put(context, text);
    fputs("</li>\n", context);
}

static void put_line(void *context, const char *text)
{
    escape_put(context, text);
    fputc('\n', context);
}

static const char style[] =
    "@page{size:A4;margin:8mm 12mm}"
    "*{box-sizing:border-box}"
    "section.care,table,pre,figure{break-inside:avoid}"
    "body{margin:0 auto;max-width:186mm;color:" INK ";background:#fff;"
    "font:8.8pt/1.3 'DejaVu Sans',Verdana,sans-serif;"
    "-webkit-print-color-adjust:exact;print-color-adjust:exact}"
    "h1{font-size:17pt;margin:0}h2{font-size:9.6pt;margin:1.6mm 0 .6mm}"
    "header{display:flex;justify-content:space-between;align-items:baseline;"
    "border-bottom:1.5px solid " FAINT ";padding-bottom:1.5mm}header span{color:" MUTED "}"
    ".buy{background:" BACKDROP ";border-left:5px solid " KEPT ";padding:1.2mm 4mm;margin:2mm 0}"
    ".buy p{margin:.6mm 0}.buy p:first-child{font-size:13pt;font-weight:bold}"
    ".wide{overflow-x:auto}.terms p{margin:.6mm 0;color:" MUTED "}"
    ".doubt p{margin:.8mm 0;color:" DEADLINE "}"
    ".two{display:grid;grid-template-columns:1fr 1fr;gap:0 6mm}"
    "svg{width:100%;height:auto;display:block}"
    "table{border-collapse:collapse;width:100%;font-size:7.8pt;margin-top:1mm}"
    "th,td{text-align:right;padding:.15mm 1mm}th:first-child,td:first-child{text-align:left}"
    "thead th{font-weight:normal;color:" MUTED ";vertical-align:bottom}"
    "tbody tr{border-top:1px solid " FAINT "}tr.buy-row{font-weight:bold;background:" BACKDROP "}"
    ".small{font-size:6.6pt;line-height:1.3;color:#55504a}.small ul{margin:.4mm "
    "0;padding-left:3.5mm;"
    "columns:2;column-gap:6mm}"
    "pre{font:7pt/1.2 'DejaVu Sans Mono',monospace;margin:.8mm 0;background:" BACKDROP
    ";padding:1mm 2mm;white-space:pre-wrap}"
    ".remarks p{margin:.4mm 0}"
    ".care{border:1.5px solid " DEADLINE ";padding:1mm 3mm;margin-top:1.5mm;font-size:7pt;"
    "line-height:1.3}"
    "@media screen{body{padding:8mm;max-width:210mm}}"
    "@media screen and (max-width:600px){.two{grid-template-columns:1fr}.small ul{columns:1}"
    "table{font-size:7pt}}";

static const char care[] =
    "<b>Hot water.</b> Water of 60 °C burns skin within seconds: a tempering valve belongs before "
    "the outlets of bath and shower. Water that is stored below 60 °C, or is not wholly heated "
    "from "
    "time to time, can breed Legionella: keep the thermostat at 60 °C or above and heat the whole "
    "tank regularly, as local codes ask. Thermostat, thermal cut-out and relief valve stay in "
    "service under every way shown here. Work on switchboard, element and off-peak supply is for "
    "licensed people under local codes. Off is not isolation.";

/* ---- the table -------------------------------------------------------------------------- */

static void put_cell(FILE *to, const char *format, double value)
{
    fputs("<td>", to);
    if (isfinite(value))
        fprintf(to, format, value);
    else
        fputs("–", to);
    fputs("</td>", to);
}

static void put_money_cell(const struct comparison *comparison, FILE *to, double value)
{
    char buffer[32];
    struct text text = text_in(buffer, sizeof(buffer));
    compare_write_money(comparison, value, &text);
    fputs("<td>", to);
    escape_put(to, isfinite(value) ? buffer : "–");
    fputs("</td>", to);
}

static void put_mark(const struct comparison *comparison, enum compare_way way, FILE *to)
{
    const struct compare_verdict *verdict = comparison->verdict;
    fprintf(to, "<td>%s</td>",
            verdict->buy == way        ? "best"
            : verdict->offer[way].near ? "near-tie"
                                       : "");
}

static void put_way(const struct comparison *comparison, enum compare_way way, FILE *to)
{
    const struct compare_figures *figures = &comparison->compare->result[way].mean;
    const struct compare_offer *offer = &comparison->verdict->offer[way];
    double payback = way == WAY_ALWAYS_ON || offer->payback_years > 99 ? NAN : offer->payback_years;
    char buffer[64];
    struct text text = text_in(buffer, sizeof(buffer));
    compare_write_name(comparison, way, &text);
    fprintf(to, "<tr%s><td>", comparison->verdict->buy == way ? " class=\"buy-row\"" : "");
    escape_put(to, buffer);
    fputs("</td>", to);
    put_money_cell(comparison, to, figures->bill);
    put_money_cell(comparison, to, offer->saves);
    put_money_cell(comparison, to, offer->cold >= 0.5 ? offer->cold : 0);
    put_cell(to, "%.0f", figures->spoilt);
    put_cell(to, "%.0f", figures->cool_kwh);
    put_money_cell(comparison, to, offer->cost);
    put_cell(to, "%.1f", payback);
    put_money_cell(comparison, to, offer->net);
    put_mark(comparison, way, to);
    fputs("</tr>\n", to);
}

static void put_table(const struct comparison *comparison, FILE *to)
{
    fprintf(to,
            "<div class=\"wide\"><table><thead><tr><th></th><th>bill<br>a year</th><th>saves<br>a "
            "year</th>"
            "<th>colder water<br>counts, a year</th><th>spoilt showers<br>a year</th>"
            "<th>kWh below<br>42 °C</th><th>price</th><th>paid back<br>in years</th>"
            "<th>left after<br>%u years</th><th></th></tr></thead><tbody>\n",
            comparison->compare->wish.quote->years);
    for (int way = 0; way < WAY_FORESIGHT_SWITCHED; way++)
        if (comparison->compare->result[way].there)
            put_way(comparison, (enum compare_way)way, to);
    fputs("</tbody></table></div>\n", to);
}

/* ---- the page ----------------------------------------------------------------------------- */

static void put_head(const struct comparison *comparison, FILE *to)
{
    char buffer[96];
    struct text text = text_in(buffer, sizeof(buffer));
    compare_write_span(comparison, &text);
    fputs("<!DOCTYPE html>\n<html lang=\"en\"><head><meta charset=\"utf-8\">"
          "<meta name=\"viewport\" content=\"width=device-width\"><title>",
          to);
    escape_put(to, comparison->settings->site_name);
    fprintf(to, ": which way to heat water</title><style>%s</style></head><body>\n", style);
    fputs("<header><h1>", to);
    escape_put(to, comparison->settings->site_name);
    fputs("</h1><span>", to);
    escape_put(to, compare_load_title(comparison));
    fputs(", ", to);
    escape_put(to, buffer);
    fputs("</span></header>\n", to);
}

static void put_verdict(const struct comparison *comparison, FILE *to)
{
    fputs("<section class=\"buy\">", to);
    compare_tell_verdict(comparison, put_paragraph, to);
    fputs("</section>\n<section class=\"doubt\">", to);
    compare_tell_doubts(comparison, put_paragraph, to);
    fputs("</section>\n", to);
}

static void put_terms(const struct comparison *comparison, FILE *to)
{
    fputs("<section class=\"terms\">", to);
    compare_tell_terms(comparison, put_paragraph, to);
    fputs("</section>\n", to);
}

static void put_prices(const struct comparison *comparison, FILE *to)
{
    fputs("<section class=\"small\"><h2>Prices, piece by piece</h2><ul>\n", to);
    compare_tell_items(comparison, put_item, to);
    fputs("</ul></section>\n", to);
}

static void put_pictures(const struct comparison *comparison, FILE *to)
{
    char day[48];
    struct text text = text_in(day, sizeof(day));
    const char *name = compare_way_name(comparison->reported);
    fputs("<div class=\"two\"><figure style=\"margin:0\"><h2>Saved a year against always on</h2>\n",
          to);
    compare_draw_savings(comparison, to);
    fputs("</figure><figure style=\"margin:0\"><h2>Where the heat comes from, kWh a year</h2>\n",
          to);
    compare_draw_sources(comparison, to);
    fprintf(to, "</figure><figure style=\"margin:0\"><h2>Month by month, kWh: %s</h2>\n", name);
    compare_draw_months(comparison, to);
    show_date(&text, comparison->report->date);
    fprintf(to, "</figure><figure style=\"margin:0\"><h2>An ordinary day, %s: %s</h2>\n", day,
            name);
    compare_draw_day(comparison, to);
    fputs("</figure></div>\n", to);
}

static void put_settings(const struct comparison *comparison, FILE *to)
{
    enum compare_way buy = comparison->verdict->buy;
    enum compare_way way = compare_is_sluice(buy) && buy != WAY_SLUICE ? buy : WAY_TUNED;
    if (way == WAY_TUNED && !comparison->compare->wish.tune)
        return;
    fprintf(to, "<h2>Settings%s</h2><pre>", way == WAY_TUNED ? ", tuned" : " for what is advised");
    if (!compare_tell_lines(comparison, way, put_line, to))
        fputs("as configured: no value tried is better", to);
    fputs("</pre>\n", to);
    if (way == WAY_TUNED) {
        fputs("<div class=\"small remarks\">", to);
        compare_tell_tuning(comparison, put_paragraph, to);
        fputs("</div>\n", to);
    }
}

static void put_assumptions(const struct comparison *comparison, FILE *to)
{
    fputs("<section class=\"small\"><h2>What this rests on</h2><p style=\"margin:0\">An estimate, "
          "not a promise: the days are recorded ones of the past, the tank, its hot water and the "
          "prices are those stated here, and prices stay as they are today for all the "
          "years.</p><ul>\n",
          to);
    compare_tell_assumptions(comparison, put_item, to);
    fputs("</ul></section>\n", to);
}

void compare_write_page(const struct comparison *comparison, FILE *to)
{
    put_head(comparison, to);
    put_terms(comparison, to);
    put_verdict(comparison, to);
    put_pictures(comparison, to);
    put_table(comparison, to);
    put_prices(comparison, to);
    put_settings(comparison, to);
    put_assumptions(comparison, to);
    fprintf(to, "<section class=\"care\">%s</section>\n</body></html>\n", care);
}
