/* reload.c - new settings while everything runs: prepare, then commit.
 *
 * The new file is read and checked whole beside the old one; with any mistake in it,
 * or where it looks cut off beside the old one, nothing changes. Memory is kept by a load's name.
 * Buses and outputs whose settings are the same are kept as they are, so that no relay drops and no
 * poll is missed; an output that is wired as it was keeps what is known and wanted of it, also over
 * another bus; what must be closed is closed by a thread of its own, since a worker can only be
 * waited for. A load that is gone is brought to its fail state first. */
#include "reload.h"

#include <pthread.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "accepted.h"
#include "gateway.h"
#include "jobs.h"
#include "learn.h"
#include "loop/log.h"
#include "meters.h"
#include "publish.h"
#include "remember.h"
#include "settings_file.h"
#include "troubles.h"
#include "wiring.h"

enum { RETIRED_MS = MS_PER_MIN }; /* for the outputs of loads that are gone */

/* ---- closing without waiting ------------------------------------------------------------ */

struct discarded {
    struct bus *buses[SETTINGS_BUSES_MAX];
    struct mqtt *mqtt;
    atomic_bool *done;
};

static void *discard(void *context)
{
    struct discarded *discarded = context;
    for (int k = 0; k < SETTINGS_BUSES_MAX; k++)
        if (discarded->buses[k])
            bus_free(discarded->buses[k]);
    if (discarded->mqtt)
        mqtt_stop(discarded->mqtt);
    atomic_store(discarded->done, true);
    free(discarded);
    return NULL;
}

/* The end of the daemon waits for it: the old workers still post into the site's
 * mailboxes. */
static void discard_aside(struct site *site, const struct discarded *what)
{
    struct discarded *copy = malloc(sizeof(*copy));
    if (!copy)
        return; /* leaks what it holds, which still works */
    *copy = *what;
    copy->done = &site->closed;
    atomic_store(&site->closed, false);
    site->is_closing = pthread_create(&site->closing, NULL, discard, copy) == 0;
    if (!site->is_closing)
        discard(copy);
}

void reload_wait(struct site *site)
{
    if (site->is_closing)
        pthread_join(site->closing, NULL);
    site->is_closing = false;
}

/* ---- what has changed ---------------------------------------------------------------------- */

/* It measures the same, in the same words. */
static bool same_meter(const struct meter_settings *a, const struct meter_settings *b)
{
    return a->role == b->role && a->unit == b->unit && a->sunspec == b->sunspec &&
           strcmp(a->map_name, b->map_name) == 0 && memcmp(&a->map, &b->map, sizeof(a->map)) == 0;
}

/* Its bus need not be told anything new of it: how it backs off goes by freshness. */
static bool same_on_bus(const struct meter_settings *a, const struct meter_settings *b)
{
    return same_meter(a, b) && a->bus_index == b->bus_index &&
           reading_fresh_ms(a->every_ms) == reading_fresh_ms(b->every_ms);
}

static bool same_buses(const struct settings *a, const struct settings *b)
{
    if (a->bus_count != b->bus_count || a->meter_count != b->meter_count ||
        memcmp(a->buses, b->buses, sizeof(a->buses)) != 0)
        return false;
    for (uint8_t k = 0; k < a->meter_count; k++)
        if (!same_on_bus(&a->meters[k], &b->meters[k]))
            return false;
    return true;
}

static bool is_used(const struct settings *settings, const struct output_settings *output)
{
    for (uint16_t i = 0; i < settings->rules.load_count; i++)
        if (output_same_place(&settings->outputs[i], output))
            return true;
    return false;
}

/* The outputs may stay as they are: the same loads in the same order, wired alike. */
static bool same_outputs(const struct settings *a, const struct settings *b)
{
    uint16_t count = a->rules.load_count;
    if (count != b->rules.load_count ||
        memcmp(a->outputs, b->outputs, count * sizeof(a->outputs[0])) != 0)
        return false;
    for (uint16_t i = 0; i < count; i++)
        if (strcmp(a->names[i].name, b->names[i].name) != 0)
            return false;
    return true;
}

/* ---- commit -----------------------------------------------------------------------------------
 */

/* Loads that stay keep all they remember, by the one way from settings to settings; new ones
 * begin, or go on from when they were here before. */
