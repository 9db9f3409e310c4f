/* screen.c - one screen that answers, from the top: what is there to be used, what
 * does each load do and why, will it be hot in time, and can all this be believed.
 *
 * Sentences that put several values together are written here; a value that can be said
 * alone is said by its row (say.h). What is missing in the JSON is shown as missing: a daemon
 * of another version must not make the screen fail. */
#include "screen.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#include "say.h"
#include "screen_load.h"
#include "sluice/page/show.h"

enum { LABEL = 14, SECOND = 42, SECOND_LABEL = 51, INDENT = 6, FIGURE_MAX = 160 };

/* ---- the house -------------------------------------------------------------------- */

int32_t screen_today(const cJSON *status)
{
    struct local local;
    return show_read_time(words(status, "time"), &local) ? local.day : 0;
}

void screen_print_heading(struct page *page, const cJSON *status)
{
    char buffer[FIGURE_MAX];
    struct text text = text_in(buffer, sizeof(buffer));
    struct local local;
    page_put_coloured(page, PAGE_BOLD, words(status, "site"));
    if (!yes(status, "clock_trusted")) {
        text_add(&text, "clock not synchronised");
    } else if (show_read_time(words(status, "time"), &local)) {
        show_date(&text, date_of_days(local.day));
        text_add(&text, ", ");
        show_clock(&text, local.second);
    }
    page_put_right(page, buffer);
    page_end(page);
    page_end(page);
}

static void put_figure(struct page *page, const char *label, const char *figure)
{
    page_put(page, label);
    page_to(page, LABEL);
    page_put(page, figure);
}

/* One that may take several lines, which it ends. */
static void print_figure(struct page *page, enum page_colour colour, const char *label,
                         const char *figure)
{
    page_put(page, label);
    page_to(page, LABEL);
    page_colour(page, colour);
    page_wrap(page, LABEL, figure);
    page_colour(page, PAGE_PLAIN);
}

/* Beside the first, or below it on a narrow page. */
static void put_second(struct page *page, const char *label, const char *figure)
{
    if (page->width < PAGE_WIDTH) {
        page_end(page);
        put_figure(page, label, figure);
        return;
    }
    page_to(page, SECOND);
    page_put(page, label);
    page_to(page, SECOND_LABEL);
    page_put(page, figure);
}

static const char *power(char buffer[FIGURE_MAX], const cJSON *from, const char *key,
                         const char *negative, const char *positive)
{
    struct text text = text_in(buffer, FIGURE_MAX);
    int64_t power_w;
    if (!number(from, key, &power_w))
        return "not known";
    const char *word = power_w < 0 ? negative : power_w > 0 ? positive : "";
    text_add(&text, "%s", word);
    show_power(&text, *negative && power_w < 0 ? -power_w : power_w);
    return buffer;
}

static const char *spare(char buffer[FIGURE_MAX], const cJSON *status)
{
    struct text text = text_in(buffer, FIGURE_MAX);
    int64_t spare_w;
    if (!number(status, "spare_w", &spare_w) || spare_w > 0)
        return power(buffer, status, "spare_w", "", "");
    text_add(&text, "none");
    if (spare_w < 0) {
        text_add(&text, ", ");
        show_power(&text, -spare_w);
        text_add(&text, " short");
    }
    return buffer;
}

static void print_phases(struct page *page, const cJSON *reading)
{
    char buffer[FIGURE_MAX];
    struct text text = text_in(buffer, sizeof(buffer));
    const cJSON *phases = get(reading, "phase_power_w");
    int count = cJSON_GetArraySize(phases);
    if (count < 2)
        return;
    for (int k = 0; k < count && k < 3; k++) {
        text_add(&text, "%sL%d ", k ? ", " : "", k + 1);
        show_power(&text, (int64_t)cJSON_GetArrayItem(phases, k)->valuedouble);
    }
    print_figure(page, PAGE_PLAIN, "by phase", buffer);
}

