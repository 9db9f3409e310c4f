/* reload.c - new settings while everything runs: prepare, then commit.
 *
 * The new file is read and checked whole beside the old one; with any mistake in it,
 * or where it looks cut off beside the old one, nothing changes. Memory is kept by a load's name.
 * Buses and outputs whose settings are the same are kept as they are, so that no relay drops and no
 * poll is missed; an output that is wired as it was keeps what is known and wanted of it, also over
 * another bus; what must be closed is closed by a thread of its own, since a worker can only be
 * waited for. A load that is gone is brought to its fail state first. */
#include "reload.h"

#include <stdlib.h>
#include <string.h>

#include "learn.h"
#include "loop/log.h"
#include "loop/thread.h"
#include "settings_file.h"
#include "site.h"
#include "status.h"
#include "troubles.h"

/* ---- closing without waiting ------------------------------------------------------------ */

struct discarded {
    struct bus *buses[SETTINGS_BUSES_MAX];
    struct mqtt *mqtt;
    struct sensors *sensors;
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
    sensors_free(discarded->sensors);
    atomic_store(discarded->done, true);
    free(discarded);
    return NULL;
}

/* The end of the daemon waits for it: the old workers still post into the site's
 * mailboxes. */
static void discard_aside(struct closing *closing, const struct discarded *what)
{
    struct discarded *copy = malloc(sizeof(*copy));
    if (!copy)
        return; /* leaks what it holds, which still works */
    *copy = *what;
    copy->done = &closing->closed;
    atomic_store(&closing->closed, false);
    closing->under_way = thread_start(&closing->thread, discard, copy);
    if (!closing->under_way)
        discard(copy);
}

void reload_wait(struct closing *closing)
{
    if (closing->under_way)
        pthread_join(closing->thread, NULL);
    closing->under_way = false;
}

/* ---- commit ------------------------------------------------------------------------------ */

static bool same_buses(const struct settings *a, const struct settings *b)
{
    if (a->bus_count != b->bus_count || a->meter_count != b->meter_count ||
        memcmp(a->buses, b->buses, sizeof(a->buses)) != 0)
        return false;
    for (uint8_t k = 0; k < a->meter_count; k++)
        if (!meters_same_on_bus(&a->meters[k], &b->meters[k]))
            return false;
    return true;
}

/* Out of threads or memory: nothing else will do. */
static void give_up(struct site *site, const struct trouble *trouble)
{
    log_line(LOG_LEVEL_ERROR, "%s", trouble->text);
    site->stopping = true;
}

static void replace_buses(struct site *site, const struct settings *before, struct discarded *old)
{
    struct trouble trouble;
    struct meter_watch was[SETTINGS_METERS_MAX];
    memcpy(was, site->inputs.meters, sizeof(was));
    lines_give_up(&site->lines, old->buses);
    if (!lines_open(&site->lines, &site->common, &trouble)) {
        give_up(site, &trouble);
        return;
    }
    meters_begin(&site->inputs, &site->lines, &site->common);
    meters_go_on(&site->inputs, was, before, site->common.settings);
}

/* What was wrong with something that is no longer there, or begins anew, is not known. */
static void renew_troubles(struct inputs *inputs, struct common *common,
                           const struct settings *before, bool buses_stay)
{
    site_troubles_renumber(common, before, common->settings);
    meters_forget_troubles(inputs, common, before, buses_stay);
    grid_forget(inputs, common, before);
}

