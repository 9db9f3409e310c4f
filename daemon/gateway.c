/* gateway.c - beginning and ending the gateway, and telling it what meters say.
 *
 * It hears the raw registers from the buses by itself; the decoded samples come from
 * here, with the signs that the settings give them, so that its SunSpec view shows what
 * the engine sees. */
#include "gateway.h"

#include <string.h>

#include "troubles.h"

static const char trouble_id[] = "gateway";

void gateway_begin(struct site *site)
{
    struct trouble trouble = {.text = ""};
    if (!site->settings->gateway.enabled)
        return;
    site->gateway = gateway_new(&site->settings->gateway, site->buses, site->settings->bus_count,
                                SLUICE_VERSION, &trouble);
    if (!site->gateway)
        site_trouble(site, trouble_id, "the gateway cannot begin: %s", trouble.text);
    site->gateway_moved = site->now.mono;
    gateway_turn(site);
}

int64_t gateway_still_ms(const struct site *site)
{
    return site->gateway ? mono_since_ms(site->now.mono, site->gateway_moved) : 0;
}

void gateway_end(struct site *site)
{
    gateway_free(site->gateway);
    site->gateway = NULL;
    site->gateway_state = (struct gateway_state){0}; /* what is published ends with it */
    site_solved(site, trouble_id);
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

void gateway_tell(struct site *site, uint8_t meter, int64_t age_ms)
{
    const struct meter_sample *sample = &site->meters[meter].sample;
    struct meter_sample told = site->settings->meters[meter].inverted ? turned(sample) : *sample;
    if (site->gateway)
        gateway_sample(site->gateway, meter, &told, age_ms);
}

void gateway_turn(struct site *site)
{
    struct gateway_state state;
    if (!site->gateway)
        return;
    gateway_look(site->gateway, &state);
    if (state.turns != site->gateway_state.turns)
        site->gateway_moved = site->now.mono;
    site->gateway_state = state;
    if (state.trouble[0])
        site_trouble(site, trouble_id, "the gateway is not open to all: %s", state.trouble);
    else
        site_solved(site, trouble_id);
}
