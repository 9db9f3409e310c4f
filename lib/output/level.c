/* level.c - watts to counts, on and off to values.
 *
 * A set-point is always rounded down: spare power of 2.39 kW is 10 A at 230 V,
 * and eleven would be bought. The register counts in `scale_w` watts or in
 * `scale_ma` milliamps; a topic carries watts, or amps where scale_ma is set, in
 * steps of the same scale. */
#include "output/level.h"

#include <stdlib.h>
#include <string.h>

enum { REGISTER_MOST = 0xffff, AMOUNT_TEXT_MAX = 16 };

bool level_is_amount(const struct output_settings *settings)
{
    bool carries = settings->kind == OUTPUT_REGISTER || settings->kind == OUTPUT_TOPIC;
    return carries && (settings->scale_w > 0 || settings->scale_ma > 0);
}

int32_t level_switch(const struct output_settings *settings, bool on)
{
    bool closed = on != settings->normally_closed;
    if (settings->kind == OUTPUT_REGISTER) {
        return closed ? settings->on_value : settings->off_value;
    }
    return closed ? 1 : 0;
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

/* What one unit of the device's value is, in W or mA: a topic carries the
 * amount itself, a register counts of it. */
static int32_t value_of_count(const struct output_settings *settings)
{
    if (settings->kind == OUTPUT_REGISTER) {
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
    if (settings->kind == OUTPUT_REGISTER && value > REGISTER_MOST) {
        value = REGISTER_MOST;
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

void level_payload(const struct output_settings *settings, int32_t value, struct text *payload)
{
    if (!level_is_amount(settings)) {
        text_add(payload, "%s", value ? settings->on_payload : settings->off_payload);
    } else if (settings->scale_ma <= 0) {
        text_add(payload, "%d", (int)value);
    } else if (value % 1000 == 0) {
        text_add(payload, "%d", (int)(value / 1000));
    } else {
        text_add(payload, "%d.%03d", (int)(value / 1000), (int)(value % 1000));
    }
}

static bool is_word(const char *word, const char *payload, size_t length)
{
    return strlen(word) == length && memcmp(word, payload, length) == 0;
}

/* A decimal number of W or A, into W or mA; finer digits are cut off. */
static bool parse_amount(const struct output_settings *settings, const char *payload, size_t length,
                         int32_t *value)
{
    char number[AMOUNT_TEXT_MAX];
    if (length == 0 || length >= sizeof number || memchr(payload, '\0', length)) {
        return false;
    }
    memcpy(number, payload, length);
    number[length] = '\0';
    if (strspn(number, "0123456789.") != length) {
        return false;
    }
    char *end;
    double amount = strtod(number, &end);
    double scaled = settings->scale_ma > 0 ? amount * 1000.0 : amount;
    if (*end != '\0' || end == number || scaled > INT32_MAX) {
        return false;
    }
    *value = (int32_t)(scaled + 1e-6);
    return true;
}

bool level_parse(const struct output_settings *settings, const char *payload, size_t length,
                 int32_t *value)
{
    if (level_is_amount(settings)) {
        return parse_amount(settings, payload, length, value);
    }
    *value = is_word(settings->on_payload, payload, length);
    return *value || is_word(settings->off_payload, payload, length);
}