/* Each part stays as it is where its settings do, or is replaced. */
static void commit(struct site *site, struct settings *after)
{
    struct settings *before = site->common.settings;
    struct discarded old = {.mqtt = NULL};
    struct trouble trouble;
    bool buses_stay = same_buses(before, after);
    bool outputs_stay = switching_is_same(before, after);
    bool gateway_stays = buses_stay && gateway_is_same(before, after);
    /* History too: its totals are about to be numbered anew. */
    remember_stop(&site->kept, &site->engine, &site->faults, &site->on_fault, &site->inputs,
                  &site->common);
    switching_retire(&site->switching, after, buses_stay);
    engine_carry(&site->engine, &site->common, before, after);
    faults_carry(&site->faults, &site->common, before, after);
    remember_renumber(&site->kept, &site->engine, before, after);
    learn_carry(&site->kept, &site->engine, &site->common, before, after);
    if (!gateway_stays)
        gateway_end(&site->serving, &site->common);
    site->common.settings = after;
    if (!buses_stay)
        replace_buses(site, before, &old);
    if (!outputs_stay && !switching_replace(&site->switching, before, &trouble))
        give_up(site, &trouble);
    if (!buses_stay)
        outputs_rewired(site->switching.outputs, site->common.now.mono);
    if (!board_replace(&site->board, &site->common, before, &trouble) ||
        !thermometers_replace(&site->thermometers, &site->common, before, &old.sensors, &trouble) ||
        !lamp_replace(&site->lamp, &site->common, before, buses_stay, &trouble))
        give_up(site, &trouble);
    if (!gateway_stays)
        gateway_begin(&site->serving, &site->lines, &site->common);
    struct values_view view = status_view(site);
    old.mqtt = publish_reload(&site->broker, &site->common, before, &view);
    publish_listen(&site->common);
    thermometers_listen(&site->common);
    renew_troubles(&site->inputs, &site->common, before, buses_stay);
    discard_aside(&site->closing, &old);
    settings_free(before);
}

static void refuse(struct common *common, const struct settings_troubles *troubles,
                   struct text *answer)
{
    const struct trouble *first = &troubles->item[0];
    for (int k = 0; k < troubles->count; k++)
        log_line(LOG_LEVEL_ERROR, "%s: %s", troubles->item[k].place, troubles->item[k].text);
    site_trouble(common, "settings", "the settings were not changed: %s: %s%s", first->place,
                 first->text, troubles->count > 1 ? " (and more)" : "");
    text_add(answer, "nothing was changed; %d error%s: %s: %s", troubles->count,
             troubles->count == 1 ? "" : "s, the first", first->place, first->text);
}

static bool refuse_if_cut(const struct files *files, struct common *common,
                          const struct settings *after, struct text *answer)
{
    char why[TROUBLE_TEXT_MAX];
    struct text text = text_in(why, sizeof(why));
    if (!settings_look_cut(common->settings, after, &text))
        return false;
    site_trouble(common, "settings", "the settings were not changed: " SETTINGS_LOOK_CUT,
                 files->settings_path, why);
    text_add(answer, "nothing was changed; " SETTINGS_LOOK_CUT, files->settings_path, why);
    return true;
}

/* The settings that the file has, checked; NULL: refused, and it is told why. */
static struct settings *prepare(const struct files *files, struct common *common, bool even_if_cut,
                                struct text *answer)
{
    struct settings_troubles troubles = {0};
    const char *maps = files->maps_dir[0] ? files->maps_dir : NULL;
    struct settings *after = settings_file_read(files->settings_path, maps, &troubles);
    if (!after)
        refuse(common, &troubles, answer);
    settings_troubles_free(&troubles);
    if (after && !even_if_cut && refuse_if_cut(files, common, after, answer)) {
        settings_free(after);
        return NULL;
    }
    return after;
}

bool site_reload(struct site *site, bool even_if_cut, struct text *answer)
{
    if (site->closing.under_way && !atomic_load(&site->closing.closed)) {
        text_add(answer, "the last change is still closing its buses: try again in a moment");
        return false;
    }
    reload_wait(&site->closing);
    struct settings *after = prepare(&site->files, &site->common, even_if_cut, answer);
    if (!after)
        return false;
    bool moved = strcmp(after->control_socket, site->common.settings->control_socket) != 0 ||
                 strcmp(after->ledger.path, site->common.settings->ledger.path) != 0;
    snprintf(after->control_socket, sizeof(after->control_socket), "%s",
             site->common.settings->control_socket);
    commit(site, after);
    site->files.accepted.in_force = false;
    accepted_keep(&site->files, &site->common);
    site_solved(&site->common, "settings");
    settings_tell_secrets(&site->common);
    site_note(&site->common, "site", "the settings were reloaded");
    text_add(answer, "the new settings are in force%s",
             moved ? "; another control socket or storage path takes a restart" : "");
    if (after->notices.count > 0)
        text_add(answer, "; look at %s: %s", after->notices.item[0].place,
                 after->notices.item[0].text);
    return true;
}
