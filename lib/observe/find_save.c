/* find_save.c - how the findings survive a restart.
 *
 * Rows of core/kept.h, as the engine's memory. A moment is written in both its
 * times; what cannot be aged (the clock cannot tell how long nothing was
 * recorded) is taken as if it had just been. */
#include "observe/findings.h"

#include <stdio.h>

#include "core/kept.h"
#include "terms/floor.h"

enum {
    VERSION = 2,
    MOST_W = 1000000,
    MOST_MN = 20000,
    MOST_COUNT = UINT16_MAX,
    PREFIX_MAX = 24,
    TEN_YEARS_DAYS = 3653,
};

#define YEARS_MS (TEN_YEARS_DAYS * (int64_t)MS_PER_DAY)
#define LATEST_WALL_MS (200 * 365 * (int64_t)MS_PER_DAY)
#define MOST_MJ (MOST_W * YEARS_MS)
#define MOST_NUMBER (INT64_MAX / 4)

/* Anything but an age may be NEVER: then it is not written. */
#define MOMENT_ROWS(type, field, key)                                                              \
    KEPT_ROW(type, field.mono, key "_ago_ms", AGE, 0, YEARS_MS, BEGINS),                           \
        KEPT_ROW(type, field.wall, key "_wall_ms", NUMBER, 0, LATEST_WALL_MS, BEGINS),             \
        KEPT_ROW(type, field.wall_trusted, key "_trusted", NUMBER, 0, 1, BEGINS)

#define SUSPICION_ROW(field, ...) KEPT_ROW(struct suspicion, field, __VA_ARGS__)
static const struct kept_row suspicion_rows[] = {
    SUSPICION_ROW(sum_mn, "sum_mn", NUMBER, -MOST_MN, MOST_MN, BEGINS),
    SUSPICION_ROW(seen, "seen", NUMBER, 0, MOST_COUNT, BEGINS),
    SUSPICION_ROW(stands, "stands", NUMBER, 0, 1, BEGINS),
    MOMENT_ROWS(struct suspicion, since, "since"),
    SUSPICION_ROW(number[0], "n0", NUMBER, -MOST_NUMBER, MOST_NUMBER, BEGINS),
    SUSPICION_ROW(number[1], "n1", NUMBER, -MOST_NUMBER, MOST_NUMBER, BEGINS),
    SUSPICION_ROW(number[2], "n2", NUMBER, -MOST_NUMBER, MOST_NUMBER, BEGINS),
    SUSPICION_ROW(number[3], "n3", NUMBER, -MOST_NUMBER, MOST_NUMBER, BEGINS),
};

#define LOAD_ROW(field, ...) KEPT_ROW(struct findings_load_memory, field, __VA_ARGS__)
static const struct kept_row load_rows[] = {
    LOAD_ROW(closed, "closed", NUMBER, 0, 1, BEGINS),
    LOAD_ROW(flat, "flat", NUMBER, 0, 1, BEGINS),
    LOAD_ROW(doubted, "doubted", NUMBER, 0, 1, BEGINS),
    LOAD_ROW(unclear, "unclear", NUMBER, 0, 1, BEGINS),
    LOAD_ROW(tried_bits, "tried_bits", NUMBER, 0, (1 << SURVIVAL_SPELLS) - 1, BEGINS),
    LOAD_ROW(foreign_runs, "foreign_runs", NUMBER, 0, MOST_COUNT, BEGINS),
    LOAD_ROW(idle_starts, "idle_starts", NUMBER, 0, MOST_COUNT, BEGINS),
    LOAD_ROW(foreign_mj, "foreign_mj", NUMBER, 0, MOST_MJ, BEGINS),
    LOAD_ROW(shown_mj, "shown_mj", NUMBER, 0, MOST_MJ, BEGINS),
    LOAD_ROW(opening_mj, "opening_mj", NUMBER, 0, MOST_MJ, BEGINS),
    LOAD_ROW(excess_mn, "excess_mn", NUMBER, 0, MOST_MN, BEGINS),
    LOAD_ROW(closed_part, "closed_part", NUMBER, 0, 1000 * (int64_t)SURVIVAL_WHOLE, BEGINS),
    LOAD_ROW(open_part, "open_part", NUMBER, 0, SURVIVAL_WHOLE, BEGINS),
    LOAD_ROW(full_w, "full_w", NUMBER, 1, MOST_W, BEGINS),
    LOAD_ROW(full_count, "full_count", NUMBER, 0, MOST_COUNT, BEGINS),
    LOAD_ROW(first_mohm, "first_mohm", NUMBER, 0, INT32_MAX, BEGINS),
    LOAD_ROW(first_count, "first_count", NUMBER, 0, MOST_COUNT, BEGINS),
    LOAD_ROW(recent_mohm, "recent_mohm", NUMBER, 0, INT32_MAX, BEGINS),
    LOAD_ROW(spread_mohm, "spread_mohm", NUMBER, 0, INT32_MAX, BEGINS),
    LOAD_ROW(recent_count, "recent_count", NUMBER, 0, MOST_COUNT, BEGINS),
    LOAD_ROW(past_contact, "past_contact", NUMBER, 0, 1, BEGINS),
    LOAD_ROW(at_risk_measure, "at_risk_measure", NUMBER, 0, FLOOR_ENERGY, BEGINS),
    LOAD_ROW(lost_phase, "lost_phase", NUMBER, 0, PHASES, BEGINS),
    LOAD_ROW(needs_w, "needs_w", NUMBER, 0, MOST_W, BEGINS),
    LOAD_ROW(spread_w, "spread_w", NUMBER, 0, MOST_W, BEGINS),
    LOAD_ROW(openings, "openings", NUMBER, 0, MOST_COUNT, BEGINS),
    LOAD_ROW(quiet_w, "quiet_w", NUMBER, -1, MOST_W, BEGINS),
    LOAD_ROW(usual_quiet_w, "usual_quiet_w", NUMBER, -1, MOST_W, BEGINS),
    LOAD_ROW(quiet_ms, "quiet_ms", NUMBER, 0, YEARS_MS, BEGINS),
    MOMENT_ROWS(struct findings_load_memory, week_began, "week_began"),
    MOMENT_ROWS(struct findings_load_memory, first_at, "first"),
    MOMENT_ROWS(struct findings_load_memory, last_try, "last_try"),
    LOAD_ROW(last_heated_mj, "last_heated_mj", NUMBER, 0, MOST_MJ, BEGINS),
    LOAD_ROW(last_since_ms, "last_since_ms", NUMBER, -1, YEARS_MS, BEGINS),
};

