/* remember.c - what goes into the ledger, and how it comes back.
 *
 * A snapshot is one transaction: each load's memory, the site's, and the counters.
 * It is taken within each minute while a load runs, each quarter of an hour otherwise,
 * and at once after an order or a switching: a crash undoes neither. */
#include "remember.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#include "core/kept.h"
#include "inputs.h"
#include "learn.h"
#include "loop/log.h"
#include "ordered.h"
#include "site.h"
#include "troubles.h"

enum {
    COMMIT_RUNNING_MS = 55 * MS_PER_S, /* a minute may be lost: five seconds for the disk */
    COMMIT_IDLE_MS = 15 * MS_PER_MIN,
    HISTORY_MS = 5 * MS_PER_MIN,
    MJ_PER_MWH = 3600,
    TOLD_MAX = 160,
};

#define GRID_LONGEST_GAP_MS (36525 * (int64_t)MS_PER_DAY)
#define GRID_MOST_MJ (1000000 * GRID_LONGEST_GAP_MS)

/* ---- restoring ------------------------------------------------------------------- */

void remember_boot_id(const struct site *site, char boot[static BOOT_ID_SIZE])
{
    snprintf(boot, BOOT_ID_SIZE, "granted");
    if (clock_is_granted(site->clock))
        return;
    FILE *file = fopen("/proc/sys/kernel/random/boot_id", "re");
    if (!file || !fgets(boot, BOOT_ID_SIZE, file))
        snprintf(boot, BOOT_ID_SIZE, "unknown");
    boot[strcspn(boot, "\n")] = '\0';
    if (file)
        fclose(file);
}

/* How long nothing was recorded; -1 where no clock can tell. */
static int64_t away_ms(struct site *site)
{
    struct wall wall;
    struct mono mono;
    char boot[BOOT_ID_SIZE], now_boot[BOOT_ID_SIZE];
    if (!ledger_last_save(site->common.ledger, &wall, &mono, boot))
        return -1;
    remember_boot_id(site, now_boot);
    if (strcmp(boot, now_boot) == 0 && site->common.now.mono.ms >= mono.ms)
        return site->common.now.mono.ms - mono.ms;
    if (site->common.now.wall_trusted && wall.ms > 0 && site->common.now.wall.ms >= wall.ms)
        return site->common.now.wall.ms - wall.ms;
    return -1;
}

static void tell_ledger(struct site *site)
{
    char text[LEDGER_EVENT_MAX];
    ledger_trouble(site->common.ledger, text);
    if (text[0])
        site_trouble(&site->common, "ledger", "storage: %s", text);
    else
        site_solved(&site->common, "ledger");
}

/* Nothing that was out of range is passed over in silence. */
static void tell_put_right(struct site *site, const char *subject, const struct text *told)
{
    if (told->used > 0)
        site_note(&site->common, subject, "saved values out of range, reset: %s", told->at);
}

static enum note_state restore_load(struct site *site, const char *name,
                                    const struct rules_settings *rules, uint16_t index,
                                    int64_t away)
{
    char key[LEDGER_KEY_MAX], text[LEDGER_TEXT_MAX], wrong[TOLD_MAX];
    struct text told = text_in(wrong, sizeof(wrong));
    snprintf(key, sizeof(key), "load/%s", name);
    if (!ledger_note_read(site->common.ledger, key, text))
        return NOTE_NONE;
    bool whole = rules_load_restore(rules, &site->engine.memory, index, text, site->common.now,
                                    away, &site->engine.adopt[index], &told);
    if (!whole)
        site_note(&site->common, name, "its saved state is damaged: its floors start over");
    tell_put_right(site, name, &told);
    return whole ? NOTE_WHOLE : NOTE_HARMED;
}

/* How long ago the note of a load that was gone was written; -1: no clock can tell. */
static int64_t gone_ms(const struct site *site, const char *text)
{
    int64_t saved_ms;
    if (!site->common.now.wall_trusted || !kept_value(text, "saved_wall_ms", &saved_ms) ||
        saved_ms <= 0 || saved_ms > site->common.now.wall.ms)
        return -1;
    return site->common.now.wall.ms - saved_ms;
}

