/* meters.c - asking the meters in time, and making one reading of their answers.
 *
 * Each meter has its own pace and at most one read under way; a read that is late
 * is not asked again. The reading is put together anew at each turn from the newest
 * samples: a value that has grown too old is left out of it, and the grid's age and
 * plausibility give the whole its quality. */
#include "meters.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "gateway.h"
#include "grid.h"
#include "jobs.h"
#include "troubles.h"

enum { STUCK_MS = 10 * MS_PER_MIN, TOLD_AFTER_MS = 10 * MS_PER_S, ST_THROTTLED = 5 };

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
    bus_pace(bus, settings->unit, fresh_ms, vital ? fresh_ms : 0);
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

/* ---- answers ------------------------------------------------------------------ */

static void tell_outcome(struct site *site, uint8_t index)
{
    const struct meter_settings *settings = &site->settings->meters[index];
    struct meter_watch *meter = &site->meters[index];
    char id[MQTT_ID_MAX];
    site_trouble_id(id, "meter", settings->name);
    if (meter->outcome == BUS_OK) {
        meter->bad_since = MONO_NEVER;
        meter->told = BUS_OK;
        site_solved(site, id);
        return;
    }
    if (meter->bad_since.ms == MONO_NEVER.ms)
        meter->bad_since = site->now.mono;
    bool told = meter->told == meter->outcome;
    if (mono_since_ms(site->now.mono, meter->bad_since) < TOLD_AFTER_MS ||
        meter->outcome == BUS_BACKING_OFF || told)
        return; /* the detail of the same trouble may count seconds: it is not news */
    meter->told = meter->outcome;
    site_trouble(site, id, "meter %s (bus %s, unit %u): %s%s%s", settings->name, settings->bus,
                 settings->unit, bus_outcome_text(meter->outcome), meter->detail[0] ? ": " : "",
                 meter->detail);
}

/* Energy is read less often than power: what this round did not fetch stays. */
static void keep_sample(struct meter_watch *meter, const struct meter_sample *sample)
{
    const uint32_t totals = (1u << METER_IMPORT_ENERGY) | (1u << METER_EXPORT_ENERGY);
    struct meter_sample kept = *sample;
    for (int q = METER_IMPORT_ENERGY; q <= METER_EXPORT_ENERGY; q++)
        if (!(sample->has & (1u << q)))
            kept.value[q] = meter->sample.value[q];
    kept.has |= meter->sample.has & totals;
    meter->sample = kept;
}

static void check_sample(struct site *site, uint8_t index, const struct meter_sample *sample)
{
    const struct meter_settings *settings = &site->settings->meters[index];
    const struct rules_settings *rules = &site->settings->rules;
    struct meter_watch *meter = &site->meters[index];
    int64_t supply_mw =
        (int64_t)rules->supply_limit_ma * rules->voltage_mv / 1000 * rules->phase_count;
    struct plausible_limits limits = {
        .power_mw = settings->role == ROLE_GRID ? 2 * supply_mw : 0,
        .stuck_ms = settings->role == ROLE_GRID ? STUCK_MS : 0,
        .needs_power = settings->role != ROLE_TANK && settings->role != ROLE_BATTERY,
    };
    char id[MQTT_ID_MAX];
    site_trouble_id(id, "plausible", settings->name);
    meter->fault = plausible_check(&limits, &meter->plausible, sample, site->now.mono);
    if (meter->fault == PLAUSIBLE)
        site_solved(site, id);
    else
        site_trouble(site, id, "meter %s cannot be right: %s", settings->name,
                     implausible_text(meter->fault));
}

void meters_answer(struct site *site, const struct bus_answer *answer)
{
    uint32_t index = answer->id - JOB_METERS;
    if (index >= site->settings->meter_count)
        return;
    struct meter_watch *meter = &site->meters[index];
    meter->asked = false;
    meter->outcome = answer->outcome;
    snprintf(meter->detail, sizeof(meter->detail), "%s", answer->detail);
    if (answer->outcome == BUS_OK) {
        check_sample(site, (uint8_t)index, &answer->sample);
        keep_sample(meter, &answer->sample);
        meter->taken = mono_after(answer->now, -answer->age_ms);
        meter->read = true;
        meter->sequence++;
        if (meter->fault == IMPLAUSIBLE_FREQUENCY)
            meter->sample.has &= ~(UINT32_C(1) << METER_FREQUENCY);
        if (meter->fault == PLAUSIBLE || meter->fault == IMPLAUSIBLE_FREQUENCY)
            gateway_tell(site, (uint8_t)index, answer->age_ms);
        if (site->settings->meters[index].role == ROLE_GRID) {
            if (is_good(meter->fault))
                grid_registers(site, &answer->sample);
        }
    }
    tell_outcome(site, (uint8_t)index);
}

/* ---- the reading ----------------------------------------------------------------- */

static bool sample_has(const struct meter_watch *meter, enum meter_quantity quantity)
{
    return (meter->sample.has & (1u << quantity)) != 0;
}

static int64_t signed_value(const struct meter_settings *settings, const struct meter_watch *meter,
                            enum meter_quantity quantity)
{
    int64_t value = meter->sample.value[quantity];
    return settings->inverted ? -value : value;
}

