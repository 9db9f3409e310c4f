/* sources.c - the one reading that comes of all meters.
 *
 * It is put together anew at each turn, of each meter's last good sample. Each source
 * keeps the moment of its own: nothing old is made new by something beside it. Where
 * several meters make one source (inverters), the sum is as old as its oldest part and
 * as good as its worst; a partial sum is never told as the whole. */
#include "inputs.h"

#include <stdlib.h>
#include <string.h>

enum { ST_THROTTLED = 5 };

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

/* Old is stale, and implausible where what has been read since cannot be right. */
static struct source source_of(const struct inputs *inputs, const struct common *common,
                               uint8_t index)
{
    const struct meter_watch *meter = &inputs->meters[index];
    struct source source = {.quality = meter->read ? READING_FRESH : READING_ABSENT,
                            .sequence = meter->sequence,
                            .taken = meter->taken};
    source.quality =
        reading_quality_at(&source, common->now.mono, common->settings->meters[index].every_ms);
    if (source.quality != READING_FRESH && !is_good(meter->fault))
        source.quality = READING_IMPLAUSIBLE;
    return source;
}

static enum reading_quality worse(enum reading_quality a, enum reading_quality b)
{
    static const int badness[] = {
        [READING_FRESH] = 0, [READING_STALE] = 1, [READING_IMPLAUSIBLE] = 2, [READING_ABSENT] = 3};
    return badness[a] > badness[b] ? a : b;
}

static struct source together(struct source a, struct source b)
{
    return (struct source){.quality = worse(a.quality, b.quality),
                           .sequence = a.sequence < b.sequence ? a.sequence : b.sequence,
                           .taken = mono_earlier(a.taken, b.taken)};
}

/* ---- what each role gives ----------------------------------------------------------- */

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

static void take_grid(struct inputs *inputs, const struct common *common, uint8_t index)
{
    const struct meter_settings *settings = &common->settings->meters[index];
    const struct meter_watch *meter = &inputs->meters[index];
    struct reading *reading = &inputs->reading;
    reading->grid = source_of(inputs, common, index);
    if (!meter->read)
        return;
    reading->has |= HAS_GRID_POWER;
    reading->grid_power_w = rounded(signed_value(settings, meter, METER_POWER));
    take_phases(reading, settings, meter, common->settings->rules.phase_count);
    if (sample_has(meter, METER_FREQUENCY)) {
        reading->has |= HAS_FREQUENCY;
        reading->frequency_mhz = (int32_t)meter->sample.value[METER_FREQUENCY];
    }
}

static void take_solar(struct inputs *inputs, const struct common *common, uint8_t index,
                       bool first)
{
    const struct meter_settings *settings = &common->settings->meters[index];
    const struct meter_watch *meter = &inputs->meters[index];
    struct reading *reading = &inputs->reading;
    struct source source = source_of(inputs, common, index);
    reading->solar = first ? source : together(reading->solar, source);
    int64_t sum_w =
        reading->solar_power_w + (int64_t)rounded(signed_value(settings, meter, METER_POWER));
    reading->solar_power_w = (int32_t)(sum_w > INT32_MAX   ? INT32_MAX
                                       : sum_w < INT32_MIN ? INT32_MIN
                                                           : sum_w);
    reading->inverter_throttled |= source.quality == READING_FRESH &&
                                   sample_has(meter, METER_STATE) &&
                                   meter->sample.value[METER_STATE] == ST_THROTTLED;
}

/* All of them, or none of them. */
static void settle_solar(struct inputs *inputs, const struct common *common)
{
    bool first = true, all = true;
    for (uint8_t k = 0; k < common->settings->meter_count; k++) {
        if (common->settings->meters[k].role != ROLE_SOLAR)
            continue;
        take_solar(inputs, common, k, first);
        all &= inputs->meters[k].read;
        first = false;
    }
    if (!first && all)
        inputs->reading.has |= HAS_SOLAR_POWER;
    else
        inputs->reading.solar_power_w = 0;
}

static void take_battery(struct inputs *inputs, const struct common *common, uint8_t index)
{
    const struct meter_settings *settings = &common->settings->meters[index];
    const struct meter_watch *meter = &inputs->meters[index];
    struct reading *reading = &inputs->reading;
    reading->battery = source_of(inputs, common, index);
    if (sample_has(meter, METER_POWER)) {
        reading->has |= HAS_BATTERY_POWER;
        reading->battery_power_w = rounded(signed_value(settings, meter, METER_POWER));
    }
    if (sample_has(meter, METER_BATTERY_CHARGE)) {
        reading->has |= HAS_BATTERY_CHARGE;
        reading->battery_charge_permille = (int32_t)meter->sample.value[METER_BATTERY_CHARGE];
    }
}

static void take_load(struct inputs *inputs, const struct common *common, uint8_t index)
{
    const struct meter_settings *settings = &common->settings->meters[index];
    struct load_reading *load = &inputs->load_reading[settings->load_index];
    load->power = source_of(inputs, common, index);
    load->power_w = rounded(signed_value(settings, &inputs->meters[index], METER_POWER));
}

static void take_tank(struct inputs *inputs, const struct common *common, uint8_t index)
{
    struct load_reading *load = &inputs->load_reading[common->settings->meters[index].load_index];
    load->tank = source_of(inputs, common, index);
    load->tank_temperature_mc = (int32_t)inputs->meters[index].sample.value[METER_TEMPERATURE];
}

void sources_settle(struct inputs *inputs, const struct common *common)
{
    static void (*const take[])(struct inputs * inputs, const struct common *common,
                                uint8_t index) = {[ROLE_GRID] = take_grid,
                                                  [ROLE_BATTERY] = take_battery,
                                                  [ROLE_LOAD] = take_load,
                                                  [ROLE_TANK] = take_tank};
    inputs->reading = (struct reading){.has = 0}; /* all sources absent */
    memset(inputs->load_reading, 0, sizeof(inputs->load_reading));
    settle_solar(inputs, common);
    for (uint8_t k = 0; k < common->settings->meter_count; k++)
        if (common->settings->meters[k].role != ROLE_SOLAR)
            take[common->settings->meters[k].role](inputs, common, k);
}
