/* data_page.c - the preview as a page to keep with the quote, or to ask the customer by.
 * Needs no other file, no script and no network. */
#include <math.h>
#include <string.h>

#include "core/quantity.h"
#include "data_preview.h"
#include "days/names.h"
#include "sluice/page/escape.h"
#include "sluice/page/sheet.h"
#include "sluice/page/show.h"

enum { LINE_SIZE = 320 };

static const char style[] =
    "@page{size:A4;margin:12mm}*{box-sizing:border-box}"
    "section,table,figure{break-inside:avoid}"
    "body{margin:0 auto;max-width:186mm;color:" INK ";background:#fff;"
    "font:9.5pt/1.35 'DejaVu Sans',Verdana,sans-serif;"
    "-webkit-print-color-adjust:exact;print-color-adjust:exact}"
    "h1{font-size:17pt;margin:0;overflow-wrap:anywhere}h2{font-size:10.5pt;margin:4mm 0 1mm}"
    "header{border-bottom:1.5px solid " FAINT ";padding-bottom:2mm}header p{margin:0;color:" MUTED
    "}"
    ".day{display:flex;flex-wrap:wrap;gap:2mm 8mm;background:" BACKDROP
    ";padding:2mm 4mm;margin:3mm 0}"
    ".day div{color:" MUTED "}.day b{display:block;font-size:15pt;color:" INK "}"
    ".two{display:grid;grid-template-columns:1fr 1fr;gap:0 6mm}figure{margin:0}"
    "svg{width:100%;height:auto;display:block}"
    ".wide{overflow-x:auto}table{border-collapse:collapse;width:100%;font-size:8.5pt}"
    "th,td{text-align:right;padding:.6mm 1mm;white-space:nowrap}"
    "th:first-child,td:first-child,th:nth-child(2),td:nth-child(2),th:nth-child(3),"
    "td:nth-child(3){text-align:left}td:first-child{white-space:normal}"
    "thead th{font-weight:normal;color:" MUTED "}tbody tr{border-top:1px solid " FAINT "}"
    "ul{margin:0;padding-left:4.5mm}.doubt{border-left:5px solid " DEADLINE
    ";padding:0 0 .5mm 4mm;margin-top:4mm}.doubt h2{margin-top:0}"
    ".key i{display:inline-block;width:3.2mm;height:3.2mm;margin:0 1mm 0 3mm}.key i:first-child"
    "{margin-left:0}.small{font-size:8pt;color:#55504a}"
    "@media screen{body{padding:8mm;max-width:210mm}}"
    "@media screen and (max-width:600px){body{padding:4mm}.two{grid-template-columns:1fr}}";

static void put_words(FILE *to, const char *tag, const char *text)
{
    fprintf(to, "<%s>", tag);
    escape_put(to, text);
    fprintf(to, "</%s>\n", tag);
}

/* ---- the table of what was read ------------------------------------------------------------ */

static void put_channel(const struct days_found_channel *channel, FILE *to)
{
    char buffer[48];
    struct text text = text_in(buffer, sizeof(buffer));
    bool water = channel->role == DAYS_DRAW;
    const char *fate = data_fate(channel);
    fputs("<tr>", to);
    put_words(to, "td", channel->name);
    put_words(to, "td", *fate ? fate : data_role(channel));
    put_words(to, "td", channel->unit == DAYS_UNIT_BY_HEADER ? "?" : days_unit_name(channel->unit));
    quantity_write(QUANTITY_DURATION_MS, (int64_t)channel->step_s * MS_PER_S, &text);
    put_words(to, "td", buffer);
    text = text_in(buffer, sizeof(buffer));
    if (!isnan(channel->day_kwh))
        text_add(&text, water ? "%.0f l" : "%.2f kWh", channel->day_kwh);
    put_words(to, "td", buffer);
    text = text_in(buffer, sizeof(buffer));
    if (!isnan(channel->most_w))
        text_add(&text, water ? "%.0f l/h" : "%.2f kW", channel->most_w / (water ? 1 : 1000));
    put_words(to, "td", buffer);
    fprintf(to, "<td>%zu</td><td>%zu</td><td>%zu</td></tr>\n", channel->missing, channel->gaps,
            channel->estimated);
}

static void put_channels(const struct days_found *found, FILE *to)
{
    fputs("<div class=\"wide\"><table><thead><tr><th>in the file</th><th>read as</th><th>in</th>"
          "<th>step</th><th>a day</th><th>largest</th><th>steps<br>missing</th><th>in gaps</th>"
          "<th>estimated</th></tr></thead><tbody>\n",
          to);
    for (int k = 0; k < found->count; k++)
        put_channel(&found->channel[k], to);
    fputs("</tbody></table></div>\n", to);
}

