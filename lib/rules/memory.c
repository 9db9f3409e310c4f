/* memory.c - how the engine's memory begins, and how it survives.
 *
 * What survives is in the rows below: written as lines "key=value", read back, and bounded,
 * each by its row. Beside a load's memory stand the settings that it rests on. So there is one
 * way from what was remembered under some settings to what holds under others,
 * rules_load_migrate, and restart and reload both go it.
 * Mono times mean nothing after a restart: they are written as ages or as time left, and the
 * time that was lost is added where it must count (maxima, rests) and not where it
 * must not (floors).
 * A note that is not as it was written is known by its sum (core/kept.h). Its counts are
 * taken within their bounds; what could take heat away for long is not: floors begin anew, and
 * what people ordered must be known from elsewhere. */
#include "load.h"
#include "observe/observe.h"
#include "turn.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#include "core/kept.h"
#include "terms/order.h"

enum { SPREAD_STEP_MS = 500 };

/* SplitMix64: G. Steele, D. Lea, C. Flood, "Fast splittable pseudorandom number
 * generators", OOPSLA 2014. */
static uint64_t mixed(uint64_t z)
{
    z += 0x9e3779b97f4a7c15u;
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return z ^ (z >> 31);
}

static void begin_load(const struct rules_settings *settings, const struct rules_memory *memory,
                       struct load_memory *begun, uint16_t index, int64_t t)
{
    const struct load_settings *load = &settings->loads[index];
    int64_t steps = settings->restart_spread_ms / SPREAD_STEP_MS + 1;
    int64_t delay_ms = (int64_t)(mixed(memory->seed + index) % (uint64_t)steps) * SPREAD_STEP_MS;
    *begun = (struct load_memory){
        .state = STATE_OFF,
        .health = OUTPUT_UNKNOWN,
        .since = {t},
        .level_since = {t},
        .lowered = {t},
        .restart_at = {t + delay_ms},
        .enough_since = MONO_NEVER,
        .short_since = MONO_NEVER,
        .takeover_since = MONO_NEVER,
        .yields_to = LOAD_ALL,
        .denied = DENIED_ORDER,
        .start_permille = 1000,
        .draw = {.view = {.state = DRAW_NONE, .power_w = load->power_w, .since = {t}}},
    };
}

void rules_begin(const struct rules_settings *settings, struct rules_memory *memory,
                 struct load_memory loads[], struct moment now, uint64_t seed)
{
    *memory = (struct rules_memory){
        .last = now,
        .last_import_w = -1,
        .untrusted_since = now.mono,
        .today = RULES_NO_DAY,
        .last_start = {now.mono.ms - MS_PER_HOUR},
        .throttled_since = MONO_NEVER,
        .last_probe = MONO_NEVER,
        .takeover_load = LOAD_ALL,
        .seed = seed,
        .loads = loads,
    };
    for (uint16_t i = 0; i < settings->load_count; i++)
        begin_load(settings, memory, &loads[i], i, now.mono.ms);
}

void rules_adopt(const struct rules_settings *settings, struct rules_memory *memory, uint16_t load,
                 struct moment now)
{
    struct load_memory *adopted = &memory->loads[load];
    adopted->state = STATE_ON;
    adopted->health = OUTPUT_CONFIRMED;
    adopted->confirmed_once = true;
    adopted->since = now.mono;
    adopted->raised = adopted->level_since = now.mono;
    adopted->stage = kind_of(&settings->loads[load])->has_stages ? 1 : 0;
    adopted->level_w = load_start_w(&settings->loads[load], adopted);
    adopted->draw.view.state = DRAW_ASSUMED;
    adopted->draw.view.draw_w = load_expected_w(&settings->loads[load], adopted);
    adopted->draw.view.since = now.mono;
}

/* ---- rows ------------------------------------------------------------------- */

#define HUNDRED_YEARS_MS (36525 * (int64_t)MS_PER_DAY)
/* 100 kW for a hundred years, in mJ: two of them can be added */
#define MOST_MJ (100000 * HUNDRED_YEARS_MS)
#define LATEST_WALL_MS (2 * HUNDRED_YEARS_MS) /* the year 2170 */
#define LONGEST_DAY_MS (25 * (int64_t)MS_PER_HOUR)

enum {
    VERSION = 2,      /* 1: without sum, without the settings that the memory rests on */
    MOST_W = 1000000, /* of one load, as its settings may be */
    MOST_STARTS = 100000000,
    MOST_STARTS_A_DAY = 100000,
    MOST_DAYS = 80000, /* day numbers: the year 2189 */
};

