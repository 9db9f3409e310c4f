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

static uint64_t count_of(const struct bus_unit_quality *unit, enum bus_count which)
{
    switch (which) {
    case BUS_COUNT_ASKED:
        return unit->asked;
    case BUS_COUNT_ANSWERED:
        return unit->answered;
    case BUS_COUNT_TIMEOUTS:
        return unit->timeouts;
    case BUS_COUNT_CORRUPT:
        return unit->corrupt;
    case BUS_COUNT_EXCEPTIONS:
        return unit->exceptions;
    case BUS_COUNT_RETRIES:
        return unit->retries;
    case BUS_COUNT_DOUBTFUL:
    case BUS_COUNT_FOREIGN:
    case BUS_COUNT_NOISE:
        break;
    }
    return 0;
}

uint64_t bus_watch_count(const struct site *site, uint8_t bus, enum bus_count which)
{
    const struct bus_quality *quality = &site->quality[bus];
    uint64_t sum = which == BUS_COUNT_DOUBTFUL  ? quality->doubtful
                   : which == BUS_COUNT_FOREIGN ? quality->foreign
                   : which == BUS_COUNT_NOISE   ? quality->noise_bytes
                                                : 0;
    for (uint8_t k = 0; k < quality->unit_count; k++)
        sum += count_of(&quality->unit[k], which);
    return sum;
}

void bus_watch_times(const struct site *site, uint8_t bus, struct text *text)
{
    const struct bus_quality *quality = &site->quality[bus];
    const char *between = "";
    for (uint8_t k = 0; k < quality->unit_count; k++) {
        const struct bus_unit_quality *unit = &quality->unit[k];
        if (unit->answered == 0)
            continue;
        text_add(text, "%sunit %u: %d.%d ms, 95 %%: %d.%d ms, 99 %%: %d.%d ms", between, unit->unit,
                 (int)(unit->p50_us / 1000), (int)(unit->p50_us / 100 % 10),
                 (int)(unit->p95_us / 1000), (int)(unit->p95_us / 100 % 10),
                 (int)(unit->p99_us / 1000), (int)(unit->p99_us / 100 % 10));
        between = "; ";
    }
}
