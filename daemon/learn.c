/* learn.c - what water heaters have learnt, over restarts and reloads.
 *
 * The memory of a load that learns is some 60 kB, so it is allocated where there is one,
 * at start and at a reload, never in a turn. In the ledger each past day is a note of its
 * own that is written once; a damaged one makes the load begin anew. */
#include "learn.h"

#include <stdlib.h>
#include <string.h>

#include "loop/log.h"
#include "troubles.h"

enum { NAME_SHOWN = 40 };

static bool wants(const struct load_settings *load)
{
    return load->start_permille == RULES_START_LEARNT && load->water.volume_ml > 0;
}

static void day_key(const char *name, uint8_t place, char key[static LEDGER_KEY_MAX])
{
    snprintf(key, LEDGER_KEY_MAX, "heat/%.*s/%u", NAME_SHOWN, name, place);
}

static bool read_back(struct ledger *ledger, const char *name, struct heat_memory *heat)
{
    char key[LEDGER_KEY_MAX], text[LEDGER_TEXT_MAX];
    snprintf(key, sizeof(key), "heat/%.*s", NAME_SHOWN, name);
    if (!ledger_note_read(ledger, key, text))
        return true; /* nothing was learnt so far */
    if (!heat_restore(heat, text))
        return false;
    for (uint8_t ago = 0; ago < heat->days; ago++) {
        uint8_t place = (uint8_t)((heat->newest + HEAT_DAYS - ago) % HEAT_DAYS);
        day_key(name, place, key);
        if (!ledger_note_read(ledger, key, text) || !heat_restore_day(heat, place, text))
            return false;
    }
    return true;
}

static bool begin_load(struct site *site, const struct settings *settings, uint16_t index)
{
    const struct load_settings *load = &settings->loads[index];
    const char *name = settings->names[index].name;
    if (!wants(load))
        return true;
    struct heat_memory *heat = calloc(1, sizeof(*heat));
    if (!heat)
        return false;
    site->heat[index] = heat;
    rules_learn(&settings->rules, &site->memory, index, heat);
    if (!read_back(site->ledger, name, heat)) {
        heat_begin(&load->water, heat);
        site_note(site, name, "what it had learnt cannot be read: it begins anew");
    }
    site->heat_saved[index] = heat->newest;
    return true;
}

bool learn_begin(struct site *site)
{
    for (uint16_t i = 0; i < site->settings->rules.load_count; i++)
        if (!begin_load(site, site->settings, i))
            return false;
    return true;
}

static int find(const struct settings *settings, const char *name)
{
    for (uint16_t i = 0; i < settings->rules.load_count; i++)
        if (strcmp(settings->names[i].name, name) == 0)
            return i;
    return -1;
}

static bool is_same_store(const struct load_settings *a, const struct load_settings *b)
{
    return heat_full_mj(&a->water) == heat_full_mj(&b->water);
}

void learn_carry(struct site *site, const struct settings *before, const struct settings *after)
{
    struct heat_memory *old[SETTINGS_LOADS_MAX];
    memcpy(old, site->heat, sizeof(old));
    memset(site->heat, 0, sizeof(site->heat));
    site->memory.learns = false;
    site->memory.heat_tick = (struct mono){0};
    ledger_wait(site->ledger); /* else the writer has the file */
    for (uint16_t j = 0; j < after->rules.load_count; j++) {
        struct load_memory *memory = &site->loads[j];
        memory->heat = NULL;
        memory->ahead = memory->not_worth = memory->could_known = false;
        if (!begin_load(site, after, j))
            site_note(site, after->names[j].name, "out of memory: it learns nothing");
        int i = find(before, after->names[j].name);
        if (i < 0 || !old[i] || !site->heat[j] ||
            !is_same_store(&before->loads[i], &after->loads[j]))
            continue;
        *site->heat[j] = *old[i];
        site->heat_saved[j] = old[i]->newest;
    }
    for (uint16_t i = 0; i < SETTINGS_LOADS_MAX; i++)
        free(old[i]);
}

void learn_save(struct site *site, uint16_t index)
{
    const struct heat_memory *heat = site->heat[index];
    const char *name = site->settings->names[index].name;
    char key[LEDGER_KEY_MAX], text[LEDGER_TEXT_MAX];
    if (!heat || heat->days == 0 || site->heat_saved[index] == heat->newest)
        return;
    struct text out = text_in(text, sizeof(text));
    heat_save_day(heat, heat->newest, &out);
    day_key(name, heat->newest, key);
    ledger_note(site->ledger, key, text);
    out = text_in(text, sizeof(text));
    heat_save(heat, &out);
    snprintf(key, sizeof(key), "heat/%.*s", NAME_SHOWN, name);
    ledger_note(site->ledger, key, text);
    site->heat_saved[index] = heat->newest;
}

void learn_end(struct site *site)
{
    for (uint16_t i = 0; i < SETTINGS_LOADS_MAX; i++)
        free(site->heat[i]);
}
