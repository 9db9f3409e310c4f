/* level.c - watts to counts, on and off to values.
 *
 * A set-point is always rounded down: spare power of 2.39 kW is 10 A at 230 V,
 * and eleven would be bought. A device counts in `scale_w` watts or in `scale_ma`
 * milliamps, or is told the watts or milliamps themselves, in steps of the same scale. */
#include "output/level.h"

#include "output/backend.h"

bool level_is_amount(const struct output_settings *settings)
{
    return backend_of(settings)->amounts && amount_is_set(settings);
}

int32_t level_switch(const struct output_settings *settings, bool on)
{
    bool closed = on != settings->normally_closed;
    const struct backend *backend = backend_of(settings);
    return backend->switch_value ? backend->switch_value(settings, closed) : closed;
}

/* A register that holds neither value is not off: what a device does with a
 * value it was not given is unknown. */
bool level_is_on(const struct output_settings *settings, int32_t value)
{
    return value != level_switch(settings, false);
}

static int64_t counts(const struct output_settings *settings, int32_t level_w)
{
    if (settings->scale_ma > 0) {
        int64_t current_ma = (int64_t)level_w * 1000 / settings->watts_per_amp;
        return current_ma / settings->scale_ma;
    }
    return level_w / settings->scale_w;
}

/* What one count is in the device's value: one, or the W or mA that it is told. */
static int32_t value_of_count(const struct output_settings *settings)
{
    if (backend_of(settings)->counts_most > 0) {
        return 1;
    }
    return settings->scale_ma > 0 ? settings->scale_ma : settings->scale_w;
}

int32_t level_amount(const struct output_settings *settings, int32_t level_w)
{
    if (level_w <= 0) {
        return 0;
    }
    int64_t value = counts(settings, level_w) * value_of_count(settings);
    int32_t most = backend_of(settings)->counts_most;
    if (most > 0 && value > most) {
        value = most;
    }
    return value > INT32_MAX ? INT32_MAX : (int32_t)value;
}

int32_t level_amount_w(const struct output_settings *settings, int32_t value)
{
    int64_t count = value / value_of_count(settings);
    int64_t level_w = settings->scale_ma > 0
                          ? count * settings->scale_ma * settings->watts_per_amp / 1000
                          : count * settings->scale_w;
    return level_w > INT32_MAX ? INT32_MAX : (int32_t)level_w;
}