static void carry_memory(struct site *site, const struct settings *before, struct settings *after)
{
    static struct load_memory kept[SETTINGS_LOADS_MAX]; /* too large for a stack */
    struct rules_memory site_memory = site->memory;
    memcpy(kept, site->loads, sizeof(kept));
    rules_begin(&after->rules, &site->memory, site->loads, site->now, site_memory.seed);
    site_memory.loads = site->loads;
    site_memory.calendar_from = site_memory.calendar_until = (struct wall){0};
    site_memory.takeover_load = LOAD_ALL;
    site->memory = site_memory;
    for (uint16_t j = 0; j < after->rules.load_count; j++) {
        int i = settings_find_load(before, after->names[j].name);
        if (i < 0) {
            remember_again(site, after->names[j].name, &after->rules, j);
            continue;
        }
        site->loads[j] = kept[i];
        rules_load_migrate(&after->rules, &site->memory, j, &before->loads[i], site->now, NULL);
    }
    for (uint16_t j = 0; j < SETTINGS_LOADS_MAX; j++) {
        site->confirmed[j] = (struct confirmation){0};
        site->told[j] = site->published[j] = REASON_NONE;
        site->adopt[j] = false;
        site->history.loads[j] = site->loads[j].total;
    }
}

/* Orders of this very turn, by the loads' new numbers. */
static void carry_orders(struct site *site, const struct settings *before,
                         const struct settings *after)
{
    uint16_t count = 0;
    for (uint16_t k = 0; k < site->command_count; k++) {
        struct command command = site->commands[k];
        int load = command.load == LOAD_ALL
                       ? LOAD_ALL
                       : settings_find_load(after, before->names[command.load].name);
        if (load < 0)
            continue;
        command.load = (uint16_t)load;
        site->commands[count++] = command;
    }
    site->command_count = count;
}

/* What is wired to nothing any more: no load that stays has its place. */
static void retire_outputs(struct site *site, const struct settings *after, bool buses_stay)
{
    const struct settings *before = site->settings;
    struct output_settings gone[SETTINGS_LOADS_MAX];
    uint16_t count = 0;
    struct trouble trouble;
    for (uint16_t i = 0; i < before->rules.load_count; i++) {
        if (!is_used(after, &before->outputs[i]))
            gone[count++] = before->outputs[i];
    }
    if (count == 0)
        return;
    struct output_doors doors = job_doors(site);
    struct outputs *retired = outputs_new(gone, count, JOB_RETIRED, &doors, &trouble);
    if (!retired)
        return;
    outputs_fail_state(retired, site->now.mono);
    outputs_turn(retired, site->now.mono);
    if (site->retired)
        outputs_free(site->retired);
    site->retired = retired;
    site->retired_until = mono_after(site->now.mono, RETIRED_MS);
    if (buses_stay)
        return;
    outputs_free(retired); /* its writes are queued; the old buses do them before they end */
    site->retired = NULL;
}

/* What was read before over another line is as old as it is, and no older: the new line may
 * take some seconds until it is there. */
static void keep_samples(struct site *site, const struct settings *before,
                         const struct meter_watch was[])
{
    const struct settings *after = site->settings;
    for (uint8_t j = 0; j < after->meter_count; j++)
        for (uint8_t i = 0; i < before->meter_count; i++)
            if (strcmp(before->meters[i].name, after->meters[j].name) == 0 &&
                same_meter(&before->meters[i], &after->meters[j]))
                meter_go_on(&site->meters[j], &was[i]);
}

static void replace_buses(struct site *site, const struct settings *before, struct discarded *old)
{
    struct trouble trouble;
    struct meter_watch was[SETTINGS_METERS_MAX];
    memcpy(was, site->meters, sizeof(was));
    memcpy(old->buses, site->buses, sizeof(old->buses));
    memset(site->buses, 0, sizeof(site->buses));
    memset(site->bus_under_way, 0, sizeof(site->bus_under_way));
    site->under_way = 0;
    site->generation = (site->generation + 1) & 0xf;
    if (!wiring_open_buses(site, &trouble)) {
        log_line(LOG_LEVEL_ERROR, "%s", trouble.text); /* out of threads: nothing else will do */
        site->stopping = true;
        return;
    }
    keep_samples(site, before, was);
}

/* The same load on the same wire; where the bus stands in the list does not matter. */
static bool same_output(const struct output_settings *a, const struct output_settings *b)
{
    struct output_settings moved = *b;
    moved.bus_index = a->bus_index;
    return memcmp(a, &moved, sizeof(moved)) == 0;
}

/* Nothing is switched by it: what is known and wanted of an output that is wired as it was goes
 * on, and a new one is asked for what it has. */
static void replace_outputs(struct site *site, const struct settings *before)
{
    struct trouble trouble;
    const struct settings *after = site->settings;
    struct outputs *old = site->outputs;
    if (!wiring_open_outputs(site, &trouble)) {
        log_line(LOG_LEVEL_ERROR, "%s", trouble.text); /* out of memory: nothing else will do */
        site->outputs = old;
        site->stopping = true;
        return;
    }
    for (uint16_t j = 0; j < after->rules.load_count; j++) {
        int i = settings_find_load(before, after->names[j].name);
        if (i >= 0 && same_output(&before->outputs[i], &after->outputs[j]))
            outputs_take_over(site->outputs, j, old, (uint16_t)i, site->now.mono);
    }
    outputs_free(old);
}

