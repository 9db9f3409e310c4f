/* meter_answers.c - which answer of a meter is good.
 *
 * A good sample replaces the last good one. Anything else - a read that failed, an
 * exception, values that cannot be right - replaces nothing and says nothing: the last
 * good sample stays, with its own moment, until it is no longer fresh. So one bad
 * sample never does more than one that is missing, and trouble is told only when it
 * has lasted. */
#include "inputs.h"

#include <stdio.h>
#include <string.h>

#include "gateway.h"
#include "lines.h"
#include "troubles.h"

enum { STUCK_MS = 10 * MS_PER_MIN, TOLD_AFTER_MS = 10 * MS_PER_S };

/* ---- judging --------------------------------------------------------------------- */

static bool has_given(const struct meter_watch *meter, enum meter_quantity quantity)
{
    return (meter->sample.has & (1u << quantity)) != 0;
}

/* A battery may be read for its charge alone; but one that has told its power once is
 * not whole without it. */
static struct plausible_limits limits_of(const struct inputs *inputs, const struct common *common,
                                         uint8_t index)
{
    const struct rules_settings *rules = &common->settings->rules;
    const struct meter_watch *meter = &inputs->meters[index];
    enum meter_role role = common->settings->meters[index].role;
    int64_t every_ms = common->settings->meters[index].every_ms;
    int64_t supply_mw =
        (int64_t)rules->supply_limit_ma * rules->voltage_mv / 1000 * rules->phase_count;
    return (struct plausible_limits){
        .needs_power = role == ROLE_BATTERY ? has_given(meter, METER_POWER) : role != ROLE_TANK,
        .needs_temperature = role == ROLE_TANK,
        .power_mw = role == ROLE_GRID ? 2 * supply_mw : 0,
        .whole_ms = role == ROLE_GRID ? reading_fresh_ms(every_ms) - every_ms : 0,
        .stuck_ms = role == ROLE_GRID ? STUCK_MS : 0,
    };
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

static void take_good(struct inputs *inputs, struct serving *serving, struct common *common,
                      uint8_t index, const struct bus_answer *answer)
{
    struct meter_watch *meter = &inputs->meters[index];
    keep_sample(meter, &answer->sample);
    meter->taken = mono_after(answer->now, -answer->age_ms);
    meter->read = true;
    meter->sequence++;
    meter->bad_since = MONO_NEVER;
    if (meter->fault == IMPLAUSIBLE_FREQUENCY)
        meter->sample.has &= ~(UINT32_C(1) << METER_FREQUENCY);
    if (meter->fault == PLAUSIBLE || meter->fault == IMPLAUSIBLE_FREQUENCY)
        gateway_tell(serving, common->settings, index, &meter->sample, answer->age_ms);
    if (common->settings->meters[index].role == ROLE_GRID)
        grid_registers(inputs, common, &answer->sample);
}

/* ---- telling --------------------------------------------------------------------- */

/* Nothing good has come for so long that people should know. */
static bool lasts(const struct common *common, const struct meter_watch *meter)
{
    return meter->bad_since.ms != MONO_NEVER.ms &&
           mono_since_ms(common->now.mono, meter->bad_since) >= TOLD_AFTER_MS;
}

static void tell_outcome(struct inputs *inputs, struct common *common, uint8_t index)
{
    const struct meter_settings *settings = &common->settings->meters[index];
    struct meter_watch *meter = &inputs->meters[index];
    char id[MQTT_ID_MAX];
    site_trouble_id(id, "meter", settings->name);
    if (meter->outcome == BUS_OK) {
        meter->told = BUS_OK;
        site_solved(common, id);
        return;
    }
    bool told = meter->told == meter->outcome;
    if (!lasts(common, meter) || meter->outcome == BUS_BACKING_OFF || told)
        return; /* the detail of the same trouble may count seconds: it is not news */
    meter->told = meter->outcome;
    site_trouble(common, id, "meter %s (bus %s, unit %u): %s%s%s", settings->name, settings->bus,
                 settings->unit, bus_outcome_text(meter->outcome), meter->detail[0] ? ": " : "",
                 meter->detail);
}

/* What leaves the sample good is told at once: a total that fell, a frequency that is none. */
static void tell_fault(struct inputs *inputs, struct common *common, uint8_t index)
{
    const struct meter_settings *settings = &common->settings->meters[index];
    const struct meter_watch *meter = &inputs->meters[index];
    char id[MQTT_ID_MAX];
    site_trouble_id(id, "plausible", settings->name);
    if (meter->fault == PLAUSIBLE)
        site_solved(common, id);
    else if (is_good(meter->fault) || lasts(common, meter))
        site_trouble(common, id, "meter %s cannot be right: %s", settings->name,
                     implausible_text(meter->fault));
}

/* Registers that the unit refuses while it answers others: a value that is left out lasts;
 * a gap that is no longer read across is a note. */
static void tell_refused(struct common *common, uint8_t index, const struct bus_answer *answer)
{
    const char *name = common->settings->meters[index].name;
    char id[MQTT_ID_MAX];
    site_trouble_id(id, "refused", name);
    if (answer->left_out)
        site_trouble(common, id, "meter %s: %s: left out; is its map of another version?", name,
                     answer->detail);
    else
        site_solved(common, id);
    if (!answer->left_out && answer->detail[0])
        site_note(common, name, "meter %s: %s", name, answer->detail);
}

/* What was plausible of the one that is gone says nothing of the new one. */
static bool is_another(struct inputs *inputs, struct common *common, uint8_t index,
                       const struct bus_answer *answer)
{
    const struct meter_settings *settings = &common->settings->meters[index];
    const struct meter_watch *meter = &inputs->meters[index];
    struct mono taken = mono_after(answer->now, -answer->age_ms);
    return settings->role == ROLE_GRID && meter->read &&
           grid_answers_again(inputs, common, settings->name, mono_since_ms(taken, meter->taken));
}

void meter_answer(struct inputs *inputs, struct serving *serving, struct common *common,
                  const struct bus_answer *answer)
{
    uint32_t index = answer->id - JOB_METERS;
    if (index >= common->settings->meter_count)
        return;
    struct meter_watch *meter = &inputs->meters[index];
    bool read = answer->outcome == BUS_OK;
    meter->asked = false;
    meter->outcome = answer->outcome;
    snprintf(meter->detail, sizeof(meter->detail), "%s", answer->detail);
    if (read && is_another(inputs, common, (uint8_t)index, answer))
        meter->plausible = (struct plausible_memory){0};
    if (read) {
        struct plausible_limits limits = limits_of(inputs, common, (uint8_t)index);
        meter->fault =
            plausible_check(&limits, &meter->plausible, &answer->sample, common->now.mono);
    }
    if (read && is_good(meter->fault))
        take_good(inputs, serving, common, (uint8_t)index, answer);
    else if (meter->bad_since.ms == MONO_NEVER.ms)
        meter->bad_since = common->now.mono;
    tell_outcome(inputs, common, (uint8_t)index);
    if (!read)
        return;
    tell_fault(inputs, common, (uint8_t)index);
    tell_refused(common, (uint8_t)index, answer);
}

void meters_forget_troubles(struct inputs *inputs, struct common *common,
                            const struct settings *before, bool lines_stay)
{
    static const char *const kinds[] = {"meter", "plausible", "refused"};
    char id[MQTT_ID_MAX];
    for (uint8_t k = 0; k < before->meter_count; k++) {
        const struct meter_settings *after = &common->settings->meters[k];
        bool stays = lines_stay && strcmp(after->name, before->meters[k].name) == 0;
        if (stays)
            continue;
        for (size_t kind = 0; kind < sizeof(kinds) / sizeof(kinds[0]); kind++) {
            site_trouble_id(id, kinds[kind], before->meters[k].name);
            site_unwatched(common, id);
        }
        inputs->meters[k].told = BUS_OK;
    }
}