static int32_t rounded(int64_t milli)
{
    int64_t half = milli < 0 ? -500 : 500;
    int64_t whole = (milli + half) / 1000;
    return (int32_t)(whole > INT32_MAX ? INT32_MAX : whole < INT32_MIN ? INT32_MIN : whole);
}

static void take_phases(struct reading *reading, const struct meter_settings *settings,
                        const struct meter_watch *meter, uint8_t phase_count)
{
    bool power = true, current = true, voltage = true;
    for (unsigned phase = 0; phase < phase_count; phase++) {
        power &= sample_has(meter, METER_POWER_L1 + phase);
        current &= sample_has(meter, METER_CURRENT_L1 + phase);
        voltage &= sample_has(meter, METER_VOLTAGE_L1 + phase);
        reading->phase_power_w[phase] =
            rounded(signed_value(settings, meter, METER_POWER_L1 + phase));
        reading->phase_current_ma[phase] =
            (int32_t)llabs(meter->sample.value[METER_CURRENT_L1 + phase]);
        reading->voltage_mv[phase] = (int32_t)meter->sample.value[METER_VOLTAGE_L1 + phase];
    }
    reading->has |= (power ? HAS_PHASE_POWER : 0) | (current ? HAS_PHASE_CURRENT : 0) |
                    (voltage ? HAS_VOLTAGE : 0);
}

static void take_grid(struct site *site, const struct meter_settings *settings,
                      const struct meter_watch *meter)
{
    struct reading *reading = &site->reading;
    reading->grid.taken = meter->taken;
    reading->grid.sequence = meter->sequence;
    reading->grid.quality = is_good(meter->fault) ? READING_FRESH : READING_IMPLAUSIBLE;
    if (sample_has(meter, METER_POWER)) {
        reading->has |= HAS_GRID_POWER;
        reading->grid_power_w = rounded(signed_value(settings, meter, METER_POWER));
    }
    take_phases(reading, settings, meter, site->settings->rules.phase_count);
    if (sample_has(meter, METER_FREQUENCY)) {
        reading->has |= HAS_FREQUENCY;
        reading->frequency_mhz = (int32_t)meter->sample.value[METER_FREQUENCY];
    }
    reading->grid.quality = reading_quality_at(&reading->grid, site->now.mono, settings->every_ms);
}

static struct source source_of(const struct meter_watch *meter)
{
    return (struct source){
        .quality = READING_FRESH, .sequence = meter->sequence, .taken = meter->taken};
}

static void take_tank(struct site *site, const struct meter_watch *meter)
{
    if (!sample_has(meter, METER_TEMPERATURE))
        return;
    for (uint16_t i = 0; i < site->settings->rules.load_count; i++) {
        site->load_reading[i].tank = source_of(meter);
        site->load_reading[i].tank_temperature_mc = (int32_t)meter->sample.value[METER_TEMPERATURE];
    }
}

static void take_battery(struct reading *reading, const struct meter_settings *settings,
                         const struct meter_watch *meter)
{
    if (sample_has(meter, METER_POWER)) {
        reading->has |= HAS_BATTERY_POWER;
        reading->battery = source_of(meter);
        reading->battery_power_w = rounded(signed_value(settings, meter, METER_POWER));
    }
    if (sample_has(meter, METER_BATTERY_CHARGE)) {
        reading->has |= HAS_BATTERY_CHARGE;
        reading->battery_charge_permille = (int32_t)meter->sample.value[METER_BATTERY_CHARGE];
    }
}

static void take_meter(struct site *site, uint8_t index)
{
    const struct meter_settings *settings = &site->settings->meters[index];
    const struct meter_watch *meter = &site->meters[index];
    struct reading *reading = &site->reading;
    if (settings->role == ROLE_GRID) {
        take_grid(site, settings, meter);
        return;
    }
    if (mono_since_ms(site->now.mono, meter->taken) > reading_fresh_ms(settings->every_ms))
        return;
    switch (settings->role) {
    case ROLE_SOLAR:
        if (!sample_has(meter, METER_POWER))
            break;
        reading->has |= HAS_SOLAR_POWER;
        reading->solar = source_of(meter);
        reading->solar_power_w += rounded(signed_value(settings, meter, METER_POWER));
        reading->inverter_throttled |=
            sample_has(meter, METER_STATE) && meter->sample.value[METER_STATE] == ST_THROTTLED;
        break;
    case ROLE_BATTERY:
        take_battery(reading, settings, meter);
        break;
    case ROLE_LOAD:
        if (!sample_has(meter, METER_POWER))
            break;
        site->load_reading[settings->load_index].power = source_of(meter);
        site->load_reading[settings->load_index].power_w =
            rounded(signed_value(settings, meter, METER_POWER));
        break;
    case ROLE_TANK:
        take_tank(site, meter);
        break;
    default:
        break;
    }
}

void meters_settle(struct site *site)
{
    site->reading = (struct reading){.grid = {.quality = READING_ABSENT}};
    memset(site->load_reading, 0, sizeof(site->load_reading));
    for (uint8_t k = 0; k < site->settings->meter_count; k++)
        if (site->meters[k].read)
            take_meter(site, k);
}
