/* meters.c - asking the meters in time.
 *
 * Each meter has its own pace and at most one read under way; a read that is late
 * is not asked again. What becomes of the answers is in meter_answers.c, what the
 * engine is told of them in sources.c. */
#include "inputs.h"

#include <string.h>

#include "lines.h"

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

void meters_begin(struct inputs *inputs, const struct lines *lines, const struct common *common)
{
    for (uint8_t k = 0; k < common->settings->meter_count; k++) {
        const struct meter_settings *settings = &common->settings->meters[k];
        struct bus *bus = lines->buses[settings->bus_index];
        pace(bus, settings);
        inputs->meters[k] = (struct meter_watch){
            .bus_meter =
                bus_add_meter(bus, settings->unit, settings->sunspec ? NULL : &settings->map,
                              wanted_by(settings->role)),
            .due = common->now.mono,
            .totals_due = common->now.mono,
            .bad_since = MONO_NEVER,
        };
    }
}

static void go_on(struct meter_watch *meter, const struct meter_watch *was)
{
    struct meter_watch begun = *meter;
    *meter = *was;
    meter->bus_meter = begun.bus_meter;
    meter->asked = false;
    meter->due = begun.due;
    meter->totals_due = begun.totals_due;
}

/* It measures the same, in the same words. */
static bool same_meter(const struct meter_settings *a, const struct meter_settings *b)
{
    return a->role == b->role && a->unit == b->unit && a->sunspec == b->sunspec &&
           strcmp(a->map_name, b->map_name) == 0 && memcmp(&a->map, &b->map, sizeof(a->map)) == 0;
}

/* Its bus need not be told anything new of it: how it backs off goes by freshness. */
bool meters_same_on_bus(const struct meter_settings *a, const struct meter_settings *b)
{
    return same_meter(a, b) && a->bus_index == b->bus_index &&
           reading_fresh_ms(a->every_ms) == reading_fresh_ms(b->every_ms);
}

void meters_go_on(struct inputs *inputs, const struct meter_watch was[],
                  const struct settings *before, const struct settings *after)
{
    for (uint8_t j = 0; j < after->meter_count; j++)
        for (uint8_t i = 0; i < before->meter_count; i++)
            if (strcmp(before->meters[i].name, after->meters[j].name) == 0 &&
                same_meter(&before->meters[i], &after->meters[j]))
                go_on(&inputs->meters[j], &was[i]);
}

static bool ask(struct inputs *inputs, struct lines *lines, const struct common *common,
                uint8_t index)
{
    const struct meter_settings *settings = &common->settings->meters[index];
    struct meter_watch *meter = &inputs->meters[index];
    struct bus_job job = {.id = JOB_METERS + index,
                          .kind = BUS_READ_METER,
                          .unit = settings->unit,
                          .meter = meter->bus_meter,
                          .totals = common->now.mono.ms >= meter->totals_due.ms,
                          .now = common->now.mono};
    if (!job_post(lines, settings->bus_index, &job))
        return false;
    if (job.totals)
        meter->totals_due = mono_after(common->now.mono, settings->totals_every_ms);
    return true;
}

void meters_ask(struct inputs *inputs, struct lines *lines, const struct common *common)
{
    for (uint8_t k = 0; k < common->settings->meter_count; k++) {
        struct meter_watch *meter = &inputs->meters[k];
        if (common->now.mono.ms < meter->due.ms)
            continue;
        meter->due =
            mono_next_due(meter->due, common->settings->meters[k].every_ms, common->now.mono);
        if (!meter->asked)
            meter->asked = ask(inputs, lines, common, k);
    }
}

struct mono meters_next(const struct inputs *inputs, const struct common *common)
{
    struct mono next = MONO_NEVER;
    for (uint8_t k = 0; k < common->settings->meter_count; k++)
        next = mono_earlier(next, inputs->meters[k].due);
    return next;
}