#define LOAD_ROW(field, ...) KEPT_ROW(struct load_memory, field, __VA_ARGS__)

/* What people ordered. */
static const struct kept_row order_rows[] = {
    LOAD_ROW(hand, "hand", NUMBER, HAND_AUTO, HAND_OFF, BEGINS),
    LOAD_ROW(hand_until, "hand_left_ms", LEFT, -1, HUNDRED_YEARS_MS, BEGINS),
    LOAD_ROW(hand_level_w, "hand_level_w", NUMBER, 0, MOST_W, BEGINS),
    LOAD_ROW(inhibited, "inhibited", NUMBER, 0, 1, GREATEST),
    LOAD_ROW(disabled, "disabled", NUMBER, 0, 1, GREATEST),
};

static const struct kept_row load_rows[] = {
    LOAD_ROW(draw.satisfied, "satisfied", NUMBER, 0, 1, BEGINS),
    LOAD_ROW(draw.retry_at, "retry_left_ms", LEFT, 0, MS_PER_DAY, BEGINS),
    LOAD_ROW(on_today_ms, "on_today_ms", NUMBER, 0, LONGEST_DAY_MS, NEAREST),
    LOAD_ROW(total.spare_mj, "total_spare_mj", NUMBER, 0, MOST_MJ, BEGINS),
    LOAD_ROW(total.grid_mj, "total_grid_mj", NUMBER, 0, MOST_MJ, BEGINS),
    LOAD_ROW(total.assumed_mj, "total_assumed_mj", NUMBER, 0, 2 * MOST_MJ, BEGINS),
    LOAD_ROW(total.on_ms, "total_on_ms", NUMBER, 0, HUNDRED_YEARS_MS, BEGINS),
    LOAD_ROW(total.draw_ms, "total_draw_ms", NUMBER, 0, HUNDRED_YEARS_MS, BEGINS),
    LOAD_ROW(total.starts, "total_starts", NUMBER, 0, MOST_STARTS, BEGINS),
    LOAD_ROW(today.spare_mj, "today_spare_mj", NUMBER, 0, MOST_W *LONGEST_DAY_MS, BEGINS),
    LOAD_ROW(today.grid_mj, "today_grid_mj", NUMBER, 0, MOST_W *LONGEST_DAY_MS, BEGINS),
    LOAD_ROW(today.assumed_mj, "today_assumed_mj", NUMBER, 0, 2 * MOST_W * LONGEST_DAY_MS, BEGINS),
    LOAD_ROW(today.on_ms, "today_on_ms", NUMBER, 0, LONGEST_DAY_MS, NEAREST),
    LOAD_ROW(today.draw_ms, "today_draw_ms", NUMBER, 0, LONGEST_DAY_MS, NEAREST),
    LOAD_ROW(today.starts, "today_starts", NUMBER, 0, MOST_STARTS_A_DAY, BEGINS),
    LOAD_ROW(draw.view.power_w, "power_w", NUMBER, 1, MOST_W, BEGINS),
    LOAD_ROW(draw.view.power_measured, "power_measured", NUMBER, 0, 1, BEGINS),
    LOAD_ROW(draw.view.has_opened, "has_opened", NUMBER, 0, 1, BEGINS),
    LOAD_ROW(draw.view.opened_at.wall, "opened_wall_ms", NUMBER, 0, LATEST_WALL_MS, BEGINS),
    LOAD_ROW(draw.view.opened_at.mono, "opened_ago_ms", AGE, 0, HUNDRED_YEARS_MS, BEGINS),
    LOAD_ROW(draw.view.unsure, "unsure", NUMBER, 0, 1, BEGINS),
    LOAD_ROW(draw.view.supposed, "supposed", NUMBER, 0, 1, BEGINS),
    LOAD_ROW(draw.supposed_vague, "supposed_vague", NUMBER, 0, 1, BEGINS),
    LOAD_ROW(draw.supposed_at.wall, "supposed_wall_ms", NUMBER, 0, LATEST_WALL_MS, BEGINS),
    LOAD_ROW(draw.supposed_at.mono, "supposed_ago_ms", AGE, 0, HUNDRED_YEARS_MS, BEGINS),
    LOAD_ROW(draw.view.unexplained, "unexplained", NUMBER, 0, 1, BEGINS),
    LOAD_ROW(draw.heated_mj, "heated_mj", NUMBER, 0, MOST_MJ, BEGINS),
    LOAD_ROW(draw.guessed_mj, "guessed_mj", NUMBER, 0, MOST_MJ, BEGINS),
    LOAD_ROW(draw.needs_w, "needs_w", NUMBER, 0, MOST_W, BEGINS),
    LOAD_ROW(draw.view.off_shown, "off_shown", NUMBER, 0, 1, BEGINS),
};

