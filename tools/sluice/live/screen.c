/* screen.c - one screen that answers, from the top: what is there to be used, what
 * does each load do and why, will it be hot in time, and can all this be believed.
 *
 * A load is a block of lines: its state and name, its reason, then only the lines
 * that say something. What is missing in the JSON is shown as missing: a daemon of
 * another version must not make the screen fail. */
#include "screen.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#include "core/quantity.h"
#include "sluice/page/page.h"
#include "sluice/page/show.h"

enum {
    LABEL = 14,
    SECOND = 42,
    SECOND_LABEL = 51,
    INDENT = 6,
    BAR_AT = 32,
    BAR_WIDTH = 20,
    FIGURE_MAX = 160
};

/* ---- reading JSON ---------------------------------------------------------------- */

static const cJSON *get(const cJSON *from, const char *key)
{
    return cJSON_GetObjectItemCaseSensitive(from, key);
}

static bool number(const cJSON *from, const char *key, int64_t *value)
{
    const cJSON *item = get(from, key);
    bool ok = cJSON_IsNumber(item) && item->valuedouble > -9e15 && item->valuedouble < 9e15;
    *value = ok ? (int64_t)item->valuedouble : 0;
    return ok;
}

static const char *words(const cJSON *from, const char *key)
{
    const cJSON *item = get(from, key);
    return cJSON_IsString(item) ? item->valuestring : "";
}

static bool yes(const cJSON *from, const char *key)
{
    return cJSON_IsTrue(get(from, key));
}

static bool is(const cJSON *from, const char *key, const char *word)
{
    return strcmp(words(from, key), word) == 0;
}

/* ---- the house -------------------------------------------------------------------- */

/* "17:00", or "Thu 17:00" where that is not `today`. */
static void add_time(struct text *text, const char *iso, int32_t today)
{
    static const char *const days[] = {"Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"};
    struct local local;
    if (!show_read_time(iso, &local)) {
        text_add(text, "an unknown time");
        return;
    }
    if (local.day - today > 6)
        show_date(text, date_of_days(local.day));
    else if (local.day != today)
        text_add(text, "%s", days[weekday_of_days(local.day)]);
    if (local.day != today)
        text_add(text, " ");
    show_clock(text, local.second);
}

static void add_date_and_time(struct text *text, const char *iso)
{
    add_time(text, iso, INT32_MIN / 2); /* no day that people would call this week's */
}

static int32_t today_of(const cJSON *status)
{
    struct local local;
    return show_read_time(words(status, "time"), &local) ? local.day : 0;
}

static void print_heading(struct page *page, const cJSON *status)
{
    char buffer[FIGURE_MAX];
    struct text text = text_in(buffer, sizeof(buffer));
    struct local local;
    page_put_coloured(page, PAGE_BOLD, words(status, "site"));
    if (!yes(status, "clock_trusted")) {
        text_add(&text, "clock not set");
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

static void put_second(struct page *page, const char *label, const char *figure)
{
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
        text_add(&text, "%sL%d ", k ? "   " : "", k + 1);
        show_power(&text, (int64_t)cJSON_GetArrayItem(phases, k)->valuedouble);
    }
    put_figure(page, "by phase", buffer);
    page_end(page);
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
    page_put(page, "reading");
    page_to(page, LABEL);
    page_put_coloured(page, fresh ? PAGE_PLAIN : PAGE_RED, buffer);
    page_end(page);
}

/* Only where it is not the file at hand; why not is among the troubles. */
static void print_settings(struct page *page, const cJSON *status)
{
    char buffer[FIGURE_MAX];
    struct text text = text_in(buffer, sizeof(buffer));
    const cJSON *settings = get(status, "settings");
    if (!is(settings, "in_force", "last-accepted"))
        return;
    text_add(&text, "the last accepted ones");
    if (*words(settings, "accepted")) {
        text_add(&text, ", of ");
        add_date_and_time(&text, words(settings, "accepted"));
    }
    page_put(page, "settings");
    page_to(page, LABEL);
    page_put_coloured(page, PAGE_RED, buffer);
    page_end(page);
}

static void print_house(struct page *page, const cJSON *status)
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
    print_settings(page, status);
}