static void print_age(struct page *page, const cJSON *reading)
{
    char buffer[FIGURE_MAX];
    struct text text = text_in(buffer, sizeof(buffer));
    int64_t age_ms;
    bool fresh = is(reading, "quality", "fresh");
    text_add(&text, "%s", words(reading, "quality"));
    if (number(reading, "age_ms", &age_ms)) {
        text_add(&text, ", ");
        show_age(&text, age_ms);
        text_add(&text, " old");
    }
    if (*words(reading, "fault"))
        text_add(&text, ": %s", words(reading, "fault"));
    say_group(&text, "reading", reading);
    print_figure(page, fresh ? PAGE_PLAIN : PAGE_RED, "reading", buffer);
}

/* Since the beginning. */
static void print_total(struct page *page, const cJSON *status)
{
    char buffer[FIGURE_MAX];
    struct text text = text_in(buffer, sizeof(buffer));
    say_group(&text, "", status);
    if (text.used)
        print_figure(page, PAGE_PLAIN, "total", buffer);
}

/* Only where it is not the file at hand; why not is among the troubles. */
static void print_settings(struct page *page, const cJSON *status)
{
    char buffer[FIGURE_MAX];
    struct text text = text_in(buffer, sizeof(buffer));
    const cJSON *settings = get(status, "settings");
    if (!is(settings, "in_force", "last-accepted"))
        return;
    text_add(&text, "those last accepted, not the file");
    if (*words(settings, "accepted")) {
        text_add(&text, "; accepted ");
        say_date_and_time(&text, words(settings, "accepted"));
    }
    print_figure(page, PAGE_RED, "settings", buffer);
}

void screen_print_house(struct page *page, const cJSON *status)
{
    char buffer[FIGURE_MAX];
    const cJSON *reading = get(status, "reading");
    put_figure(page, "spare power", spare(buffer, status));
    if (cJSON_IsNumber(get(reading, "solar_power_w")))
        put_second(page, "solar", power(buffer, reading, "solar_power_w", "", ""));
    page_end(page);
    put_figure(page, "grid", power(buffer, reading, "grid_power_w", "exporting ", "importing "));
    if (cJSON_IsNumber(get(reading, "battery_power_w")))
        put_second(page, "battery",
                   power(buffer, reading, "battery_power_w", "discharging ", "charging "));
    page_end(page);
    print_phases(page, reading);
    print_age(page, reading);
    print_total(page, status);
    print_settings(page, status);
}

void screen_print_orders_to_all(struct page *page, const cJSON *status)
{
    char buffer[FIGURE_MAX];
    struct text text = text_in(buffer, sizeof(buffer));
    const char *back = words(status, "holiday_back");
    if (*back) {
        text_add(&text, "HOLIDAY until ");
        say_date_and_time(&text, back);
        text_add(&text, ": only loads that go on as usual start");
        page_colour(page, PAGE_BOLD);
        page_wrap(page, 0, buffer);
        page_colour(page, PAGE_PLAIN);
    }
    if (yes(status, "inhibited")) {
        page_put_coloured(page, PAGE_BOLD, "ALL LOADS ARE INHIBITED by order");
        page_end(page);
    }
}

/* ---- can it be believed -------------------------------------------------------------- */

static void print_wrapped(struct page *page, const char *text)
{
    page_to(page, INDENT);
    page_wrap(page, INDENT, text);
}

static void print_title(struct page *page, enum page_colour colour, const char *title)
{
    page_end(page);
    page_put_coloured(page, colour, title);
    page_end(page);
}

static int name_columns(const cJSON *meters)
{
    int widest = 5;
    const cJSON *meter;
    cJSON_ArrayForEach(meter, meters)
    {
        int columns = page_columns(words(meter, "name"));
        widest = columns > widest ? columns : widest;
    }
    return widest > 32 ? 32 : widest;
}