/* Wall times; of an elapsed period, relative to when it was written. */
#define FLOOR_ROW(field, ...) KEPT_ROW(struct floor_memory, field, __VA_ARGS__)

static const struct kept_row floor_rows[] = {
    FLOOR_ROW(begun, "begun", NUMBER, 0, 1, BEGINS),
    FLOOR_ROW(met, "met", NUMBER, 0, 1, BEGINS),
    FLOOR_ROW(elapsed, "elapsed", NUMBER, 0, 1, BEGINS),
    FLOOR_ROW(extended, "extended", NUMBER, 0, 1, BEGINS),
    FLOOR_ROW(start_ms, "start_ms", NUMBER, -LATEST_WALL_MS, LATEST_WALL_MS, BEGINS),
    FLOOR_ROW(deadline_ms, "deadline_ms", NUMBER, -LATEST_WALL_MS, LATEST_WALL_MS, BEGINS),
    FLOOR_ROW(done, "done", NUMBER, 0, MOST_MJ, BEGINS),
    FLOOR_ROW(unproven, "unproven", NUMBER, 0, MOST_MJ, BEGINS),
    FLOOR_ROW(blind, "blind", NUMBER, 0, 1, BEGINS),
    FLOOR_ROW(left.known, "left", NUMBER, 0, 1, BEGINS),
    FLOOR_ROW(left.met, "left_met", NUMBER, 0, 1, BEGINS),
    FLOOR_ROW(left.start_ms, "left_start_ms", NUMBER, 0, LATEST_WALL_MS, BEGINS),
    FLOOR_ROW(left.deadline_ms, "left_deadline_ms", NUMBER, 0, LATEST_WALL_MS, BEGINS),
    FLOOR_ROW(left.done, "left_done", NUMBER, 0, MOST_MJ, BEGINS),
    FLOOR_ROW(left.unproven, "left_unproven", NUMBER, 0, MOST_MJ, BEGINS),
    FLOOR_ROW(left.blind, "left_blind", NUMBER, 0, 1, BEGINS),
};

/* The settings that a floor's memory rests on. */
#define TERMS_ROW(field, ...) KEPT_ROW(struct floor_settings, field, __VA_ARGS__)

static const struct kept_row terms_rows[] = {
    TERMS_ROW(measure, "measure", NUMBER, 0, FLOOR_SATISFIED, GREATEST),
    TERMS_ROW(weekdays, "weekdays", NUMBER, 0, WEEKDAYS_ALL, BEGINS),
    TERMS_ROW(every_days, "every_days", NUMBER, 0, 366, BEGINS),
    TERMS_ROW(by_s, "by_s", NUMBER, 0, 86400, BEGINS),
    TERMS_ROW(amount, "amount", NUMBER, 0, MOST_MJ, BEGINS),
};

static const struct kept_row start_rows[] = {
    KEPT_ROW(struct mono, ms, "ago_ms", AGE, 0, MS_PER_HOUR, BEGINS)};

#define SITE_ROW(field, ...) KEPT_ROW(struct rules_memory, field, __VA_ARGS__)

static const struct kept_row site_rows[] = {
    SITE_ROW(holiday_back, "holiday_back_ms", NUMBER, 0, LATEST_WALL_MS, BEGINS),
    SITE_ROW(all_inhibited, "all_inhibited", NUMBER, 0, 1, GREATEST),
    SITE_ROW(probes_today, "probes_today", NUMBER, 0, 1000, NEAREST),
};

static const struct kept_row day_rows[] = {
    SITE_ROW(today, "today", NUMBER, -MOST_DAYS, MOST_DAYS, BEGINS)};

static const struct kept_rows of_orders = KEPT_ROWS(order_rows), of_load = KEPT_ROWS(load_rows),
                              of_floor = KEPT_ROWS(floor_rows), of_terms = KEPT_ROWS(terms_rows),
                              of_start = KEPT_ROWS(start_rows), of_site = KEPT_ROWS(site_rows),
                              of_day = KEPT_ROWS(day_rows);

