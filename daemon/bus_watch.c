/* bus_watch.c - counters of the buses, as of the last look.
 *
 * Each look takes every bus's lock for a moment, so it is once in ten seconds and not
 * at each turn; status and the broker show what was seen then. */
#include "bus_watch.h"

#include <stdio.h>

#include "troubles.h"

enum { LOOK_EVERY_MS = 10000, WINDOW_MS = 10 * MS_PER_MIN, NO_ACCIDENT = 3 };

/* Lately, not ever: a master that was taken away is to be forgotten, and an accident a
 * month is none. */
static bool two_masters(struct site *site, uint8_t bus)
{
    uint64_t count = site->quality[bus].foreign;
    if (count < site->foreign[bus].before)
        site->foreign[bus].before = 0; /* another bus since a reload */
    bool here = count - site->foreign[bus].before >= NO_ACCIDENT;
    bool were_there = site->foreign[bus].were_there;
    if (mono_since_ms(site->now.mono, site->foreign[bus].since) >= WINDOW_MS) {
        site->foreign[bus].before = count;
        site->foreign[bus].since = site->now.mono;
        site->foreign[bus].were_there = here;
    }
    return here || were_there;
}

static void judge(struct site *site, uint8_t bus)
{
    const struct bus_settings *settings = &site->settings->buses[bus];
    char id[MQTT_ID_MAX];
    site_trouble_id(id, "masters", settings->name);
    if (!site->quality[bus].two_masters)
        site_solved(site, id);
    else if (settings->mode == BUS_LISTEN)
        site_trouble(site, id,
                     "bus %s: two masters ask at once and garble each other; a bus has one master",
                     settings->name);
    else
        site_trouble(site, id,
                     "bus %s: another master asks on it too; a bus has one master: stop the other, "
                     "or set mode: listen",
                     settings->name);
}

void bus_watch_turn(struct site *site)
{
    if (site->now.mono.ms < site->quality_due.ms)
        return;
    site->quality_due = mono_after(site->now.mono, LOOK_EVERY_MS);
    for (uint8_t k = 0; k < site->settings->bus_count; k++) {
        if (!site->buses[k])
            continue;
        bus_quality(site->buses[k], &site->quality[k]);
        site->quality[k].two_masters = two_masters(site, k);
        judge(site, k);
    }
}