static void print_meter(struct page *page, const cJSON *meter, int width)
{
    char buffer[4 * FIGURE_MAX];
    struct text text = text_in(buffer, sizeof(buffer));
    int64_t age_ms;
    bool ok = is(meter, "outcome", "answered");
    page_to(page, INDENT);
    page_put(page, words(meter, "name"));
    page_to(page, INDENT + width + 2);
    if (number(meter, "age_ms", &age_ms)) {
        show_age(&text, age_ms);
        text_add(&text, " old");
    } else {
        text_add(&text, "never read");
    }
    page_put(page, buffer);
    page_to(page, INDENT + width + (page->width < PAGE_WIDTH ? 13 : 20));
    text = text_in(buffer, sizeof(buffer));
    text_add(&text, "%s%s%s", words(meter, "outcome"), *words(meter, "detail") ? ": " : "",
             words(meter, "detail"));
    say_group(&text, "meters", meter);
    page_colour(page, ok ? PAGE_PLAIN : PAGE_RED);
    page_wrap(page, INDENT + 2, buffer);
    page_colour(page, PAGE_PLAIN);
}

static void print_meters(struct page *page, const cJSON *status)
{
    const cJSON *meters = get(status, "meters"), *meter;
    int width = name_columns(meters);
    print_title(page, PAGE_BOLD, "Meters");
    cJSON_ArrayForEach(meter, meters) print_meter(page, meter, width);
}

/* ---- how well the buses work ------------------------------------------------------------ */

/* How many polls failed, and of what; then how fast the answers are that came. */
static void print_unit(struct page *page, const cJSON *bus, const cJSON *unit)
{
    char buffer[4 * FIGURE_MAX], detail[FIGURE_MAX];
    struct text text = text_in(buffer, sizeof(buffer));
    struct text details = text_in(detail, sizeof(detail));
    int64_t address, asked, timeouts, corrupt, slowest_us;
    if (!number(unit, "unit", &address) || !number(unit, "asked", &asked) || asked == 0)
        return;
    number(unit, "timeouts", &timeouts);
    number(unit, "corrupt", &corrupt);
    text_add(&text, "%s unit %" PRId64 ": ", words(bus, "name"), address);
    show_count(&text, asked);
    text_add(&text, " poll%s, ", asked == 1 ? "" : "s");
    show_count(&text, timeouts + corrupt);
    text_add(&text, " failed");
    say_group(&details, "buses.units", unit);
    if (details.used)
        text_add(&text, " (%s)", detail);
    if (number(unit, "answer_p99_us", &slowest_us) && slowest_us > 0)
        text_add(&text, "; 99 %% answered within %" PRId64 " ms", (slowest_us + 999) / 1000);
    print_wrapped(page, buffer);
}

static void print_bus(struct page *page, const cJSON *bus)
{
    char buffer[4 * FIGURE_MAX];
    struct text text = text_in(buffer, sizeof(buffer));
    const cJSON *unit;
    cJSON_ArrayForEach(unit, get(bus, "units")) print_unit(page, bus, unit);
    say_group(&text, "buses", bus);
    if (!text.used)
        return;
    page_to(page, INDENT);
    page_put(page, words(bus, "name"));
    page_put(page, ": ");
    page_wrap(page, INDENT, buffer);
}

static void print_buses(struct page *page, const cJSON *status)
{
    const cJSON *bus, *buses = get(status, "buses");
    if (cJSON_GetArraySize(buses) == 0)
        return;
    print_title(page, PAGE_BOLD, "Buses");
    cJSON_ArrayForEach(bus, buses) print_bus(page, bus);
}

/* ---- what is sensed at the board -------------------------------------------------------- */

static void print_inputs(struct page *page, const cJSON *status)
{
    char buffer[4 * FIGURE_MAX];
    const cJSON *input, *inputs = get(status, "inputs");
    int64_t age_ms;
    if (cJSON_GetArraySize(inputs) == 0)
        return;
    print_title(page, PAGE_BOLD, "Inputs");
    cJSON_ArrayForEach(input, inputs)
    {
        struct text text = text_in(buffer, sizeof(buffer));
        text_add(&text, "%s (%s, %s): %s", words(input, "name"), words(input, "role"),
                 words(input, "load"), words(input, "state"));
        if (!number(input, "age_ms", &age_ms))
            text_add(&text, ", never read");
        if (*words(input, "detail"))
            text_add(&text, "; %s", words(input, "detail"));
        print_wrapped(page, buffer);
    }
}