static void print_orders_to_all(struct page *page, const cJSON *status)
{
    char buffer[FIGURE_MAX];
    struct text text = text_in(buffer, sizeof(buffer));
    const char *back = words(status, "holiday_back");
    if (*back) {
        text_add(&text, "HOLIDAY until ");
        add_date_and_time(&text, back);
        text_add(&text, ": nothing starts by itself but what is said to");
        page_put_coloured(page, PAGE_BOLD, buffer);
        page_end(page);
    }
    if (yes(status, "inhibited")) {
        page_put_coloured(page, PAGE_BOLD, "ALL LOADS ARE INHIBITED by order");
        page_end(page);
    }
}

/* ---- a load ------------------------------------------------------------------------- */

static void add_draw(struct text *text, const cJSON *load)
{
    int64_t draw_w, power_w;
    bool known = number(load, "draw_w", &draw_w);
    number(load, "power_w", &power_w);
    if (is(load, "draw", "stuck")) {
        text_add(text, "draws ");
        show_power(text, draw_w);
        text_add(text, " though off");
    } else if (!yes(load, "on")) {
        text_add(text, "takes ");
        show_power(text, power_w);
    } else if (is(load, "draw", "open")) {
        text_add(text, "draws nothing");
    } else if (is(load, "draw", "waiting")) {
        text_add(text, "draw not seen yet");
    } else if (is(load, "draw", "assumed")) {
        text_add(text, "draw not measured; takes ");
        show_power(text, power_w);
    } else if (!known) {
        text_add(text, "draw not known");
    } else {
        text_add(text, "draws ");
        show_power(text, draw_w);
    }
    if (yes(load, "on") && (is(load, "kind", "staged") || is(load, "kind", "setpoint"))) {
        int64_t level_w;
        number(load, "level_w", &level_w);
        text_add(text, ", set to ");
        show_power(text, level_w);
    }
}

/* What was ordered and has not confirmed is marked as a question. */
static void put_state(struct page *page, const cJSON *load)
{
    bool on = yes(load, "on");
    page_to(page, 1);
    if (is(load, "output_is", on ? "on" : "off"))
        page_put_coloured(page, on ? PAGE_GREEN : PAGE_PLAIN, on ? "ON" : "off");
    else
        page_put_coloured(page, PAGE_BOLD, on ? "on?" : "off?");
}

static void print_name(struct page *page, const cJSON *load)
{
    char buffer[FIGURE_MAX];
    struct text text = text_in(buffer, sizeof(buffer));
    put_state(page, load);
    page_to(page, INDENT);
    page_put_coloured(page, PAGE_BOLD, words(load, "title"));
    text_add(&text, "%s(%s)", *words(load, "title") ? " " : "", words(load, "name"));
    page_put(page, buffer);
    text = text_in(buffer, sizeof(buffer));
    add_draw(&text, load);
    page_put_right(page, buffer);
    page_end(page);
}

/* A line of a load's block: a word, and what follows it. */
static void print_line(struct page *page, enum page_colour colour, const char *label,
                       const char *text)
{
    page_to(page, INDENT);
    page_colour(page, colour);
    page_put(page, label);
    page_wrap(page, INDENT + page_columns(label), text);
    page_colour(page, PAGE_PLAIN);
}

static bool reason_is_hand(const cJSON *load)
{
    return is(load, "reason_name", "on-manual") || is(load, "reason_name", "off-manual");
}

/* Orders that the reason does not tell of already. */
static void print_hand(struct page *page, const cJSON *load)
{
    char buffer[FIGURE_MAX];
    struct text text = text_in(buffer, sizeof(buffer));
    int64_t left_ms;
    if (!is(load, "hand", "auto") && *words(load, "hand") && !reason_is_hand(load)) {
        text_add(&text, "ordered %s, ", words(load, "hand"));
        if (number(load, "hand_left_ms", &left_ms)) {
            show_duration(&text, left_ms);
            text_add(&text, " left");
        } else {
            text_add(&text, "no end time");
        }
        print_line(page, PAGE_BOLD, "by hand: ", buffer);
    }
    if (yes(load, "inhibited"))
        print_line(page, PAGE_BOLD, "", "inhibited: kept off whatever else");
    if (cJSON_IsFalse(get(load, "enabled")))
        print_line(page, PAGE_BOLD, "", "disabled: runs only when ordered by hand");
}