enum { PREFIX_MAX = 16 };

static const char *place_prefix(char prefix[static PREFIX_MAX], const char *of, unsigned place)
{
    snprintf(prefix, PREFIX_MAX, "%.8s%u.", of, place % 100);
    return prefix;
}

/* ---- saving ------------------------------------------------------------------ */

/* Without a clock a period is kept in mono time, which another boot begins anew:
 * it is written as time past and time left. */
static void shift_floor(struct floor_memory *floor, int64_t by_ms)
{
    floor->start_ms += by_ms;
    floor->deadline_ms += by_ms;
}

static void save_floor(const struct load_settings *settings, const struct load_memory *load,
                       uint8_t k, int64_t t, struct text *text)
{
    char prefix[PREFIX_MAX];
    struct floor_memory floor = load->floor[k];
    if (floor.elapsed)
        shift_floor(&floor, -t);
    place_prefix(prefix, "floor", k);
    kept_write(&of_terms, prefix, &settings->floor[k], t, text);
    kept_write(&of_floor, prefix, &floor, t, text);
}

static void save_starts(const struct load_memory *load, int64_t t, struct text *text)
{
    char prefix[PREFIX_MAX];
    unsigned place = 0;
    for (uint8_t k = 0; k < load->start_count; k++)
        if (t - load->start[k].ms < MS_PER_HOUR)
            kept_write(&of_start, place_prefix(prefix, "start", place++), &load->start[k], t, text);
}

void rules_load_save(const struct rules_settings *settings, const struct rules_memory *memory,
                     uint16_t index, struct text *text)
{
    const struct load_memory *load = &memory->loads[index];
    int64_t t = memory->last.mono.ms;
    text_add(text, "version=%d\non=%d\npower_of_plate_w=%" PRId32 "\n", VERSION, load_is_on(load),
             settings->loads[index].power_w);
    kept_write(&of_orders, "", load, t, text);
    kept_write(&of_load, "", load, t, text);
    save_starts(load, t, text);
    for (uint8_t k = 0; k < settings->loads[index].floor_count; k++)
        save_floor(&settings->loads[index], load, k, t, text);
    kept_seal(text);
}

void rules_site_save(const struct rules_memory *memory, struct text *text)
{
    text_add(text, "version=%d\n", VERSION);
    if (memory->trusted)
        kept_write(&of_day, "", memory, memory->last.mono.ms, text);
    kept_write(&of_site, "", memory, memory->last.mono.ms, text);
    kept_seal(text);
}

/* ---- from settings to settings ------------------------------------------------- */

static void tell(struct text *told, const char *what)
{
    if (told)
        text_add(told, "%s%s", told->used ? ", " : "", what);
}

/* The same periods, so that what was done in this one still counts. */
static bool same_periods(const struct floor_settings *a, const struct floor_settings *b)
{
    return a->measure == b->measure && a->weekdays == b->weekdays &&
           a->every_days == b->every_days && a->by_s == b->by_s;
}

/* Which floor of `before` is floor k of `after`: the one in its place, else the first of the
 * same periods that is no other's. -1: none. */
static int floor_before(const struct load_settings *before, const struct load_settings *after,
                        uint8_t k)
{
    const struct floor_settings *floor = &after->floor[k];
    if (k < before->floor_count && same_periods(&before->floor[k], floor))
        return k;
    for (uint8_t i = 0; i < before->floor_count; i++) {
        bool taken = i < after->floor_count && same_periods(&before->floor[i], &after->floor[i]);
        for (uint8_t j = 0; j < k; j++)
            taken |= same_periods(&after->floor[j], floor);
        if (!taken && same_periods(&before->floor[i], floor))
            return i;
    }
    return -1;
}

/* A period that these settings can have had. Whether its deadline is too far off now is for a
 * trusted clock to tell (section 6). */
static bool is_possible(const struct floor_settings *settings, const struct floor_memory *floor,
                        int64_t t)
{
    int64_t days = settings->every_days ? settings->every_days + 1 : 8;
    int64_t spell_ms = (settings->every_days ? settings->every_days : 1) * (int64_t)MS_PER_DAY;
    if (!floor->begun)
        return true;
    if (floor->deadline_ms <= floor->start_ms)
        return false;
    if (floor->elapsed)
        return floor->deadline_ms - floor->start_ms <= spell_ms &&
               floor->deadline_ms - t <= spell_ms;
    return floor->extended || floor->deadline_ms - floor->start_ms <= (days + 1) * MS_PER_DAY;
}