static const struct kept_row opened_rows[] = {
    MOMENT_ROWS(struct findings_load_memory, opened, "opened")};
static const struct kept_row drew_rows[] = {
    LOAD_ROW(drew, "drew_ago_ms", AGE, 0, YEARS_MS, BEGINS)};

#define SITE_ROW(field, ...) KEPT_ROW(struct findings_memory, field, __VA_ARGS__)
static const struct kept_row site_rows[] = {
    SITE_ROW(steps.watched_ms, "watched_ms", NUMBER, 1, YEARS_MS, BEGINS),
    SITE_ROW(steps.resolution_w, "resolution_w", NUMBER, 0, MOST_W, BEGINS),
    SITE_ROW(faded, "faded_ago_ms", AGE, 0, YEARS_MS, BEGINS),
    SITE_ROW(longest_ms, "longest_ms", NUMBER, 0, YEARS_MS, BEGINS),
    SITE_ROW(whole_day, "whole_day", NUMBER, 0, 1, BEGINS),
    SITE_ROW(light_days, "light_days", NUMBER, 0, MOST_COUNT, BEGINS),
    SITE_ROW(lit_at, "lit_ago_ms", AGE, 0, YEARS_MS, BEGINS),
    SITE_ROW(dark_ms, "dark_ms", NUMBER, 0, YEARS_MS, BEGINS),
};

/* Fields of an array, one a line. */
static const struct kept_row spell_rows[] = {
    KEPT_ROW(struct stat_survival, tried_milli[0], "tried", NUMBER, 0, INT32_MAX / 4, BEGINS),
    KEPT_ROW(struct stat_survival, open_milli[0], "open", NUMBER, 0, INT32_MAX / 4, BEGINS),
};
static const struct kept_row step_rows[] = {
    KEPT_ROW(struct stat_steps, seen_milli[0], "steps", NUMBER, 0, INT64_MAX / MOST_W / 8, BEGINS)};
static const struct kept_row slot_rows[] = {
    KEPT_ROW(struct findings_memory, light_permille[0], "light", NUMBER, 0, 1000, BEGINS)};

static const struct kept_rows of_suspicion = KEPT_ROWS(suspicion_rows),
                              of_load = KEPT_ROWS(load_rows), of_opened = KEPT_ROWS(opened_rows),
                              of_drew = KEPT_ROWS(drew_rows), of_site = KEPT_ROWS(site_rows),
                              of_spell = KEPT_ROWS(spell_rows), of_step = KEPT_ROWS(step_rows),
                              of_slot = KEPT_ROWS(slot_rows);

static const char *place_prefix(char prefix[static PREFIX_MAX], const char *of, unsigned place)
{
    snprintf(prefix, PREFIX_MAX, "%.12s%u.", of, place % 100);
    return prefix;
}

/* The field at `place` behind the row's own. */
static void *array_at(void *at, unsigned place, size_t size)
{
    return (char *)at + place * size;
}

/* ---- saving
 * --------------------------------------------------------------------------------
 */