/* What the holiday leaves it, and whether it is hot in time. */
static void print_holiday(struct page *page, const cJSON *load, int32_t today)
{
    char buffer[FIGURE_MAX];
    struct text text = text_in(buffer, sizeof(buffer));
    const cJSON *holiday = get(load, "holiday");
    int64_t short_ms;
    bool heats = number(holiday, "heat_up_short_ms", &short_ms);
    if (!cJSON_IsObject(holiday))
        return;
    if (yes(holiday, "as_usual")) {
        print_line(page, PAGE_PLAIN, "holiday: ", "goes on as usual");
    } else if (heats && short_ms >= MS_PER_MIN) {
        text_add(&text, "will NOT be hot at the return: its heat-up is short of ");
        show_duration(&text, short_ms);
        print_line(page, PAGE_BOLD, "holiday: ", buffer);
    } else if (heats) {
        text_add(&text, "heated for the return from ");
        add_time(&text, words(holiday, "heated_from"), today);
        text_add(&text, " on");
        print_line(page, PAGE_PLAIN, "holiday: ", buffer);
    }
}

static void add_amount(struct text *text, const cJSON *floor, int64_t amount)
{
    if (is(floor, "measure", "energy"))
        show_energy(text, amount);
    else
        show_duration(text, amount);
}

/* How much of a floor is done, in percent; a promise of "until satisfied" is kept
 * or not. */
static int64_t share_done(const cJSON *floor)
{
    int64_t amount, done;
    number(floor, "amount", &amount);
    number(floor, "done", &done);
    if (cJSON_IsNull(get(floor, "met")))
        return 0; /* of what was run nothing shows that it heated */
    if (yes(floor, "met"))
        return 100;
    if (amount <= 0 || done <= 0)
        return 0;
    return done >= amount ? 100 : done * 100 / amount;
}

static void put_bar(struct page *page, int64_t share)
{
    char bar[BAR_WIDTH + 3] = "[";
    memset(bar + 1, '.', BAR_WIDTH);
    memset(bar + 1, '#', (size_t)(share * BAR_WIDTH / 100));
    bar[BAR_WIDTH + 1] = ']';
    page_to(page, BAR_AT);
    page_put(page, bar);
}

static void put_progress(struct page *page, const cJSON *floor, int64_t share, int32_t today)
{
    char buffer[FIGURE_MAX];
    struct text text = text_in(buffer, sizeof(buffer));
    bool due = yes(floor, "due");
    page_to(page, page->column + 2);
    if (yes(floor, "met")) {
        page_put_coloured(page, PAGE_GREEN, "kept");
        return;
    }
    if (cJSON_IsNull(get(floor, "met"))) {
        page_put_coloured(page, PAGE_BOLD, "not known if kept");
        return;
    }
    text_add(&text, "%" PRId64 " %%", share);
    if (due) {
        text_add(&text, ", now due");
    } else if (*words(floor, "latest_start")) {
        text_add(&text, ", start by ");
        add_time(&text, words(floor, "latest_start"), today);
    }
    page_put_coloured(page, due ? PAGE_BOLD : PAGE_PLAIN, buffer);
}

static void print_floor(struct page *page, const cJSON *floor, int32_t today)
{
    char buffer[FIGURE_MAX];
    struct text text = text_in(buffer, sizeof(buffer));
    int64_t amount, share = share_done(floor);
    number(floor, "amount", &amount);
    if (is(floor, "measure", "satisfied"))
        text_add(&text, "hot through");
    else
        add_amount(&text, floor, amount);
    if (*words(floor, "deadline")) {
        text_add(&text, " by ");
        add_time(&text, words(floor, "deadline"), today);
    } else {
        text_add(&text, " in each 24 h");
    }
    page_to(page, INDENT);
    page_put(page, buffer);
    put_bar(page, share);
    put_progress(page, floor, share, today);
    page_end(page);
}

static void print_today(struct page *page, const cJSON *load)
{
    char buffer[FIGURE_MAX];
    struct text text = text_in(buffer, sizeof(buffer));
    const cJSON *today = get(load, "today");
    int64_t on_ms, spare_mwh, grid_mwh, starts;
    number(today, "on_ms", &on_ms);
    number(today, "spare_mwh", &spare_mwh);
    number(today, "grid_mwh", &grid_mwh);
    number(today, "starts", &starts);
    if (on_ms == 0 && starts == 0) {
        print_line(page, PAGE_PLAIN, "today: ", "not run");
        return;
    }
    show_duration(&text, on_ms);
    text_add(&text, " on; ");
    show_energy(&text, spare_mwh);
    text_add(&text, " from spare, ");
    show_energy(&text, grid_mwh);
    text_add(&text, " from grid; %" PRId64 " start%s", starts, starts == 1 ? "" : "s");
    print_line(page, PAGE_PLAIN, "today: ", buffer);
}

