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
#include "faults.h"
#include "learn.h"
#include "on_fault.h"
#include "orders_copy.h"
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

void remember_boot_id(const struct clock *clock, char boot[static BOOT_ID_SIZE])
{
    snprintf(boot, BOOT_ID_SIZE, "granted");
    if (clock_is_granted(clock))
        return;
    FILE *file = fopen("/proc/sys/kernel/random/boot_id", "re");
    if (!file || !fgets(boot, BOOT_ID_SIZE, file))
        snprintf(boot, BOOT_ID_SIZE, "unknown");
    boot[strcspn(boot, "\n")] = '\0';
    if (file)
        fclose(file);
}

int64_t remember_away_ms(const struct common *common, const char *now_boot)
{
    struct wall wall;
    struct mono mono;
    char boot[BOOT_ID_SIZE];
    if (!ledger_last_save(common->ledger, &wall, &mono, boot))
        return -1;
    if (strcmp(boot, now_boot) == 0 && common->now.mono.ms >= mono.ms)
        return common->now.mono.ms - mono.ms;
    if (common->now.wall_trusted && wall.ms > 0 && common->now.wall.ms >= wall.ms)
        return common->now.wall.ms - wall.ms;
    return -1;
}

static bool tell_ledger(struct common *common)
{
    char text[LEDGER_EVENT_MAX];
    ledger_trouble(common->ledger, text);
    if (text[0])
        site_trouble(common, "ledger", "storage: %s", text);
    else
        site_solved(common, "ledger");
    return text[0] == '\0';
}

/* Nothing that was out of range is passed over in silence. */
static void tell_put_right(struct common *common, const char *subject, const struct text *told)
{
    if (told->used > 0)
        site_note(common, subject, "saved values out of range, reset: %s", told->at);
}

static enum note_state restore_load(struct engine *engine, struct common *common, const char *name,
                                    const struct rules_settings *rules, uint16_t index,
                                    int64_t away)
{
    char key[LEDGER_KEY_MAX], text[LEDGER_TEXT_MAX], wrong[TOLD_MAX];
    struct text told = text_in(wrong, sizeof(wrong));
    snprintf(key, sizeof(key), "load/%s", name);
    if (!ledger_note_read(common->ledger, key, text))
        return NOTE_NONE;
    bool whole = rules_load_restore(rules, &engine->memory, index, text, common->now, away,
                                    &engine->adopt[index], &told);
    if (!whole)
        site_note(common, name, "its saved state is damaged: its floors start over");
    tell_put_right(common, name, &told);
    return whole ? NOTE_WHOLE : NOTE_HARMED;
}

/* How long ago the note of a load that was gone was written; -1: no clock can tell. */
static int64_t gone_ms(const struct common *common, const char *text)
{
    int64_t saved_ms;
    if (!common->now.wall_trusted || !kept_value(text, "saved_wall_ms", &saved_ms) ||
        saved_ms <= 0 || saved_ms > common->now.wall.ms)
        return -1;
    return common->now.wall.ms - saved_ms;
}