void remember_again(struct site *site, const char *name, const struct rules_settings *rules,
                    uint16_t index)
{
    const struct load_memory begun = site->engine.loads[index];
    struct load_memory *load = &site->engine.loads[index];
    char key[LEDGER_KEY_MAX], text[LEDGER_TEXT_MAX];
    snprintf(key, sizeof(key), "load/%s", name);
    if (!ledger_note_read(site->common.ledger, key, text))
        return;
    int64_t gone = gone_ms(site, text);
    restore_load(site, name, rules, index, gone);
    struct wall saved = {site->common.now.wall.ms - gone};
    if (gone < 0 || local_of_wall(&rules->zone, saved).day !=
                        local_of_wall(&rules->zone, site->common.now.wall).day) {
        load->today = begun.today;
        load->on_today_ms = begun.on_today_ms;
    }
    if (gone < 0 || gone > MS_PER_DAY) /* it was not there to keep them */
        memcpy(load->floor, begun.floor, sizeof(load->floor));
}

/* The registers as they were last read, and how long before the note that was. */
struct kept_grid {
    int64_t import_mj, export_mj;
    int64_t import_register_mwh, export_register_mwh, registers_age_ms; /* -1: none */
    int64_t gap_ms;
};

#define GRID_ROW(field, least, greatest)                                                           \
    KEPT_ROW(struct kept_grid, field, #field, NUMBER, least, greatest, BEGINS)

/* A MW for a century, and what a register of a meter can hold. */
static const struct kept_row grid_rows[] = {
    GRID_ROW(import_mj, 0, GRID_MOST_MJ),
    GRID_ROW(export_mj, 0, GRID_MOST_MJ),
    GRID_ROW(import_register_mwh, -1, GRID_MOST_MJ),
    GRID_ROW(export_register_mwh, -1, GRID_MOST_MJ),
    GRID_ROW(registers_age_ms, 0, GRID_LONGEST_GAP_MS),
    GRID_ROW(gap_ms, 0, GRID_LONGEST_GAP_MS),
};
static const struct kept_rows of_grid = KEPT_ROWS(grid_rows);

static void restore_grid(struct site *site, int64_t away)
{
    char text[LEDGER_TEXT_MAX], wrong[TOLD_MAX];
    struct text told = text_in(wrong, sizeof(wrong));
    struct kept_grid kept = {.import_register_mwh = -1, .export_register_mwh = -1};
    struct grid_energy *grid = &site->inputs.grid;
    *grid = (struct grid_energy){.integrated = true};
    if (!ledger_note_read(site->common.ledger, "grid", text))
        return;
    kept_read(&of_grid, "", text, &kept, 0, 0, &told);
    if (kept_check(text) == KEPT_DAMAGED) {
        kept.import_register_mwh = kept.export_register_mwh = -1; /* to be read anew */
        site_note(&site->common, "grid", "its saved state is damaged: its totals may be wrong");
    }
    grid->import_mj = kept.import_mj;
    grid->export_mj = kept.export_mj;
    grid->gap_ms = kept.gap_ms;
    grid->import_register = grid_remembered(kept.import_register_mwh, kept.registers_age_ms, away,
                                            site->common.now.mono);
    grid->export_register = grid_remembered(kept.export_register_mwh, kept.registers_age_ms, away,
                                            site->common.now.mono);
    tell_put_right(site, "grid", &told);
}

static void write_grid(const struct site *site, struct text *out)
{
    const struct grid_energy *grid = &site->inputs.grid;
    const struct total *in = &grid->import_register, *ex = &grid->export_register;
    struct kept_grid kept = {
        .import_mj = grid->import_mj,
        .export_mj = grid->export_mj,
        .import_register_mwh = in->known ? in->mwh : -1,
        .export_register_mwh = ex->known ? ex->mwh : -1,
        .registers_age_ms = in->known ? mono_since_ms(site->common.now.mono, in->at) : 0,
        .gap_ms = grid->gap_ms,
    };
    kept_write(&of_grid, "", &kept, 0, out);
    kept_seal(out);
}

static enum note_state restore_site(struct site *site)
{
    char text[LEDGER_TEXT_MAX], wrong[TOLD_MAX];
    struct text told = text_in(wrong, sizeof(wrong));
    if (!ledger_note_read(site->common.ledger, "site", text))
        return NOTE_NONE;
    bool whole = rules_site_restore(&site->engine.memory, text, &told);
    if (!whole)
        site_note(&site->common, "site", "the saved state of the site is damaged");
    tell_put_right(site, "site", &told);
    return whole ? NOTE_WHOLE : NOTE_HARMED;
}

void remember_restore(struct site *site)
{
    int64_t away = away_ms(site);
    enum note_state of_site = restore_site(site), of_load[SETTINGS_LOADS_MAX];
    for (uint16_t i = 0; i < site->common.settings->rules.load_count; i++)
        of_load[i] = restore_load(site, site->common.settings->names[i].name,
                                  &site->common.settings->rules, i, away);
    ordered_restore(&site->engine, &site->common, of_site, of_load);
    tell_ledger(site); /* before anything can end us */
    restore_grid(site, away);
    if (site->inputs.grid.integrated && away > 0)
        site->inputs.grid.gap_ms += away;
    site->kept.commit_due = mono_after(site->common.now.mono, COMMIT_RUNNING_MS);
    site->kept.history.since = site->common.now.mono;
    for (uint16_t i = 0; i < site->common.settings->rules.load_count; i++)
        site->kept.history.loads[i] = site->engine.loads[i].total;
    site->kept.history.import_mj = site->inputs.grid.import_mj;
    site->kept.history.export_mj = site->inputs.grid.export_mj;
}

void remember_renumber(struct site *site)
{
    for (uint16_t i = 0; i < SETTINGS_LOADS_MAX; i++)
        site->kept.history.loads[i] = site->engine.loads[i].total;
    site->kept.now_due = true; /* new loads too */
}

/* ---- saving ----------------------------------------------------------------------- */

static void count(struct site *site, const char *name, const char *what, int64_t value)
{
    char key[LEDGER_KEY_MAX];
    snprintf(key, sizeof(key), "%.40s/%s", name, what);
    ledger_counter(site->common.ledger, key, value);
}

static void save_load(struct site *site, uint16_t index)
{
    char key[LEDGER_KEY_MAX], text[LEDGER_TEXT_MAX];
    const char *name = site->common.settings->names[index].name;
    const struct load_totals *total = &site->engine.loads[index].total;
    struct text out = text_in(text, sizeof(text));
    snprintf(key, sizeof(key), "load/%s", name);
    text_add(&out, "saved_wall_ms=%" PRId64 "\n",
             site->common.now.wall_trusted ? site->common.now.wall.ms : (int64_t)0);
    rules_load_save(&site->common.settings->rules, &site->engine.memory, index, &out);
    ledger_note(site->common.ledger, key, text);
    count(site, name, "spare_mwh", total->spare_mj / MJ_PER_MWH);
    count(site, name, "grid_mwh", total->grid_mj / MJ_PER_MWH);
    count(site, name, "assumed_mwh", total->assumed_mj / MJ_PER_MWH);
    count(site, name, "on_ms", total->on_ms);
    count(site, name, "draw_ms", total->draw_ms);
    count(site, name, "starts", total->starts);
}

static void save_site(struct site *site)
{
    char text[LEDGER_TEXT_MAX];
    const struct grid_energy *grid = &site->inputs.grid;
    struct text out = text_in(text, sizeof(text));
    rules_site_save(&site->engine.memory, &out);
    ledger_note(site->common.ledger, "site", text);
    out = text_in(text, sizeof(text));
    write_grid(site, &out);
    ledger_note(site->common.ledger, "grid", text);
    count(site, "grid", "import_mwh", grid->import_mj / MJ_PER_MWH);
    count(site, "grid", "export_mwh", grid->export_mj / MJ_PER_MWH);
    count(site, "grid", "gap_ms", grid->gap_ms);
}

static void remember_now(struct site *site)
{
    bool running = false;
    for (uint16_t i = 0; i < site->common.settings->rules.load_count; i++) {
        save_load(site, i);
        learn_save(&site->kept, &site->common, i);
        running |= site->engine.decisions[i].on;
    }
    save_site(site);
    ordered_save(&site->kept, &site->engine, &site->common);
    uint64_t posted = ledger_posted(site->common.ledger);
    ledger_commit(site->common.ledger, site->common.now);
    site->kept.now_due =
        ledger_posted(site->common.ledger) == posted; /* the writer was still busy */
    site->kept.commit_due =
        mono_after(site->common.now.mono, running ? COMMIT_RUNNING_MS : COMMIT_IDLE_MS);
}

static void write_history(struct site *site)
{
    struct interval *history = &site->kept.history;
    int64_t interval_ms = mono_since_ms(site->common.now.mono, history->since);
    for (uint16_t i = 0; i < site->common.settings->rules.load_count; i++) {
        const struct load_totals *now = &site->engine.loads[i].total, *then = &history->loads[i];
        ledger_history(site->common.ledger, site->common.now, interval_ms,
                       site->common.settings->names[i].name,
                       (now->spare_mj - then->spare_mj) / MJ_PER_MWH,
                       (now->grid_mj - then->grid_mj) / MJ_PER_MWH, now->on_ms - then->on_ms);
        history->loads[i] = *now;
    }
    ledger_history(site->common.ledger, site->common.now, interval_ms, "grid",
                   (site->inputs.grid.export_mj - history->export_mj) / MJ_PER_MWH,
                   (site->inputs.grid.import_mj - history->import_mj) / MJ_PER_MWH, 0);
    ledger_history(site->common.ledger, site->common.now, interval_ms, "spare",
                   history->spare_mj / MJ_PER_MWH, 0, 0);
    ledger_history(site->common.ledger, site->common.now, interval_ms, "solar",
                   history->solar_mj / MJ_PER_MWH, 0, 0);
    history->import_mj = site->inputs.grid.import_mj;
    history->export_mj = site->inputs.grid.export_mj;
    history->spare_mj = history->solar_mj = 0;
    history->since = site->common.now.mono;
}

/* Spare power as it would be if no load of ours ran: what there was to be used. */
void remember_book(struct site *site, int64_t dt_ms)
{
    int64_t spare_w = site->engine.outcome.spare_w;
    if (dt_ms <= 0 || site->engine.outcome.spare_w == INT32_MIN)
        return;
    for (uint16_t i = 0; i < site->common.settings->rules.load_count; i++)
        spare_w += rules_draw(&site->engine.memory, i)->draw_w;
    site->kept.history.spare_mj += spare_w > 0 ? spare_w * dt_ms : 0;
    if (site->inputs.reading.solar.quality == READING_FRESH)
        site->kept.history.solar_mj += (int64_t)site->inputs.reading.solar_power_w * dt_ms;
}

/* A start of a load brings the next commit within the minute that may be lost. */
static void hasten(struct site *site)
{
    struct mono soon = mono_after(site->common.now.mono, COMMIT_RUNNING_MS);
    for (uint16_t i = 0; i < site->common.settings->rules.load_count; i++)
        if (site->engine.decisions[i].on)
            site->kept.commit_due = mono_earlier(site->kept.commit_due, soon);
}

void remember_stop(struct site *site)
{
    if (site->common.now.mono.ms > site->kept.history.since.ms)
        write_history(site);
    remember_now(site);
}

void remember_turn(struct site *site)
{
    hasten(site);
    if (mono_since_ms(site->common.now.mono, site->kept.history.since) >= HISTORY_MS)
        write_history(site);
    if (site->kept.now_due || site->common.now.mono.ms >= site->kept.commit_due.ms) {
        remember_now(site);
        tell_ledger(site);
    }
}
