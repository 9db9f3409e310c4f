/* memory.c - how the engine's memory begins, and how it survives.
 *
 * What must survive is written as lines "key=value" from one table of rows, so that
 * an older or newer program takes what it knows and leaves the rest. Mono times
 * mean nothing after a restart: they are written as ages or as time left, and the
 * time that was lost is added where it must count (maxima, rests) and not where it
 * must not (floors). */
#include "turn.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

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

static void begin_load(const struct rules_settings *settings, struct rules_memory *memory,
                       uint16_t index, int64_t t)
{
    const struct load_settings *load = &settings->loads[index];
    int64_t steps = settings->restart_spread_ms / SPREAD_STEP_MS + 1;
    int64_t delay_ms = (int64_t)(mixed(memory->seed + index) % (uint64_t)steps) * SPREAD_STEP_MS;
    memory->loads[index] = (struct load_memory){
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
        begin_load(settings, memory, i, now.mono.ms);
}

void rules_adopt(const struct rules_settings *settings, struct rules_memory *memory, uint16_t load,
                 struct moment now)
{
    struct load_memory *adopted = &memory->loads[load];
    adopted->state = STATE_ON;
    adopted->health = OUTPUT_CONFIRMED;
    adopted->since = now.mono;
    adopted->raised = adopted->level_since = now.mono;
    adopted->stage = settings->loads[load].kind == LOAD_STAGED ? 1 : 0;
    adopted->level_w = load_start_w(&settings->loads[load], adopted);
    adopted->draw.view.state = DRAW_ASSUMED;
    adopted->draw.view.draw_w = load_expected_w(&settings->loads[load], adopted);
    adopted->draw.view.since = now.mono;
}

/* ---- rows ------------------------------------------------------------------- */

enum row_kind {
    ROW_NUMBER, /* as it is */
    ROW_AGE,    /* a mono in the past: written as how long ago */
    ROW_LEFT,   /* a mono to come: written as how long still, -1 for never */
};

struct row {
    const char *key;
    enum row_kind kind;
    size_t offset, size;
};

#define ROW(kind_, key_, type, field)                                                              \
    {                                                                                              \
        .key = (key_), .kind = (kind_), .offset = offsetof(type, field),                           \
        .size = sizeof(((type *)0)->field)                                                         \
    }
#define LOAD_ROW(kind_, key_, field) ROW(kind_, key_, struct load_memory, field)
#define FLOOR_ROW(key_, field) ROW(ROW_NUMBER, key_, struct floor_memory, field)

static const struct row load_rows[] = {
    LOAD_ROW(ROW_NUMBER, "hand", hand),
    LOAD_ROW(ROW_LEFT, "hand_left_ms", hand_until),
    LOAD_ROW(ROW_NUMBER, "hand_level_w", hand_level_w),
    LOAD_ROW(ROW_NUMBER, "inhibited", inhibited),
    LOAD_ROW(ROW_NUMBER, "disabled", disabled),
    LOAD_ROW(ROW_NUMBER, "satisfied", satisfied),
    LOAD_ROW(ROW_LEFT, "retry_left_ms", retry_at),
    LOAD_ROW(ROW_NUMBER, "on_today_ms", on_today_ms),
    LOAD_ROW(ROW_NUMBER, "total_spare_mj", total.spare_mj),
    LOAD_ROW(ROW_NUMBER, "total_grid_mj", total.grid_mj),
    LOAD_ROW(ROW_NUMBER, "total_on_ms", total.on_ms),
    LOAD_ROW(ROW_NUMBER, "total_draw_ms", total.draw_ms),
    LOAD_ROW(ROW_NUMBER, "total_starts", total.starts),
    LOAD_ROW(ROW_NUMBER, "today_spare_mj", today.spare_mj),
    LOAD_ROW(ROW_NUMBER, "today_grid_mj", today.grid_mj),
    LOAD_ROW(ROW_NUMBER, "today_on_ms", today.on_ms),
    LOAD_ROW(ROW_NUMBER, "today_draw_ms", today.draw_ms),
    LOAD_ROW(ROW_NUMBER, "today_starts", today.starts),
    LOAD_ROW(ROW_NUMBER, "power_w", draw.view.power_w),
    LOAD_ROW(ROW_NUMBER, "power_measured", draw.view.power_measured),
    LOAD_ROW(ROW_NUMBER, "has_opened", draw.view.has_opened),
    LOAD_ROW(ROW_NUMBER, "opened_wall_ms", draw.view.opened_at.wall.ms),
    LOAD_ROW(ROW_AGE, "opened_ago_ms", draw.view.opened_at.mono),
    LOAD_ROW(ROW_NUMBER, "has_drawn", draw.view.has_drawn),
    LOAD_ROW(ROW_AGE, "drawn_ago_ms", draw.view.drawn_at),
};

static const struct row floor_rows[] = {
    FLOOR_ROW("begun", begun),       FLOOR_ROW("met", met),
    FLOOR_ROW("elapsed", elapsed),   FLOOR_ROW("extended", extended),
    FLOOR_ROW("start_ms", start_ms), FLOOR_ROW("deadline_ms", deadline_ms),
    FLOOR_ROW("done", done),
};

enum {
    LOAD_ROWS = sizeof(load_rows) / sizeof(load_rows[0]),
    FLOOR_ROWS = sizeof(floor_rows) / sizeof(floor_rows[0])
};

static int64_t row_read(const struct row *row, const void *at)
{
    const char *field = (const char *)at + row->offset;
    int64_t wide = 0;
    int32_t narrow = 0;
    uint8_t byte = 0;
    if (row->size == sizeof(wide))
        return memcpy(&wide, field, sizeof(wide)), wide;
    if (row->size == sizeof(narrow))
        return memcpy(&narrow, field, sizeof(narrow)), narrow;
    return memcpy(&byte, field, sizeof(byte)), byte;
}

static void row_write(const struct row *row, void *at, int64_t value)
{
    char *field = (char *)at + row->offset;
    int32_t narrow = (int32_t)value;
    uint8_t byte = (uint8_t)value;
    if (row->size == sizeof(value))
        memcpy(field, &value, sizeof(value));
    else if (row->size == sizeof(narrow))
        memcpy(field, &narrow, sizeof(narrow));
    else
        memcpy(field, &byte, sizeof(byte));
}

static int64_t to_text(const struct row *row, const void *at, int64_t t)
{
    int64_t value = row_read(row, at);
    if (row->kind == ROW_AGE)
        return t - value;
    if (row->kind == ROW_LEFT)
        return value == MONO_NEVER.ms ? -1 : at_least_0(value - t);
    return value;
}

static int64_t from_text(const struct row *row, int64_t value, int64_t t, int64_t away_ms)
{
    if (row->kind == ROW_AGE)
        return t - value - at_least_0(away_ms);
    if (row->kind == ROW_LEFT)
        return value < 0 ? MONO_NEVER.ms : t + at_least_0(value - at_least_0(away_ms));
    return value;
}

/* Without a clock a period is kept in mono time, which another boot begins anew:
 * it is written as time past and time left. */
static void shift_floor(struct floor_memory *floor, int64_t by_ms)
{
    floor->start_ms += by_ms;
    floor->deadline_ms += by_ms;
}

void rules_load_save(const struct rules_settings *settings, const struct rules_memory *memory,
                     uint16_t index, struct text *text)
{
    const struct load_memory *load = &memory->loads[index];
    int64_t t = memory->last.mono.ms;
    text_add(text, "on=%d\n", load_is_on(load));
    for (int k = 0; k < LOAD_ROWS; k++)
        text_add(text, "%s=%" PRId64 "\n", load_rows[k].key, to_text(&load_rows[k], load, t));
    for (uint8_t f = 0; f < settings->loads[index].floor_count; f++) {
        struct floor_memory floor = load->floor[f];
        if (floor.elapsed)
            shift_floor(&floor, -t);
        text_add(text, "floor%u.measure=%u\n", f, settings->loads[index].floor[f].measure);
        for (int k = 0; k < FLOOR_ROWS; k++)
            text_add(text, "floor%u.%s=%" PRId64 "\n", f, floor_rows[k].key,
                     to_text(&floor_rows[k], &floor, t));
    }
}

void rules_site_save(const struct rules_memory *memory, struct text *text)
{
    text_add(text, "today=%" PRId64 "\n", memory->trusted ? memory->today : RULES_NO_DAY);
    text_add(text, "holiday_back_ms=%" PRId64 "\n", memory->holiday_back.ms);
    text_add(text, "all_inhibited=%d\n", memory->all_inhibited);
    text_add(text, "probes_today=%u\n", memory->probes_today);
}

/* ---- restoring -------------------------------------------------------------- */

/* The value of `key` among the lines; false where there is none. */
static bool line_value(const char *text, const char *key, int64_t *value)
{
    size_t length = strlen(key);
    for (const char *line = text; line && *line;) {
        if (strncmp(line, key, length) == 0 && line[length] == '=') {
            char *end;
            *value = strtoll(line + length + 1, &end, 10);
            return end != line + length + 1;
        }
        line = strchr(line, '\n');
        if (line)
            line++;
    }
    return false;
}

static void restore_rows(const struct row rows[], int count, void *at, const char *prefix,
                         const char *text, int64_t t, int64_t away_ms)
{
    for (int k = 0; k < count; k++) {
        char key[64];
        int64_t value;
        snprintf(key, sizeof(key), "%s%s", prefix, rows[k].key);
        if (line_value(text, key, &value))
            row_write(&rows[k], at, from_text(&rows[k], value, t, away_ms));
    }
}

static void restore_floor(const struct load_settings *load, struct load_memory *memory, uint8_t f,
                          const char *text, int64_t t, int64_t away_ms)
{
    char prefix[16], key[32];
    int64_t measure = -1;
    snprintf(prefix, sizeof(prefix), "floor%u.", f);
    snprintf(key, sizeof(key), "floor%u.measure", f);
    if (!line_value(text, key, &measure) || measure != load->floor[f].measure)
        return; /* another floor than the one that was saved */
    restore_rows(floor_rows, FLOOR_ROWS, &memory->floor[f], prefix, text, t, 0);
    if (memory->floor[f].elapsed)
        shift_floor(&memory->floor[f], t - at_least_0(away_ms));
}

/* Without knowing how long nothing was recorded, nothing that ages may be
 * believed: a run by hand has ended, a tank may be cold. */
static void forget_what_ages(struct load_memory *memory)
{
    if (memory->hand == HAND_ON)
        memory->hand = HAND_AUTO;
    memory->satisfied = false;
    memory->draw.view.has_drawn = false;
}

void rules_load_restore(const struct rules_settings *settings, struct rules_memory *memory,
                        uint16_t index, const char *text, struct moment now, int64_t away_ms,
                        bool *was_on)
{
    const struct load_settings *load = &settings->loads[index];
    struct load_memory *restored = &memory->loads[index];
    int64_t t = now.mono.ms, on = 0;
    restore_rows(load_rows, LOAD_ROWS, restored, "", text, t, away_ms);
    for (uint8_t f = 0; f < load->floor_count; f++)
        restore_floor(load, restored, f, text, t, away_ms);
    if (restored->draw.view.power_w <= 0 || !restored->draw.view.power_measured)
        restored->draw.view.power_w = load->power_w;
    if (restored->hand > HAND_OFF)
        restored->hand = HAND_AUTO; /* a damaged note */
    if (away_ms < 0)
        forget_what_ages(restored);
    *was_on = line_value(text, "on", &on) && on != 0;
    if (*was_on && away_ms > 0)
        restored->on_today_ms += away_ms;
}

void rules_site_restore(struct rules_memory *memory, const char *text)
{
    int64_t value;
    if (line_value(text, "today", &value))
        memory->today = value;
    if (line_value(text, "holiday_back_ms", &value))
        memory->holiday_back.ms = value;
    if (line_value(text, "all_inhibited", &value))
        memory->all_inhibited = value != 0;
    if (line_value(text, "probes_today", &value))
        memory->probes_today = (uint16_t)value;
}