static void migrate_floors(const struct load_settings *before, const struct load_settings *after,
                           struct load_memory *memory, int64_t t, struct text *told)
{
    static const struct floor_memory begun;
    struct floor_memory was[RULES_FLOORS_MAX];
    char prefix[PREFIX_MAX];
    memcpy(was, memory->floor, sizeof(was));
    memset(memory->floor, 0, sizeof(memory->floor));
    for (uint8_t k = 0; k < after->floor_count; k++) {
        int from = floor_before(before, after, k);
        if (from < 0)
            continue;
        struct floor_memory *floor = &memory->floor[k];
        *floor = was[from];
        kept_bound(&of_floor, place_prefix(prefix, "floor", k), floor, &begun, t, told);
        if (!is_possible(&after->floor[k], floor, t)) {
            tell(told, "a floor's period");
            *floor = begun;
        }
        /* of a floor until satisfied the amount is only what to plan for */
        if (after->floor[k].amount > before->floor[from].amount &&
            after->floor[k].measure != FLOOR_SATISFIED)
            floor->met = false;
    }
}

static void migrate_levels(const struct load_settings *before, const struct load_settings *after,
                           struct load_memory *memory)
{
    if (memory->hand_level_w > after->power_w)
        memory->hand_level_w = after->power_w;
    if (!load_is_on(memory))
        return;
    if (before->kind == after->kind) {
        kind_of(after)->keep_level(after, memory);
        return;
    }
    memory->stage = kind_of(after)->has_stages ? 1 : 0;
    memory->level_w = load_start_w(after, memory);
}

/* An order of the engine's kinds, with an end where it needs one. */
static void migrate_orders(struct load_memory *memory, int64_t t, struct text *told)
{
    if (memory->hand != HAND_ON || memory->hand_until.ms - t <= ORDER_LONGEST_ON_MS)
        return;
    tell(told, "hand_left_ms");
    memory->hand = HAND_AUTO;
}

void rules_load_migrate(const struct rules_settings *settings, struct rules_memory *memory,
                        uint16_t index, const struct load_settings *before, struct moment now,
                        struct text *told)
{
    const struct load_settings *after = &settings->loads[index];
    struct load_memory *load = &memory->loads[index], begun;
    int64_t t = now.mono.ms;
    begin_load(settings, memory, &begun, index, t);
    kept_bound(&of_orders, "", load, &begun, t, told);
    kept_bound(&of_load, "", load, &begun, t, told);
    migrate_orders(load, t, told);
    struct draw_view *view = &load->draw.view;
    if (before->power_w != after->power_w || before->kind != after->kind)
        view->power_measured = false; /* another element */
    if (!view->power_measured)
        view->power_w = after->power_w;
    if (before->phases != after->phases)
        observe_forget(&load->draw); /* they were at other phases */
    load->draw.retry_at.ms = minimum_64(load->draw.retry_at.ms, t + after->retry_ms);
    migrate_levels(before, after, load);
    migrate_floors(before, after, load, t, told);
    load->yields_to = LOAD_ALL;
    load->takeover_since = MONO_NEVER;
    memory->unchecked = true;
}

/* ---- restoring -------------------------------------------------------------- */

/* The settings that the note's memory rests on, as far as it tells; the rest was as it is. */
static void read_terms(const char *text, struct load_settings *before)
{
    char prefix[PREFIX_MAX], key[32];
    int64_t value;
    uint8_t count = 0;
    for (; count < RULES_FLOORS_MAX; count++) {
        snprintf(key, sizeof(key), "floor%u.measure", count);
        if (!kept_value(text, key, &value))
            break;
        if (count >= before->floor_count)
            before->floor[count] = (struct floor_settings){.by_s = -1}; /* like none of now */
        kept_read(&of_terms, place_prefix(prefix, "floor", count), text, &before->floor[count], 0,
                  0, NULL);
    }
    before->floor_count = count;
    if (kept_value(text, "power_of_plate_w", &value) && value > 0 && value <= MOST_W)
        before->power_w = (int32_t)value;
}

static void read_floors(const struct load_settings *before, struct load_memory *memory,
                        const char *text, int64_t t, int64_t away_ms, struct text *told)
{
    char prefix[PREFIX_MAX];
    for (uint8_t k = 0; k < before->floor_count; k++) {
        struct floor_memory *floor = &memory->floor[k];
        kept_read(&of_floor, place_prefix(prefix, "floor", k), text, floor, t, 0, told);
        if (floor->elapsed)
            shift_floor(floor, t - away_ms);
    }
}

