/* reload.c - new settings while everything runs: prepare, then commit.
 *
 * The new file is read and checked whole beside the old one; with any mistake in it
 * nothing changes. Memory is kept by a load's name. Buses and outputs whose settings
 * are the same are kept as they are, so that no relay drops and no poll is missed;
 * what must be closed is closed by a thread of its own, since a worker can only be
 * waited for. A load that is gone is brought to its fail state first. */
#include "reload.h"

#include <pthread.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "jobs.h"
#include "loop/log.h"
#include "publish.h"
#include "remember.h"
#include "troubles.h"
#include "wiring.h"

/* ---- closing without waiting ------------------------------------------------------------ */

struct discarded {
    struct bus *buses[SETTINGS_BUSES_MAX];
    struct mqtt *mqtt;
};

static void *discard(void *context)
{
    struct discarded *discarded = context;
    for (int k = 0; k < SETTINGS_BUSES_MAX; k++)
        if (discarded->buses[k])
            bus_free(discarded->buses[k]);
    if (discarded->mqtt)
        mqtt_stop(discarded->mqtt);
    free(discarded);
    return NULL;
}

static void discard_aside(const struct discarded *what)
{
    struct discarded *copy = malloc(sizeof(*copy));
    pthread_t thread;
    if (!copy)
        return; /* leaks what it holds, which still works */
    *copy = *what;
    if (pthread_create(&thread, NULL, discard, copy) == 0)
        pthread_detach(thread);
    else
        discard(copy);
}

/* ---- what has changed ---------------------------------------------------------------------- */

static bool same_meter(const struct meter_settings *a, const struct meter_settings *b)
{
    return a->role == b->role && a->bus_index == b->bus_index && a->unit == b->unit &&
           a->sunspec == b->sunspec && strcmp(a->map_name, b->map_name) == 0 &&
           memcmp(&a->map, &b->map, sizeof(a->map)) == 0;
}

static bool same_buses(const struct settings *a, const struct settings *b)
{
    if (a->bus_count != b->bus_count || a->meter_count != b->meter_count ||
        memcmp(a->buses, b->buses, sizeof(a->buses)) != 0)
        return false;
    for (uint8_t k = 0; k < a->meter_count; k++)
        if (!same_meter(&a->meters[k], &b->meters[k]))
            return false;
    return true;
}

static int find_load(const struct settings *settings, const char *name)
{
    for (uint16_t i = 0; i < settings->rules.load_count; i++)
        if (strcmp(settings->names[i].name, name) == 0)
            return i;
    return -1;
}

static bool same_output(const struct settings *a, uint16_t i, const struct settings *b, uint16_t j)
{
    return memcmp(&a->outputs[i], &b->outputs[j], sizeof(a->outputs[i])) == 0;
}

/* ---- commit -----------------------------------------------------------------------------------
 */

/* The same periods, so that what was done in this one still counts. */
static bool same_periods(const struct floor_settings *a, const struct floor_settings *b)
{
    return a->measure == b->measure && a->weekdays == b->weekdays &&
           a->every_days == b->every_days && a->by_s == b->by_s;
}

static void carry_floors(const struct load_settings *before, const struct load_settings *after,
                         struct load_memory *memory)
{
    for (uint8_t k = 0; k < RULES_FLOORS_MAX; k++) {
        const struct floor_settings *old = &before->floor[k], *new = &after->floor[k];
        if (k >= before->floor_count || k >= after->floor_count || !same_periods(old, new))
            memory->floor[k] = (struct floor_memory){0};
        else if (new->amount > old->amount)
            memory->floor[k].met = false;
    }
}