static void print_gateway(struct page *page, const cJSON *status)
{
    char buffer[4 * FIGURE_MAX];
    struct text text = text_in(buffer, sizeof(buffer));
    if (!cJSON_IsObject(get(status, "gateway")))
        return;
    print_title(page, PAGE_BOLD, "Gateway");
    const cJSON *gateway = get(status, "gateway");
    say_group(&text, "gateway", gateway);
    print_wrapped(page, text.used                                   ? buffer
                        : cJSON_IsNull(get(gateway, "connections")) ? "could not begin"
                                                                    : "not used yet");
}

/* ---- the daemon itself -------------------------------------------------------------------- */

static void add_edge(struct text *text, const char *name, const char *state, const char *trouble)
{
    text_add(text, "%s%s%s%s", text->used ? "; " : "", name, *trouble ? ": " : " ",
             *trouble ? trouble : state);
}

static void print_daemon(struct page *page, const cJSON *status)
{
    char buffer[4 * FIGURE_MAX];
    struct text text = text_in(buffer, sizeof(buffer));
    const cJSON *mqtt = get(status, "mqtt");
    int64_t uptime_s;
    if (yes(mqtt, "enabled"))
        add_edge(&text, "broker", yes(mqtt, "connected") ? "connected" : "not connected",
                 words(mqtt, "trouble"));
    add_edge(&text, "ledger", "written", words(get(status, "ledger"), "trouble"));
    if (number(status, "uptime_s", &uptime_s)) {
        text_add(&text, "; sluiced %s up ", words(status, "version"));
        show_duration(&text, uptime_s * MS_PER_S);
    }
    page_end(page);
    page_wrap(page, INDENT, buffer);
}

/* What is about a load stands with the load: what is inferred, and its output's. */
static bool is_told_above(const cJSON *finding)
{
    return *words(finding, "load") != '\0';
}

static void add_trouble(struct text *text, const cJSON *finding)
{
    int64_t percent;
    bool inferred = yes(finding, "inferred");
    text_add(text, "%s%s%s", inferred ? words(finding, "about") : "", inferred ? ": " : "",
             words(finding, "text"));
    if (number(finding, "sure_percent", &percent))
        text_add(text, " (%" PRId64 " %%)", percent);
}

static void print_troubles(struct page *page, const cJSON *status)
{
    char buffer[4 * FIGURE_MAX];
    const cJSON *finding, *findings = get(status, "findings");
    bool any = false;
    cJSON_ArrayForEach(finding, findings)
    {
        struct text text = text_in(buffer, sizeof(buffer));
        if (is_told_above(finding))
            continue;
        if (!any)
            print_title(page, PAGE_RED, "Troubles");
        any = true;
        add_trouble(&text, finding);
        page_colour(page, PAGE_RED);
        page_to(page, INDENT);
        page_put(page, "! ");
        page_wrap(page, INDENT + 2, buffer);
        page_colour(page, PAGE_PLAIN);
    }
    if (cJSON_GetArraySize(findings) > 0) {
        page_end(page);
        page_wrap(page, 0, "What to do first: sluice faults");
    }
}

void screen_print(const cJSON *status, bool colour)
{
    struct page page = {.colour = colour, .width = page_terminal_width()};
    const cJSON *load, *loads = get(status, "loads");
    screen_print_heading(&page, status);
    screen_print_house(&page, status);
    screen_print_orders_to_all(&page, status);
    cJSON_ArrayForEach(load, loads)
        screen_print_load(&page, load, get(status, "findings"), screen_today(status));
    print_meters(&page, status);
    print_inputs(&page, status);
    print_buses(&page, status);
    print_gateway(&page, status);
    print_daemon(&page, status);
    print_troubles(&page, status);
    page_end(&page);
    page_colour(&page, PAGE_DIM);
    page_wrap(&page, 0,
              "Off is not isolation: isolate all supplies and prove dead before opening.");
    page_colour(&page, PAGE_PLAIN);
}