void remember_again(struct engine *engine, struct common *common, const char *name,
                    const struct rules_settings *rules, uint16_t index)
{
    const struct load_memory begun = engine->loads[index];
    struct load_memory *load = &engine->loads[index];
    char key[LEDGER_KEY_MAX], text[LEDGER_TEXT_MAX];
    snprintf(key, sizeof(key), "load/%s", name);
    if (!ledger_note_read(common->ledger, key, text))
        return;
    int64_t gone = gone_ms(common, text);
    restore_load(engine, common, name, rules, index, gone);
    struct wall saved = {common->now.wall.ms - gone};
    if (gone < 0 || local_of_wall(&rules->zone, saved).day !=
                        local_of_wall(&rules->zone, common->now.wall).day) {
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

static void restore_grid(struct grid_energy *grid, struct common *common, int64_t away)
{
    char text[LEDGER_TEXT_MAX], wrong[TOLD_MAX];
    struct text told = text_in(wrong, sizeof(wrong));
    struct kept_grid kept = {.import_register_mwh = -1, .export_register_mwh = -1};
    *grid = (struct grid_energy){.integrated = true};
    if (!ledger_note_read(common->ledger, "grid", text))
        return;
    kept_read(&of_grid, "", text, &kept, 0, 0, &told);
    if (kept_check(text) == KEPT_DAMAGED) {
        kept.import_register_mwh = kept.export_register_mwh = -1; /* to be read anew */
        site_note(common, "grid", "its saved state is damaged: its totals may be wrong");
    }
    grid->import_mj = kept.import_mj;
    grid->export_mj = kept.export_mj;
    grid->gap_ms = kept.gap_ms;
    grid->import_register =
        grid_remembered(kept.import_register_mwh, kept.registers_age_ms, away, common->now.mono);
    grid->export_register =
        grid_remembered(kept.export_register_mwh, kept.registers_age_ms, away, common->now.mono);
    tell_put_right(common, "grid", &told);
}

/* A start that finds another meter than the last one takes its registers as they are. */
static void write_grid(const struct grid_energy *grid, struct mono now, struct text *out)
{
    const struct total *in = &grid->import_register, *ex = &grid->export_register;
    struct kept_grid kept = {
        .import_mj = grid->import_mj,
        .export_mj = grid->export_mj,
        .import_register_mwh = in->known && !grid->awaited ? in->mwh : -1,
        .export_register_mwh = ex->known && !grid->awaited ? ex->mwh : -1,
        .registers_age_ms = in->known ? mono_since_ms(now, in->at) : 0,
        .gap_ms = grid->gap_ms,
    };
    kept_write(&of_grid, "", &kept, 0, out);
    kept_seal(out);
}

static enum note_state restore_site(struct engine *engine, struct common *common)
{
    char text[LEDGER_TEXT_MAX], wrong[TOLD_MAX];
    struct text told = text_in(wrong, sizeof(wrong));
    if (!ledger_note_read(common->ledger, "site", text))
        return NOTE_NONE;
    bool whole = rules_site_restore(&engine->memory, text, &told);
    if (!whole)
        site_note(common, "site", "the saved state of the site is damaged");
    tell_put_right(common, "site", &told);
    return whole ? NOTE_WHOLE : NOTE_HARMED;
}

void remember_restore(struct kept *kept, struct engine *engine, struct inputs *inputs,
                      struct common *common, const char boot[static BOOT_ID_SIZE])
{
    int64_t away = remember_away_ms(common, boot);
    enum note_state of_site = restore_site(engine, common), of_load[SETTINGS_LOADS_MAX];
    for (uint16_t i = 0; i < common->settings->rules.load_count; i++)
        of_load[i] = restore_load(engine, common, common->settings->names[i].name,
                                  &common->settings->rules, i, away);
    orders_copy_restore(engine, common, of_site, of_load);
    bool whole_ledger = tell_ledger(common); /* before anything can end us */
    restore_grid(&inputs->grid, common, away);
    if (inputs->grid.integrated && away > 0)
        inputs->grid.gap_ms += away;
    kept->commit_due = mono_after(common->now.mono, COMMIT_RUNNING_MS);
    kept->history.since = common->now.mono;
    for (uint16_t i = 0; i < common->settings->rules.load_count; i++) {
        kept->history.loads[i] = engine->loads[i].total;
        kept->stored[i] =
            (struct stored_totals){whole_ledger || of_load[i] != NOTE_NONE, engine->loads[i].total};
    }
    kept->history.import_mj = inputs->grid.import_mj;
    kept->history.export_mj = inputs->grid.export_mj;
}

void remember_renumber(struct kept *kept, const struct engine *engine,
                       const struct settings *before, const struct settings *after)
{
    struct stored_totals stored[SETTINGS_LOADS_MAX];
    memcpy(stored, kept->stored, sizeof(stored));
    memset(kept->stored, 0, sizeof(kept->stored));
    for (uint16_t i = 0; i < after->rules.load_count; i++) {
        int was = settings_find_load(before, after->names[i].name);
        if (was >= 0)
            kept->stored[i] = stored[was];
    }
    kept->storing_commit = 0; /* its loads have the old numbers */
    for (uint16_t i = 0; i < SETTINGS_LOADS_MAX; i++)
        kept->history.loads[i] = engine->loads[i].total;
    kept->now_due = true; /* new loads too */
}

/* ---- saving ----------------------------------------------------------------------- */

static void count(struct ledger *ledger, const char *name, const char *what, int64_t value)
{
    char key[LEDGER_KEY_MAX];
    snprintf(key, sizeof(key), "%.40s/%s", name, what);
    ledger_counter(ledger, key, value);
}

static void save_load(const struct engine *engine, struct common *common, uint16_t index)
{
    char key[LEDGER_KEY_MAX], text[LEDGER_TEXT_MAX];
    const char *name = common->settings->names[index].name;
    const struct load_totals *total = &engine->loads[index].total;
    struct text out = text_in(text, sizeof(text));
    snprintf(key, sizeof(key), "load/%s", name);
    text_add(&out, "saved_wall_ms=%" PRId64 "\n",
             common->now.wall_trusted ? common->now.wall.ms : (int64_t)0);
    rules_load_save(&common->settings->rules, &engine->memory, index, &out);
    ledger_note(common->ledger, key, text);
    count(common->ledger, name, "spare_mwh", total->spare_mj / MJ_PER_MWH);
    count(common->ledger, name, "grid_mwh", total->grid_mj / MJ_PER_MWH);
    count(common->ledger, name, "assumed_mwh", total->assumed_mj / MJ_PER_MWH);
    count(common->ledger, name, "on_ms", total->on_ms);
    count(common->ledger, name, "draw_ms", total->draw_ms);
    count(common->ledger, name, "starts", total->starts);
}

static void save_site(const struct engine *engine, const struct grid_energy *grid,
                      struct common *common)
{
    char text[LEDGER_TEXT_MAX];
    struct text out = text_in(text, sizeof(text));
    rules_site_save(&engine->memory, &out);
    ledger_note(common->ledger, "site", text);
    out = text_in(text, sizeof(text));
    write_grid(grid, common->now.mono, &out);
    ledger_note(common->ledger, "grid", text);
    count(common->ledger, "grid", "import_mwh", grid->import_mj / MJ_PER_MWH);
    count(common->ledger, "grid", "export_mwh", grid->export_mj / MJ_PER_MWH);
    count(common->ledger, "grid", "gap_ms", grid->gap_ms);
}

static void begin_storing(struct kept *kept, const struct engine *engine,
                          const struct common *common)
{
    for (uint16_t i = 0; i < common->settings->rules.load_count; i++)
        kept->storing[i] = engine->loads[i].total;
    kept->storing_commit = ledger_posted(common->ledger);
}

static void see_what_is_stored(struct kept *kept, const struct common *common)
{
    if (kept->storing_commit == 0 || ledger_stored(common->ledger) < kept->storing_commit)
        return;
    for (uint16_t i = 0; i < common->settings->rules.load_count; i++)
        kept->stored[i] = (struct stored_totals){true, kept->storing[i]};
    kept->storing_commit = 0;
}

static void remember_now(struct kept *kept, const struct engine *engine,
                         const struct faults *faults, const struct on_fault *on_fault,
                         const struct inputs *inputs, struct common *common)
{
    bool running = false;
    for (uint16_t i = 0; i < common->settings->rules.load_count; i++) {
        save_load(engine, common, i);
        learn_save(kept, common, i);
        running |= engine->decisions[i].on;
    }
    save_site(engine, &inputs->grid, common);
    faults_save(faults, common);
    on_fault_save(on_fault, common);
    orders_copy_save(kept, engine, common);
    uint64_t posted = ledger_posted(common->ledger);
    ledger_commit(common->ledger, common->now);
    kept->now_due = ledger_posted(common->ledger) == posted; /* the writer was still busy */
    if (!kept->now_due)
        begin_storing(kept, engine, common);
    kept->commit_due = mono_after(common->now.mono, running ? COMMIT_RUNNING_MS : COMMIT_IDLE_MS);
}

static void write_history(struct interval *history, const struct engine *engine,
                          const struct grid_energy *grid, const struct common *common)
{
    int64_t interval_ms = mono_since_ms(common->now.mono, history->since);
    for (uint16_t i = 0; i < common->settings->rules.load_count; i++) {
        const struct load_totals *now = &engine->loads[i].total, *then = &history->loads[i];
        ledger_history(common->ledger, common->now, interval_ms, common->settings->names[i].name,
                       (now->spare_mj - then->spare_mj) / MJ_PER_MWH,
                       (now->grid_mj - then->grid_mj) / MJ_PER_MWH, now->on_ms - then->on_ms);
        history->loads[i] = *now;
    }
    ledger_history(common->ledger, common->now, interval_ms, "grid",
                   (grid->export_mj - history->export_mj) / MJ_PER_MWH,
                   (grid->import_mj - history->import_mj) / MJ_PER_MWH, 0);
    ledger_history(common->ledger, common->now, interval_ms, "spare",
                   history->spare_mj / MJ_PER_MWH, 0, 0);
    ledger_history(common->ledger, common->now, interval_ms, "solar",
                   history->solar_mj / MJ_PER_MWH, 0, 0);
    history->import_mj = grid->import_mj;
    history->export_mj = grid->export_mj;
    history->spare_mj = history->solar_mj = 0;
    history->since = common->now.mono;
}

/* Spare power as it would be if no load of ours ran: what there was to be used. */
void remember_book(struct kept *kept, const struct engine *engine, const struct inputs *inputs,
                   const struct common *common, int64_t dt_ms)
{
    int64_t spare_w = engine->outcome.spare_w;
    if (dt_ms <= 0 || engine->outcome.spare_w == INT32_MIN)
        return;
    for (uint16_t i = 0; i < common->settings->rules.load_count; i++)
        spare_w += rules_draw(&engine->memory, i)->draw_w;
    kept->history.spare_mj += spare_w > 0 ? spare_w * dt_ms : 0;
    if (inputs->reading.solar.quality == READING_FRESH)
        kept->history.solar_mj += (int64_t)inputs->reading.solar_power_w * dt_ms;
}

/* A start of a load brings the next commit within the minute that may be lost. */
static void hasten(struct kept *kept, const struct engine *engine, const struct common *common)
{
    struct mono soon = mono_after(common->now.mono, COMMIT_RUNNING_MS);
    for (uint16_t i = 0; i < common->settings->rules.load_count; i++)
        if (engine->decisions[i].on)
            kept->commit_due = mono_earlier(kept->commit_due, soon);
}

void remember_stop(struct kept *kept, const struct engine *engine, const struct faults *faults,
                   const struct on_fault *on_fault, const struct inputs *inputs,
                   struct common *common)
{
    if (common->now.mono.ms > kept->history.since.ms)
        write_history(&kept->history, engine, &inputs->grid, common);
    remember_now(kept, engine, faults, on_fault, inputs, common);
}

void remember_turn(struct kept *kept, const struct engine *engine, const struct faults *faults,
                   const struct on_fault *on_fault, const struct inputs *inputs,
                   struct common *common)
{
    hasten(kept, engine, common);
    see_what_is_stored(kept, common);
    if (mono_since_ms(common->now.mono, kept->history.since) >= HISTORY_MS)
        write_history(&kept->history, engine, &inputs->grid, common);
    if (kept->now_due || common->now.mono.ms >= kept->commit_due.ms) {
        remember_now(kept, engine, faults, on_fault, inputs, common);
        tell_ledger(common);
    }
}