/* Loads that stay keep all they remember; new ones begin, but for what they counted
 * when they were here before. */
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
        int i = find_load(before, after->names[j].name);
        if (i < 0) {
            remember_totals(site, after->names[j].name, &after->rules, j);
            continue;
        }
        site->loads[j] = kept[i];
        site->loads[j].yields_to = LOAD_ALL;
        site->loads[j].takeover_since = MONO_NEVER;
        carry_floors(&before->loads[i], &after->loads[j], &site->loads[j]);
        if (!site->loads[j].draw.view.power_measured)
            site->loads[j].draw.view.power_w = after->loads[j].power_w;
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
        int load = command.load == LOAD_ALL ? LOAD_ALL
                                            : find_load(after, before->names[command.load].name);
        if (load < 0)
            continue;
        command.load = (uint16_t)load;
        site->commands[count++] = command;
    }
    site->command_count = count;
}

/* Loads that are gone, or are wired elsewhere now. */
static void retire_outputs(struct site *site, const struct settings *after, bool buses_stay)
{
    const struct settings *before = site->settings;
    struct output_settings gone[SETTINGS_LOADS_MAX];
    uint16_t count = 0;
    struct trouble trouble;
    for (uint16_t i = 0; i < before->rules.load_count; i++) {
        int j = find_load(after, before->names[i].name);
        if (j < 0 || !same_output(before, i, after, (uint16_t)j))
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
    if (buses_stay)
        return;
    outputs_free(retired); /* its writes are queued; the old buses do them before they end */
    site->retired = NULL;
}

static void replace_buses(struct site *site, struct discarded *old)
{
    struct trouble trouble;
    memcpy(old->buses, site->buses, sizeof(old->buses));
    memset(site->buses, 0, sizeof(site->buses));
    memset(site->bus_under_way, 0, sizeof(site->bus_under_way));
    site->under_way = 0;
    site->generation = (site->generation + 1) & 0xf;
    if (!wiring_open_buses(site, &trouble)) {
        log_line(LOG_LEVEL_ERROR, "%s", trouble.text); /* out of threads: nothing else will do */
        site->stopping = true;
    }
}

static void commit(struct site *site, struct settings *after)
{
    struct settings *before = site->settings;
    struct discarded old = {.mqtt = NULL};
    struct trouble trouble;
    bool buses_stay = same_buses(before, after);
    bool broker_stays = memcmp(&before->mqtt, &after->mqtt, sizeof(before->mqtt)) == 0;
    remember_now(site);
    retire_outputs(site, after, buses_stay);
    carry_memory(site, before, after);
    carry_orders(site, before, after);
    site->settings = after;
    if (!buses_stay)
        replace_buses(site, &old);
    struct outputs *old_outputs = site->outputs;
    if (!wiring_open_outputs(site, &trouble)) {
        site->outputs = old_outputs;
        site_trouble(site, "outputs", "%s", trouble.text);
    } else {
        outputs_free(old_outputs);
    }
    if (broker_stays) {
        publish_describe(site);
    } else {
        old.mqtt = site->mqtt;
        site->mqtt = NULL;
        publish_start(site);
    }
    publish_listen(site);
    discard_aside(&old);
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
    text_add(answer, "nothing was changed; %d wrong, the first: %s: %s", troubles->count,
             first->place, first->text);
}

bool site_reload(struct site *site, struct text *answer)
{
    struct settings_troubles troubles = {0};
    struct settings *after =
        settings_load(site->settings_path, site->maps_dir[0] ? site->maps_dir : NULL, &troubles);
    if (!after) {
        refuse(site, &troubles, answer);
        settings_troubles_free(&troubles);
        return false;
    }
    settings_troubles_free(&troubles);
    bool moved = strcmp(after->control_socket, site->settings->control_socket) != 0 ||
                 strcmp(after->ledger.path, site->settings->ledger.path) != 0;
    snprintf(after->control_socket, sizeof(after->control_socket), "%s",
             site->settings->control_socket);
    commit(site, after);
    site_solved(site, "settings");
    site_note(site, "site", "the settings were read anew");
    text_add(answer, "the new settings are in force%s",
             moved ? "; another control socket or storage path takes a restart" : "");
    return true;
}