/* ---- lists --------------------------------------------------------------------------------- */

static void put_item(void *context, const char *text)
{
    put_words(context, "li", text);
}

static void count_item(void *context, const char *text)
{
    (void)text;
    ++*(int *)context;
}

static void put_doubts(const struct data_preview *preview, FILE *to)
{
    int count = 0;
    data_tell_doubts(preview, count_item, &count);
    if (count == 0) {
        put_words(to, "p", "Nothing in it looks wrong.");
        return;
    }
    fputs("<section class=\"doubt\"><h2>Look at these</h2><ul>\n", to);
    data_tell_doubts(preview, put_item, to);
    fputs("</ul></section>\n", to);
}

/* ---- the days ------------------------------------------------------------------------------ */

static void put_figure(FILE *to, const char *what, double kwh)
{
    char buffer[32];
    struct text text = text_in(buffer, sizeof(buffer));
    show_kwh(&text, llround(kwh * 1e6));
    fprintf(to, "<div><b>%s</b>kWh a day %s</div>\n", isnan(kwh) ? "not known" : buffer, what);
}

static void put_seasons(const struct data_preview *preview, FILE *to)
{
    struct data_flows names = data_flow_names(preview);
    fprintf(to,
            "<h2>The mean day of each season, kW</h2>\n<p class=\"key small\"><i style=\""
            "background:%s\"></i>%s<i style=\"background:%s\"></i>%s</p>\n<div class=\"two\">\n",
            preview->loaded->days.at_meter ? GRID : "#b9b2a6", names.use,
            preview->loaded->days.at_meter ? SPARE : SOLAR, names.sun);
    for (int season = 0; season < DAYS_SEASONS; season++) {
        if (preview->profile.season[season].days == 0)
            continue;
        fprintf(to, "<figure><figcaption class=\"small\">%s, %d days</figcaption>\n",
                days_season_name(season), preview->profile.season[season].days);
        data_draw_season(preview, season, to);
        fputs("</figure>\n", to);
    }
    fputs("</div>\n", to);
}

static void put_largest(FILE *to, const char *what, const struct days_peak peaks[static DAYS_PEAKS],
                        int32_t slot_s)
{
    char buffer[LINE_SIZE];
    struct text text = text_in(buffer, sizeof(buffer));
    if (peaks[0].w <= 0)
        return;
    text_add(&text, "Largest %s of %s: ", slot_s > 1800 ? "hours" : "half hours", what);
    data_write_peaks(peaks, &text);
    put_words(to, "li", buffer);
}

static void put_days(const struct data_preview *preview, FILE *to)
{
    const struct days_flow *day = &preview->halves.day_kwh;
    fputs("<section class=\"day\">\n", to);
    put_figure(to, "imported", day->import);
    put_figure(to, "exported", day->export);
    put_figure(to, "generated", day->sun);
    put_figure(to, "used", day->use);
    fputs("</section>\n<ul>\n", to);
    put_largest(to, "import", preview->profile.import, preview->halves.slot_s);
    put_largest(to, "export", preview->profile.export, preview->halves.slot_s);
    fputs("</ul>\n", to);
    put_seasons(preview, to);
}

void data_write_page(const struct data_preview *preview, FILE *to)
{
    char files[LINE_SIZE], span[LINE_SIZE] = "";
    struct text text = text_in(files, sizeof(files));
    data_write_files(preview, &text);
    text = text_in(span, sizeof(span));
    data_write_span(preview, &text);
    fputs("<!DOCTYPE html>\n<html lang=\"en\"><head><meta charset=\"utf-8\">"
          "<meta name=\"viewport\" content=\"width=device-width\"><title>",
          to);
    escape_put(to, files);
    fprintf(to, ": what was understood</title><style>%s</style></head><body>\n<header>", style);
    put_words(to, "h1", files);
    text_add(&text, "%slocal time of %s", span[0] ? "; " : "", preview->zone_name);
    put_words(to, "p", span);
    fputs("</header>\n", to);
    if (preview->loaded->days.steps > 0)
        put_days(preview, to);
    put_doubts(preview, to);
    fputs("<section><h2>What was read</h2>\n", to);
    put_channels(&preview->loaded->found, to);
    fputs("<ul class=\"small\">\n", to);
    data_tell_reading(preview, put_item, to);
    fputs("</ul></section>\n</body></html>\n", to);
}