/* Whatever order they are written in, the ring's is by time. */
static void read_starts(struct load_memory *memory, const char *text, int64_t t, int64_t away_ms)
{
    char prefix[PREFIX_MAX];
    for (unsigned place = 0; place < RULES_STARTS_MAX; place++) {
        struct mono at = MONO_NEVER;
        kept_read(&of_start, place_prefix(prefix, "start", place), text, &at, t, away_ms, NULL);
        if (at.ms == MONO_NEVER.ms)
            continue;
        uint8_t k = memory->start_count++;
        for (; k > 0 && memory->start[k - 1].ms > at.ms; k--)
            memory->start[k] = memory->start[k - 1];
        memory->start[k] = at;
    }
}

/* Without knowing how long nothing was recorded, nothing that ages may be
 * believed: a manual run has ended, a tank may be cold. */
static void forget_what_ages(struct load_memory *memory)
{
    if (memory->hand == HAND_ON)
        memory->hand = HAND_AUTO;
    memory->draw.satisfied = memory->draw.view.supposed = false;
    memory->draw.view.off_shown = false;
}

static bool is_whole(const char *text)
{
    int64_t version = 1;
    enum kept_state state = kept_check(text);
    bool has_version = kept_value(text, "version", &version);
    return state == KEPT_WHOLE || (state == KEPT_UNSEALED && !has_version);
}

bool rules_load_restore(const struct rules_settings *settings, struct rules_memory *memory,
                        uint16_t index, const char *text, struct moment now, int64_t away_ms,
                        bool *was_on, struct text *told)
{
    struct load_memory *restored = &memory->loads[index];
    struct load_settings before = settings->loads[index];
    int64_t t = now.mono.ms, on = 0;
    int64_t lost_ms = minimum_64(at_least_0(away_ms), HUNDRED_YEARS_MS);
    bool whole = is_whole(text);
    read_terms(text, &before);
    kept_read(&of_load, "", text, restored, t, lost_ms, told);
    read_starts(restored, text, t, lost_ms);
    if (whole) {
        kept_read(&of_orders, "", text, restored, t, lost_ms, told);
        read_floors(&before, restored, text, t, lost_ms, told);
    } else {
        restored->draw.view.has_opened = restored->draw.view.supposed = false;
        restored->draw.satisfied = false;
    }
    if (away_ms < 0)
        forget_what_ages(restored);
    *was_on = whole && kept_value(text, "on", &on) && on == 1;
    if (*was_on) {
        restored->on_today_ms = minimum_64(restored->on_today_ms + lost_ms, LONGEST_DAY_MS);
        restored->draw.view.off_shown = false;
    }
    rules_load_migrate(settings, memory, index, &before, now, told);
    return whole;
}

bool rules_site_restore(struct rules_memory *memory, const char *text, struct text *told)
{
    bool whole = is_whole(text);
    bool inhibited = memory->all_inhibited;
    kept_read(&of_day, "", text, memory, 0, 0, NULL); /* RULES_NO_DAY where there was no clock */
    kept_read(&of_site, "", text, memory, 0, 0, told);
    if (!whole) {
        memory->holiday_back.ms = 0;
        memory->all_inhibited = inhibited;
    }
    memory->unchecked = true;
    return whole;
}

/* ---- the copy of people's orders ----------------------------------------------- */

void rules_orders_save(const struct rules_memory *memory, uint16_t index, const char *prefix,
                       struct mono now, struct text *text)
{
    const struct load_memory *load = &memory->loads[index];
    if (load->hand != HAND_AUTO || load->inhibited || load->disabled)
        kept_write(&of_orders, prefix, load, now.ms, text);
}

void rules_orders_restore(struct rules_memory *memory, uint16_t index, const char *prefix,
                          const char *text, struct mono now, int64_t away_ms)
{
    struct load_memory *load = &memory->loads[index];
    load->hand = HAND_AUTO;
    load->inhibited = load->disabled = false;
    kept_read(&of_orders, prefix, text, load, now.ms,
              minimum_64(at_least_0(away_ms), HUNDRED_YEARS_MS), NULL);
    if (away_ms < 0 && load->hand == HAND_ON)
        load->hand = HAND_AUTO;
    migrate_orders(load, now.ms, NULL);
}