/* Of a load that learns. */
static void print_heat(struct page *page, const cJSON *load)
{
    char buffer[FIGURE_MAX];
    struct text text = text_in(buffer, sizeof(buffer));
    const cJSON *heat = get(load, "heat");
    int64_t held_mwh, percent, worth_micro, days;
    if (!number(heat, "held_mwh", &held_mwh) || !number(heat, "held_percent", &percent))
        return;
    number(heat, "days_learnt", &days);
    text_add(&text, "about ");
    show_energy(&text, held_mwh);
    text_add(&text, ", %" PRId64 " %% of full; ", percent);
    if (number(heat, "worth_micro_per_kwh", &worth_micro)) {
        text_add(&text, "worth ");
        quantity_write(QUANTITY_PRICE_MICRO, worth_micro / 1000 * 1000, &text);
        text_add(&text, "; %" PRId64 " days learnt", days);
    } else {
        text_add(&text, "learning, %" PRId64 " day%s seen", days, days == 1 ? "" : "s");
    }
    print_line(page, PAGE_PLAIN, "stored: ", buffer);
}

/* What the meter shows against the order. */
static void print_stuck(struct page *page, const cJSON *load)
{
    if (is(load, "draw", "stuck"))
        print_line(page, PAGE_RED, "! ",
                   "ordered off, but the meter did not fall: possible contact that stays closed; "
                   "isolate before opening");
}

static void print_output(struct page *page, const cJSON *load)
{
    char buffer[FIGURE_MAX];
    struct text text = text_in(buffer, sizeof(buffer));
    const char *health = words(load, "output"), *detail = words(load, "output_detail");
    if (strcmp(health, "confirmed") == 0)
        return;
    bool pending = strcmp(health, "pending") == 0;
    text_add(&text, "%s%s%s%s", health, pending ? "" : ", may be on", *detail ? ": " : "", detail);
    print_line(page, pending ? PAGE_PLAIN : PAGE_RED, "output: ", buffer);
}

static void print_load(struct page *page, const cJSON *load, int32_t today)
{
    const cJSON *floor;
    page_end(page);
    print_name(page, load);
    print_line(page, PAGE_PLAIN, "", words(load, "reason"));
    print_hand(page, load);
    print_holiday(page, load, today);
    print_output(page, load);
    print_stuck(page, load);
    cJSON_ArrayForEach(floor, get(load, "floors")) print_floor(page, floor, today);
    print_heat(page, load);
    print_today(page, load);
}

/* ---- can it be believed -------------------------------------------------------------- */

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
    char buffer[FIGURE_MAX];
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
    page_to(page, INDENT + width + 20);
    page_colour(page, ok ? PAGE_PLAIN : PAGE_RED);
    page_put(page, words(meter, "outcome"));
    if (*words(meter, "detail")) {
        page_put(page, ": ");
        page_wrap(page, INDENT + width + 22, words(meter, "detail"));
    } else {
        page_end(page);
    }
    page_colour(page, PAGE_PLAIN);
}

static void print_meters(struct page *page, const cJSON *status)
{
    const cJSON *meters = get(status, "meters"), *meter;
    int width = name_columns(meters);
    page_end(page);
    page_put_coloured(page, PAGE_BOLD, "Meters");
    page_end(page);
    cJSON_ArrayForEach(meter, meters) print_meter(page, meter, width);
}

/* ---- how well the buses work ------------------------------------------------------------ */

static void add_count(struct text *text, const cJSON *unit, const char *key, const char *what)
{
    int64_t count;
    if (number(unit, key, &count) && count > 0)
        text_add(text, ", %lld %s", (long long)count, what);
}

