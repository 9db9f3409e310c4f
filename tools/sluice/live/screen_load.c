/*  - a load's block of lines: its state and name, its reason, then only the lines
 * that say something. */
#include "screen_load.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#include "core/quantity.h"
#include "say.h"
#include "sluice/page/show.h"

enum { INDENT = 6, BAR_AT = 32, BAR_WIDTH = 20, FIGURE_MAX = 160 };

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
        show_power(text, power_w);
        text_add(text, " when on");
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
    if (!is(load, "title", words(load, "name")))
        text_add(&text, "%s(%s)", *words(load, "title") ? " " : "", words(load, "name"));
    page_put(page, buffer);
    text = text_in(buffer, sizeof(buffer));
    add_draw(&text, load);
    if (page->width < PAGE_WIDTH) {
        page_end(page);
        print_line(page, PAGE_PLAIN, "", buffer);
        return;
    }
    page_put_right(page, buffer);
    page_end(page);
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
        print_line(page, PAGE_BOLD, "manually: ", buffer);
    }
    if (yes(load, "inhibited"))
        print_line(page, PAGE_BOLD, "", "inhibited: kept off whatever else");
    if (cJSON_IsFalse(get(load, "enabled")))
        print_line(page, PAGE_BOLD, "", "disabled: runs only when ordered manually");
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
        say_time(&text, words(holiday, "heated_from"), today);
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

static void add_bar(struct text *text, int64_t share)
{
    char bar[BAR_WIDTH + 1] = "";
    memset(bar, '.', BAR_WIDTH);
    memset(bar, '#', (size_t)(share * BAR_WIDTH / 100));
    text_add(text, "[%s]", bar);
}

static void print_progress(struct page *page, const cJSON *floor, int64_t share, int32_t today)
{
    char buffer[FIGURE_MAX];
    struct text text = text_in(buffer, sizeof(buffer));
    bool due = yes(floor, "due"), met = yes(floor, "met"),
         unknown = cJSON_IsNull(get(floor, "met"));
    if (met) {
        text_add(&text, "kept");
    } else if (unknown) {
        text_add(&text, "not known if kept");
    } else {
        text_add(&text, "%" PRId64 " %%", share);
        if (due) {
            text_add(&text, ", now due");
        } else if (*words(floor, "latest_start")) {
            text_add(&text, ", start by ");
            say_time(&text, words(floor, "latest_start"), today);
        }
    }
    page_to(page, page->column + 2);
    page_colour(page, met ? PAGE_GREEN : due || unknown ? PAGE_BOLD : PAGE_PLAIN);
    page_wrap(page, INDENT + 2, buffer);
    page_colour(page, PAGE_PLAIN);
}

/* How it ended before: what a cold shower in the morning is about. */
static void print_last(struct page *page, const cJSON *floor, int32_t today)
{
    if (!*words(floor, "last_deadline"))
        return;
    char buffer[FIGURE_MAX];
    struct text text = text_in(buffer, sizeof(buffer));
    bool met = yes(floor, "last_met"), unknown = cJSON_IsNull(get(floor, "last_met"));
    text_add(&text, "by ");
    say_time(&text, words(floor, "last_deadline"), today);
    text_add(&text, ": %s", met ? "kept" : unknown ? "not known if kept" : "missed");
    if (!met && !unknown && !is(floor, "measure", "satisfied")) {
        int64_t amount, done;
        number(floor, "amount", &amount);
        number(floor, "last_done", &done);
        text_add(&text, ", ");
        add_amount(&text, floor, done);
        text_add(&text, " of ");
        add_amount(&text, floor, amount);
    }
    print_line(page, met ? PAGE_PLAIN : PAGE_BOLD, "  before, ", buffer);
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
        say_time(&text, words(floor, "deadline"), today);
    } else {
        text_add(&text, " in each 24 h");
    }
    page_to(page, INDENT);
    page_put(page, buffer);
    if (page->width == PAGE_WIDTH) {
        text = text_in(buffer, sizeof(buffer));
        add_bar(&text, share);
        page_to(page, BAR_AT);
        page_put(page, buffer);
    }
    print_progress(page, floor, share, today);
}

static void print_today(struct page *page, const cJSON *load)
{
    char buffer[FIGURE_MAX];
    struct text text = text_in(buffer, sizeof(buffer));
    say_group(&text, "loads.today", get(load, "today"));
    print_line(page, PAGE_PLAIN, "today: ", text.used ? buffer : "not run");
}

/* What can be said alone. */
static void print_others(struct page *page, const cJSON *load)
{
    char buffer[FIGURE_MAX];
    struct text text = text_in(buffer, sizeof(buffer));
    say_group(&text, "loads", load);
    if (text.used)
        print_line(page, PAGE_PLAIN, "", buffer);
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
    say_group(&text, "loads.heat", heat);
    print_line(page, PAGE_PLAIN, "stored: ", buffer);
}

static bool begins(const cJSON *finding, const char *kind)
{
    return strncmp(words(finding, "id"), kind, strlen(kind)) == 0;
}

/* What may be wrong with it; what is wrong with its output has a line of its own. */
static bool print_findings(struct page *page, const cJSON *load, const cJSON *findings)
{
    char buffer[4 * FIGURE_MAX];
    const cJSON *finding;
    bool stuck = false;
    cJSON_ArrayForEach(finding, findings)
    {
        struct text text = text_in(buffer, sizeof(buffer));
        int64_t percent;
        if (!is(finding, "load", words(load, "name")) || !yes(finding, "inferred"))
            continue;
        stuck |= begins(finding, "contact-stuck-");
        text_add(&text, "%s", words(finding, "text"));
        if (number(finding, "sure_percent", &percent))
            text_add(&text, " (%" PRId64 " %%)", percent);
        print_line(page, PAGE_RED, "! ", buffer);
    }
    return stuck;
}

/* What the meter shows against the order, until there is more behind it. */
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

void screen_print_load_short(struct page *page, const cJSON *load, int32_t today)
{
    const cJSON *floor;
    print_name(page, load);
    print_line(page, PAGE_PLAIN, "", words(load, "reason"));
    print_hand(page, load);
    cJSON_ArrayForEach(floor, get(load, "floors")) print_floor(page, floor, today);
}

void screen_print_load(struct page *page, const cJSON *load, const cJSON *findings, int32_t today)
{
    const cJSON *floor;
    page_end(page);
    print_name(page, load);
    print_line(page, PAGE_PLAIN, "", words(load, "reason"));
    print_hand(page, load);
    print_holiday(page, load, today);
    print_output(page, load);
    if (!print_findings(page, load, findings))
        print_stuck(page, load);
    cJSON_ArrayForEach(floor, get(load, "floors"))
    {
        print_floor(page, floor, today);
        print_last(page, floor, today);
    }
    print_heat(page, load);
    print_others(page, load);
    print_today(page, load);
}