/* What was wrong with something that is no longer there is wrong no more. */
static void renew_troubles(struct site *site, const struct settings *before)
{
    char id[MQTT_ID_MAX];
    for (uint16_t i = 0; i < before->rules.load_count; i++) {
        site_trouble_id(id, "output", before->names[i].name);
        if (settings_find_load(site->settings, before->names[i].name) < 0)
            site_solved(site, id);
    }
    for (uint8_t k = 0; k < before->meter_count; k++) {
        site_trouble_id(id, "meter", before->meters[k].name);
        site_solved(site, id); /* told again if it still is so */
        site_trouble_id(id, "plausible", before->meters[k].name);
        site_solved(site, id);
        site_trouble_id(id, "refused", before->meters[k].name);
        site_solved(site, id);
        site->meters[k].told = BUS_OK;
    }
}

static void commit(struct site *site, struct settings *after)
{
    struct settings *before = site->settings;
    struct discarded old = {.mqtt = NULL};
    bool buses_stay = same_buses(before, after);
    bool outputs_stay = same_outputs(before, after);
    bool broker_stays = memcmp(&before->mqtt, &after->mqtt, sizeof(before->mqtt)) == 0;
    bool gateway_stays = buses_stay && gateway_is_same(before, after);
    remember_stop(site); /* history too: its totals are about to be numbered anew */
    retire_outputs(site, after, buses_stay);
    carry_memory(site, before, after);
    learn_carry(site, before, after);
    carry_orders(site, before, after);
    if (!gateway_stays)
        gateway_end(site);
    site->settings = after;
    if (!buses_stay)
        replace_buses(site, before, &old);
    if (!outputs_stay)
        replace_outputs(site, before);
    if (!buses_stay)
        outputs_rewired(site->outputs, site->now.mono);
    if (!gateway_stays)
        gateway_begin(site);
    if (broker_stays) {
        publish_describe(site);
    } else {
        old.mqtt = site->mqtt;
        site->mqtt = NULL;
        site_solved(site, SITE_TROUBLE_BROKER);
        publish_start(site);
    }
    publish_listen(site);
    renew_troubles(site, before);
    discard_aside(site, &old);
    settings_free(before);
    site->keep_now = true; /* new loads too */
}

static void refuse(struct site *site, const struct settings_troubles *troubles, struct text *answer)
{
    const struct trouble *first = &troubles->item[0];
    for (int k = 0; k < troubles->count; k++)
        log_line(LOG_LEVEL_ERROR, "%s: %s", troubles->item[k].place, troubles->item[k].text);
    site_trouble(site, "settings", "the settings were not changed: %s: %s%s", first->place,
                 first->text, troubles->count > 1 ? " (and more)" : "");
    text_add(answer, "nothing was changed; %d error%s: %s: %s", troubles->count,
             troubles->count == 1 ? "" : "s, the first", first->place, first->text);
}

static bool refuse_if_cut(struct site *site, const struct settings *after, struct text *answer)
{
    char why[TROUBLE_TEXT_MAX];
    struct text text = text_in(why, sizeof(why));
    if (!settings_look_cut(site->settings, after, &text))
        return false;
    site_trouble(site, "settings", "the settings were not changed: " SETTINGS_LOOK_CUT,
                 site->settings_path, why);
    text_add(answer, "nothing was changed; " SETTINGS_LOOK_CUT, site->settings_path, why);
    return true;
}

/* The settings that the file has, checked; NULL: refused, and it is told why. */
static struct settings *prepare(struct site *site, bool even_if_cut, struct text *answer)
{
    struct settings_troubles troubles = {0};
    const char *maps = site->maps_dir[0] ? site->maps_dir : NULL;
    struct settings *after = settings_file_read(site->settings_path, maps, &troubles);
    if (!after)
        refuse(site, &troubles, answer);
    settings_troubles_free(&troubles);
    if (after && !even_if_cut && refuse_if_cut(site, after, answer)) {
        settings_free(after);
        return NULL;
    }
    return after;
}

bool site_reload(struct site *site, bool even_if_cut, struct text *answer)
{
    if (site->is_closing && !atomic_load(&site->closed)) {
        text_add(answer, "the last change is still closing its buses: try again in a moment");
        return false;
    }
    reload_wait(site);
    struct settings *after = prepare(site, even_if_cut, answer);
    if (!after)
        return false;
    bool moved = strcmp(after->control_socket, site->settings->control_socket) != 0 ||
                 strcmp(after->ledger.path, site->settings->ledger.path) != 0;
    snprintf(after->control_socket, sizeof(after->control_socket), "%s",
             site->settings->control_socket);
    commit(site, after);
    site->accepted.in_force = false;
    accepted_keep(site);
    site_solved(site, "settings");
    settings_tell_secrets(site);
    site_note(site, "site", "the settings were read anew");
    text_add(answer, "the new settings are in force%s",
             moved ? "; another control socket or storage path takes a restart" : "");
    return true;
}