/* A unit that has always answered is told in a few words; what went wrong is added. */
static void print_unit(struct page *page, const cJSON *bus, const cJSON *unit)
{
    char buffer[4 * FIGURE_MAX];
    struct text text = text_in(buffer, sizeof(buffer));
    int64_t address, asked, slowest_us;
    if (!number(unit, "unit", &address) || !number(unit, "asked", &asked) || asked == 0)
        return;
    text_add(&text, "%s unit %lld: %lld questions", words(bus, "name"), (long long)address,
             (long long)asked);
    if (number(unit, "answer_p99_us", &slowest_us) && slowest_us > 0)
        text_add(&text, ", 99 %% answered within %lld ms", (long long)(slowest_us + 999) / 1000);
    add_count(&text, unit, "timeouts", "without an answer");
    add_count(&text, unit, "corrupt", "corrupt");
    add_count(&text, unit, "exceptions", "refused");
    print_line(page, PAGE_PLAIN, "", buffer);
}

static void print_buses(struct page *page, const cJSON *status)
{
    const cJSON *bus, *unit, *buses = get(status, "buses");
    if (cJSON_GetArraySize(buses) == 0)
        return;
    page_end(page);
    page_put_coloured(page, PAGE_BOLD, "Buses");
    page_end(page);
    cJSON_ArrayForEach(bus, buses) cJSON_ArrayForEach(unit, get(bus, "units"))
        print_unit(page, bus, unit);
}

static void print_gateway(struct page *page, const cJSON *status)
{
    char buffer[4 * FIGURE_MAX];
    struct text text = text_in(buffer, sizeof(buffer));
    const cJSON *gateway = get(status, "gateway");
    int64_t connections, answered;
    if (!number(gateway, "connections", &connections) || !number(gateway, "answered", &answered))
        return;
    page_end(page);
    page_put_coloured(page, PAGE_BOLD, "Gateway");
    page_end(page);
    text_add(&text, "%lld connection%s, %lld answered at once", (long long)connections,
             connections == 1 ? "" : "s", (long long)answered);
    add_count(&text, gateway, "passed", "passed on to a meter");
    add_count(&text, gateway, "shared", "answered by an equal question");
    add_count(&text, gateway, "refused", "refused");
    add_count(&text, gateway, "turned_away", "connections turned away");
    add_count(&text, gateway, "dropped", "hung up on");
    print_line(page, PAGE_PLAIN, "", buffer);
}

static void print_counted(struct page *page, const cJSON *status)
{
    char buffer[FIGURE_MAX];
    struct text text = text_in(buffer, sizeof(buffer));
    int64_t import_mwh, export_mwh, gap_ms;
    if (!number(status, "import_mwh", &import_mwh) || !number(status, "export_mwh", &export_mwh))
        return;
    number(status, "gap_ms", &gap_ms);
    show_energy(&text, import_mwh);
    text_add(&text, " imported, ");
    show_energy(&text, export_mwh);
    text_add(&text, " exported in all");
    if (gap_ms >= MS_PER_S) {
        text_add(&text, "; ");
        show_duration(&text, gap_ms);
        text_add(&text, " without a reading");
    }
    print_line(page, PAGE_PLAIN, "", buffer);
}

static void add_edge(struct text *text, const char *name, const char *state, const char *trouble)
{
    text_add(text, "%s%s%s%s", text->used ? "; " : "", name, *trouble ? ": " : " ",
             *trouble ? trouble : state);
}

static void print_edges(struct page *page, const cJSON *status)
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
    print_line(page, PAGE_PLAIN, "", buffer);
}

static void print_troubles(struct page *page, const cJSON *status)
{
    const cJSON *trouble, *troubles = get(status, "troubles");
    if (cJSON_GetArraySize(troubles) == 0)
        return;
    page_end(page);
    page_put_coloured(page, PAGE_RED, "Troubles");
    page_end(page);
    cJSON_ArrayForEach(trouble, troubles)
        print_line(page, PAGE_RED, "! ", cJSON_IsString(trouble) ? trouble->valuestring : "?");
}

void screen_print(const cJSON *status, bool colour)
{
    struct page page = {.colour = colour};
    const cJSON *load, *loads = get(status, "loads");
    print_heading(&page, status);
    print_house(&page, status);
    print_orders_to_all(&page, status);
    cJSON_ArrayForEach(load, loads) print_load(&page, load, today_of(status));
    print_meters(&page, status);
    print_buses(&page, status);
    print_gateway(&page, status);
    print_counted(&page, status);
    print_edges(&page, status);
    print_troubles(&page, status);
    page_end(&page);
    page_put_coloured(&page, PAGE_DIM,
                      "Off is not isolation: isolate all supplies and prove dead before opening.");
    page_end(&page);
}
