/* learn.c - what water heaters have learnt, over restarts and reloads.
 *
 * The memory of a load that learns is some 450 kB, so it is allocated where there is one,
 * at start and at a reload, never in a turn. In the ledger it is a note of what was
 * learnt, one of what is under way, and one for each past day, written once. Past days are
 * read from the newest on, as far as they can be: a day that is missing or damaged ends
 * what is known, and no more. */
#include "learn.h"

#include <stdlib.h>
#include <string.h>

#include "loop/log.h"
#include "troubles.h"

enum {
    NOTES_OF_LOAD = 5,
    NOTES_OF_SITE = 4
}; /* of one snapshot: here, in faults.c, on_fault.c, remember.c */
_Static_assert(NOTES_OF_LOAD *SETTINGS_LOADS_MAX + NOTES_OF_SITE <= LEDGER_NOTES_MAX,
               "a snapshot in which a day ends for every load has its place");

static bool wants(const struct load_settings *load)
{
    return load->start_permille == RULES_START_LEARNT && load->water.volume_ml > 0;
}

/* ---- the ledger's notes ------------------------------------------------------------ */

static void learnt_key(const char *name, char key[static LEDGER_KEY_MAX])
{
    snprintf(key, LEDGER_KEY_MAX, "heat/%s", name);
}

static void now_key(const char *name, char key[static LEDGER_KEY_MAX])
{
    snprintf(key, LEDGER_KEY_MAX, "heat/%s/now", name);
}

static void day_key(const char *name, uint8_t place, char key[static LEDGER_KEY_MAX])
{
    snprintf(key, LEDGER_KEY_MAX, "heat/%s/%u", name, place);
}

static void read_days(struct common *common, const char *name, struct heat_memory *heat)
{
    char key[LEDGER_KEY_MAX], text[LEDGER_TEXT_MAX];
    for (uint8_t ago = 0; ago < heat->days; ago++) {
        uint8_t place = (uint8_t)((heat->newest + HEAT_DAYS - ago) % HEAT_DAYS);
        day_key(name, place, key);
        if (ledger_note_read(common->ledger, key, text) && heat_restore_day(heat, place, text))
            continue;
        site_note(common, name, "of %u days that it had learnt from, %u can be read: it goes on",
                  heat->days, ago);
        heat->days = ago;
    }
}

static void read_back(struct common *common, const char *name, const struct heat_settings *water,
                      struct heat_memory *heat)
{
    char key[LEDGER_KEY_MAX], text[LEDGER_TEXT_MAX];
    learnt_key(name, key);
    if (!ledger_note_read(common->ledger, key, text))
        return; /* nothing was learnt so far */
    if (!heat_restore(heat, text)) {
        site_note(common, name, "what it had learnt cannot be read: it starts over");
        return;
    }
    read_days(common, name, heat);
    now_key(name, key);
    if (ledger_note_read(common->ledger, key, text) && !heat_restore_now(water, heat, text))
        site_note(common, name,
                  "what was under way cannot be read: the day and the store start over");
}

static void write_note(struct common *common, const char *key, const struct text *text)
{
    if (text->full)
        log_line(LOG_LEVEL_ERROR, "%s: too long to be stored", key);
    else if (text->used > 0)
        ledger_note(common->ledger, key, text->at);
}

void learn_save(struct kept *kept, struct common *common, uint16_t index)
{
    const struct heat_memory *heat = kept->heat[index];
    const char *name = common->settings->names[index].name;
    char key[LEDGER_KEY_MAX], buffer[LEDGER_TEXT_MAX];
    struct text text = text_in(buffer, sizeof(buffer));
    if (!heat)
        return;
    if (heat->days > 0 && kept->heat_saved[index] != heat->newest) {
        heat_save_day(heat, heat->newest, &text);
        day_key(name, heat->newest, key);
        write_note(common, key, &text);
        kept->heat_saved[index] = heat->newest;
    }
    text = text_in(buffer, sizeof(buffer));
    heat_save(heat, &text);
    learnt_key(name, key);
    write_note(common, key, &text);
    text = text_in(buffer, sizeof(buffer));
    heat_save_now(&common->settings->loads[index].water, heat, &text);
    now_key(name, key);
    write_note(common, key, &text);
}

/* ---- who learns ---------------------------------------------------------------------- */

static bool begin_load(struct kept *kept, struct engine *engine, struct common *common,
                       const struct settings *settings, uint16_t index)
{
    const struct load_settings *load = &settings->loads[index];
    struct heat_memory *heat = calloc(1, sizeof(*heat));
    if (!heat)
        return false;
    kept->heat[index] = heat;
    rules_learn(&settings->rules, &engine->memory, index, heat);
    read_back(common, settings->names[index].name, &load->water, heat);
    kept->heat_saved[index] = heat->newest;
    return true;
}

bool learn_begin(struct kept *kept, struct engine *engine, struct common *common)
{
    const struct settings *settings = common->settings;
    for (uint16_t i = 0; i < settings->rules.load_count; i++)
        if (wants(&settings->loads[i]) && !begin_load(kept, engine, common, settings, i))
            return false;
    return true;
}

/* The load's memory has come along under its new number, and its heat with it. */
static void go_on(struct kept *kept, struct engine *engine, const struct load_settings *before,
                  const struct load_settings *after, uint16_t index)
{
    kept->heat[index] = engine->loads[index].heat;
    heat_change(&before->water, &after->water, kept->heat[index]);
    engine->memory.heat_tick = (struct mono){0};
}

static void begin_late(struct kept *kept, struct engine *engine, struct common *common,
                       const struct settings *settings, uint16_t index)
{
    if (!begin_load(kept, engine, common, settings, index))
        site_note(common, settings->names[index].name, "out of memory: it learns nothing");
}

void learn_carry(struct kept *kept, struct engine *engine, struct common *common,
                 const struct settings *before, const struct settings *after)
{
    struct heat_memory *old[SETTINGS_LOADS_MAX];
    uint8_t saved[SETTINGS_LOADS_MAX];
    memcpy(old, kept->heat, sizeof(old));
    memcpy(saved, kept->heat_saved, sizeof(saved));
    memset(kept->heat, 0, sizeof(kept->heat));
    for (uint16_t j = 0; j < after->rules.load_count; j++) {
        const struct load_settings *load = &after->loads[j];
        int i = settings_find_load(before, after->names[j].name);
        if (i >= 0 && old[i] && wants(load)) {
            go_on(kept, engine, &before->loads[i], load, j);
            kept->heat_saved[j] = saved[i];
            old[i] = NULL;
            continue;
        }
        rules_learn_no_more(&after->rules, &engine->memory, j);
        if (wants(load))
            begin_late(kept, engine, common, after, j);
    }
    for (uint16_t i = 0; i < SETTINGS_LOADS_MAX; i++)
        free(old[i]);
}

void learn_end(struct kept *kept)
{
    for (uint16_t i = 0; i < SETTINGS_LOADS_MAX; i++)
        free(kept->heat[i]);
}
