/* gateway.c - beginning and ending the gateway, and telling it what meters say.
 *
 * It hears the raw registers from the buses by itself; the decoded samples come from
 * here, with the signs that the settings give them, so that its SunSpec view shows what
 * the engine sees. */
#include "gateway.h"

#include <string.h>

#include "troubles.h"

static const char trouble_id[] = "gateway";

void gateway_begin(struct serving *serving, struct lines *lines, struct common *common)
{
    struct trouble trouble = {.text = ""};
    if (!common->settings->gateway.enabled)
        return;
    serving->gateway = gateway_new(&common->settings->gateway, lines->buses,
                                   common->settings->bus_count, SLUICE_VERSION, &trouble);
    if (!serving->gateway)
        site_trouble(common, trouble_id, "the gateway cannot begin: %s", trouble.text);
    serving->moved = common->now.mono;
    gateway_turn(serving, common);
}

int64_t gateway_still_ms(const struct serving *serving, struct mono now)
{
    return serving->gateway ? mono_since_ms(now, serving->moved) : 0;
}

void gateway_end(struct serving *serving, struct common *common)
{
    gateway_free(serving->gateway);
    serving->gateway = NULL;
    serving->state = (struct gateway_state){0}; /* what is published ends with it */
    site_solved(common, trouble_id);
}

bool gateway_is_same(const struct settings *a, const struct settings *b)
{
    return memcmp(&a->gateway, &b->gateway, sizeof(a->gateway)) == 0;
}

/* A meter that is wired the other way round counts import as export, too. */
static struct meter_sample turned(const struct meter_sample *sample)
{
    const uint32_t both = 1u << METER_IMPORT_ENERGY | 1u << METER_EXPORT_ENERGY;
    struct meter_sample result = *sample;
    for (int q = METER_POWER; q <= METER_POWER_L3; q++)
        result.value[q] = -sample->value[q];
    result.value[METER_IMPORT_ENERGY] = sample->value[METER_EXPORT_ENERGY];
    result.value[METER_EXPORT_ENERGY] = sample->value[METER_IMPORT_ENERGY];
    result.has &= ~both;
    result.has |= sample->has & 1u << METER_EXPORT_ENERGY ? 1u << METER_IMPORT_ENERGY : 0;
    result.has |= sample->has & 1u << METER_IMPORT_ENERGY ? 1u << METER_EXPORT_ENERGY : 0;
    return result;
}

void gateway_tell(struct serving *serving, const struct settings *settings, uint8_t meter,
                  const struct meter_sample *sample, int64_t age_ms)
{
    struct meter_sample told = settings->meters[meter].inverted ? turned(sample) : *sample;
    if (serving->gateway)
        gateway_sample(serving->gateway, meter, &told, age_ms);
}

void gateway_turn(struct serving *serving, struct common *common)
{
    struct gateway_state state;
    if (!serving->gateway)
        return;
    gateway_look(serving->gateway, &state);
    if (state.turns != serving->state.turns)
        serving->moved = common->now.mono;
    serving->state = state;
    if (state.trouble[0])
        site_trouble(common, trouble_id, "the gateway is not open to all: %s", state.trouble);
    else
        site_solved(common, trouble_id);
}
