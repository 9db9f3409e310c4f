/* meters.c - asking the meters in time.
 *
 * Each meter has its own pace and at most one read under way; a read that is late
 * is not asked again. What becomes of the answers is in meter_answers.c, what the
 * engine is told of them in sources.c. */
#include "meters.h"

#include "jobs.h"

static enum sunspec_wanted wanted_by(uint8_t role)
{
    return role == ROLE_GRID ? SUNSPEC_METER : SUNSPEC_EITHER;
}

/* A meter that was read lately is asked on, so that trouble of a few seconds ends with
 * it; the meters without which loads are cut never rest for longer than a reading is
 * fresh. */
static void pace(struct bus *bus, const struct meter_settings *settings)
{
    int64_t fresh_ms = reading_fresh_ms(settings->every_ms);
    bool vital = settings->role == ROLE_GRID || settings->role == ROLE_BATTERY;
    bus_limit_rests(bus, settings->unit, fresh_ms, vital ? fresh_ms : 0);
}

void meters_begin(struct site *site)
{
    for (uint8_t k = 0; k < site->settings->meter_count; k++) {
        const struct meter_settings *settings = &site->settings->meters[k];
        struct bus *bus = site->buses[settings->bus_index];
        pace(bus, settings);
        site->meters[k] = (struct meter_watch){
            .bus_meter =
                bus_add_meter(bus, settings->unit, settings->sunspec ? NULL : &settings->map,
                              wanted_by(settings->role)),
            .due = site->now.mono,
            .totals_due = site->now.mono,
            .bad_since = MONO_NEVER,
        };
    }
}

void meter_go_on(struct meter_watch *meter, const struct meter_watch *was)
{
    struct meter_watch begun = *meter;
    *meter = *was;
    meter->bus_meter = begun.bus_meter;
    meter->asked = false;
    meter->due = begun.due;
    meter->totals_due = begun.totals_due;
}

static bool ask(struct site *site, uint8_t index)
{
    const struct meter_settings *settings = &site->settings->meters[index];
    struct meter_watch *meter = &site->meters[index];
    struct bus_job job = {.id = JOB_METERS + index,
                          .kind = BUS_READ_METER,
                          .unit = settings->unit,
                          .meter = meter->bus_meter,
                          .totals = site->now.mono.ms >= meter->totals_due.ms,
                          .now = site->now.mono};
    if (!job_post(site, settings->bus_index, &job))
        return false;
    if (job.totals)
        meter->totals_due = mono_after(site->now.mono, settings->totals_every_ms);
    return true;
}

/* The next due time keeps the pace; after a long stop it begins afresh. */
static struct mono next_due(struct mono due, struct mono now, int64_t every_ms)
{
    struct mono next = mono_after(due, every_ms);
    return next.ms > now.ms ? next : mono_after(now, every_ms);
}

void meters_ask(struct site *site)
{
    for (uint8_t k = 0; k < site->settings->meter_count; k++) {
        struct meter_watch *meter = &site->meters[k];
        if (site->now.mono.ms < meter->due.ms)
            continue;
        meter->due = next_due(meter->due, site->now.mono, site->settings->meters[k].every_ms);
        if (!meter->asked)
            meter->asked = ask(site, k);
    }
}

struct mono meters_next(const struct site *site)
{
    struct mono next = MONO_NEVER;
    for (uint8_t k = 0; k < site->settings->meter_count; k++)
        next = mono_earlier(next, site->meters[k].due);
    return next;
}