static bool says_anything(const struct suspicion *suspicion)
{
    return suspicion->sum_mn != 0 || suspicion->seen > 0;
}

static void save_suspicions(const struct suspicion suspicion[], unsigned count, int64_t t,
                            struct text *text)
{
    char prefix[PREFIX_MAX];
    for (unsigned k = 0; k < count; k++)
        if (says_anything(&suspicion[k]))
            kept_write(&of_suspicion, place_prefix(prefix, "s", k), &suspicion[k], t, text);
}

void findings_load_save(const struct findings_memory *memory, uint16_t index, struct text *text)
{
    struct findings_load_memory load = memory->loads[index];
    int64_t t = memory->last.mono.ms;
    char prefix[PREFIX_MAX];
    text_add(text, "version=%d\n", VERSION);
    kept_write(&of_load, "", &load, t, text);
    if (load.opened.mono.ms != MONO_NEVER.ms)
        kept_write(&of_opened, "", &load, t, text);
    if (load.drew.ms != MONO_NEVER.ms)
        kept_write(&of_drew, "", &load, t, text);
    for (unsigned k = 0; k < SURVIVAL_SPELLS; k++)
        kept_write(&of_spell, place_prefix(prefix, "spell", k),
                   array_at(&load.survival, k, sizeof(int32_t)), t, text);
    save_suspicions(load.suspicion, OF_LOAD_COUNT, t, text);
    kept_seal(text);
}

void findings_site_save(const struct findings_memory *memory, struct text *text)
{
    struct findings_memory site = *memory;
    int64_t t = memory->last.mono.ms;
    char prefix[PREFIX_MAX];
    text_add(text, "version=%d\n", VERSION);
    kept_write(&of_site, "", &site, t, text);
    for (unsigned k = 0; k < STEP_SIZES; k++)
        kept_write(&of_step, place_prefix(prefix, "size", k),
                   array_at(&site.steps, k, sizeof(int64_t)), t, text);
    for (unsigned k = 0; k < FINDINGS_DAY_SLOTS; k++)
        kept_write(&of_slot, place_prefix(prefix, "slot", k), array_at(&site, k, sizeof(int16_t)),
                   t, text);
    save_suspicions(site.suspicion, OF_SITE_COUNT, t, text);
    kept_seal(text);
}

/* ---- restoring
 * -----------------------------------------------------------------------------
 */

static bool is_whole(const char *text)
{
    int64_t version;
    return kept_check(text) == KEPT_WHOLE && kept_value(text, "version", &version) &&
           version == VERSION;
}

static void read_suspicions(struct suspicion suspicion[], unsigned count, const char *text,
                            int64_t t, int64_t away_ms)
{
    char prefix[PREFIX_MAX];
    for (unsigned k = 0; k < count; k++)
        kept_read(&of_suspicion, place_prefix(prefix, "s", k), text, &suspicion[k], t, away_ms,
                  NULL);
}

bool findings_load_restore(struct findings_memory *memory, uint16_t index, const char *text,
                           struct moment now, int64_t away_ms)
{
    struct findings_load_memory *load = &memory->loads[index];
    int64_t t = now.mono.ms, away = away_ms > 0 ? away_ms : 0;
    char prefix[PREFIX_MAX];
    if (!is_whole(text))
        return false;
    kept_read(&of_load, "", text, load, t, away, NULL);
    kept_read(&of_opened, "", text, load, t, away, NULL);
    kept_read(&of_drew, "", text, load, t, away, NULL);
    for (unsigned k = 0; k < SURVIVAL_SPELLS; k++)
        kept_read(&of_spell, place_prefix(prefix, "spell", k), text,
                  array_at(&load->survival, k, sizeof(int32_t)), t, away, NULL);
    read_suspicions(load->suspicion, OF_LOAD_COUNT, text, t, away);
    return true;
}

bool findings_site_restore(struct findings_memory *memory, const char *text, struct moment now,
                           int64_t away_ms)
{
    int64_t t = now.mono.ms, away = away_ms > 0 ? away_ms : 0;
    char prefix[PREFIX_MAX];
    if (!is_whole(text))
        return false;
    kept_read(&of_site, "", text, memory, t, away, NULL);
    for (unsigned k = 0; k < STEP_SIZES; k++)
        kept_read(&of_step, place_prefix(prefix, "size", k), text,
                  array_at(&memory->steps, k, sizeof(int64_t)), t, away, NULL);
    for (unsigned k = 0; k < FINDINGS_DAY_SLOTS; k++)
        kept_read(&of_slot, place_prefix(prefix, "slot", k), text,
                  array_at(memory, k, sizeof(int16_t)), t, away, NULL);
    read_suspicions(memory->suspicion, OF_SITE_COUNT, text, t, away);
    return true;
}
