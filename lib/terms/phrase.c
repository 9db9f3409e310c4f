/* phrase.c - numbers as people say them. */
#include "terms/phrase.h"

#include <inttypes.h>
#include <stdbool.h>
#include <string.h>

#include "core/quantity.h"
#include "terms/confirmation.h"
#include "terms/floor.h"
#include "terms/reading.h"

/* A nonsensical number must not overflow while it is rounded. */
static int64_t number_of(const struct phrase_numbers *numbers, int which)
{
    const int64_t most = INT64_MAX / 2;
    int64_t number = which < numbers->count ? numbers->number[which] : 0;
    return number < -most ? -most : number > most ? most : number;
}

static int64_t rounded(int64_t value, int64_t step)
{
    int64_t half = value < 0 ? -(step / 2) : step / 2;
    return (value + half) / step * step;
}

static int64_t rounded_up(int64_t value, int64_t step)
{
    return value <= 0 ? 0 : (value - 1) / step * step + step;
}

static int64_t round_power_w(int64_t power_w)
{
    return power_w > -1000 && power_w < 1000 ? power_w : rounded(power_w, 100);
}

static int64_t round_duration_ms(int64_t duration_ms)
{
    return rounded_up(duration_ms, duration_ms > MS_PER_MIN ? MS_PER_MIN : MS_PER_S);
}

static int64_t round_energy_mwh(int64_t energy_mwh)
{
    const int64_t kwh = 1000000;
    return rounded_up(energy_mwh, energy_mwh > kwh ? kwh / 100 : kwh / 1000);
}

/* "spare 3.6 kW of 3.6 kW needed" would be a riddle: where rounding makes two
 * different powers look the same, both are written to the watt. */
static bool is_riddle(const struct phrase *phrase, const struct phrase_numbers *numbers,
                      int64_t power_w)
{
    for (int k = 0; k < PHRASE_ARGUMENTS; k++) {
        int64_t other_w = number_of(numbers, phrase->argument[k].number);
        if (phrase->argument[k].kind == PHRASE_POWER && other_w != power_w &&
            round_power_w(other_w) == round_power_w(power_w))
            return true;
    }
    return false;
}

/* What is left of an element with equal rods, or of its phases. */
static void write_part(int64_t permille, struct text *text)
{
    static const struct {
        int permille;
        const char *word;
    } parts[] = {{333, "a third"}, {500, "half"}, {667, "two thirds"}};
    for (size_t k = 0; k < sizeof(parts) / sizeof(parts[0]); k++)
        if (permille > parts[k].permille - 50 && permille < parts[k].permille + 50) {
            text_add(text, "%s", parts[k].word);
            return;
        }
    text_add(text, "%" PRId64 " %%", rounded(permille, 10) / 10);
}

static void write_times(int64_t count, struct text *text)
{
    if (count == 1 || count == 2)
        text_add(text, "%s", count == 1 ? "once" : "twice");
    else
        text_add(text, "%" PRId64 " times", count);
}

static void write_resistance(int64_t milliohm, struct text *text)
{
    int64_t tenths = rounded(milliohm, 100) / 100;
    text_add(text, "%" PRId64 ".%" PRId64 " ohm", tenths / 10, tenths % 10);
}

static void write_argument(const struct phrase *phrase, int k, const struct phrase_numbers *numbers,
                           struct text *text)
{
    int64_t value = number_of(numbers, phrase->argument[k].number);
    switch (phrase->argument[k].kind) {
    case PHRASE_POWER:
        quantity_write(QUANTITY_POWER_W,
                       is_riddle(phrase, numbers, value) ? value : round_power_w(value), text);
        break;
    case PHRASE_AMOUNT:
        if (numbers->measure != FLOOR_ENERGY) {
            quantity_write(QUANTITY_DURATION_MS, round_duration_ms(value), text);
            break;
        }
        /* fall through */
    case PHRASE_ENERGY:
        quantity_write(QUANTITY_ENERGY_MWH, round_energy_mwh(value), text);
        break;
    case PHRASE_DURATION:
        quantity_write(QUANTITY_DURATION_MS, round_duration_ms(value), text);
        break;
    case PHRASE_CLOCK:
        quantity_write(QUANTITY_TIME_S, value - value % 60, text);
        break;
    case PHRASE_CURRENT:
        quantity_write(QUANTITY_CURRENT_MA, rounded(value, 100), text);
        break;
    case PHRASE_VOLTAGE:
        quantity_write(QUANTITY_VOLTAGE_MV, rounded(value, 1000), text);
        break;
    case PHRASE_RESISTANCE:
        write_resistance(value, text);
        break;
    case PHRASE_PERMILLE:
        quantity_write(QUANTITY_SHARE_PERMILLE, rounded(value, 10), text);
        break;
    case PHRASE_PRICE:
        quantity_write(QUANTITY_PRICE_MICRO, rounded(value, 1000), text);
        break;
    case PHRASE_NUMBER:
        text_add(text, "%" PRId64, value);
        break;
    case PHRASE_TIMES:
        write_times(value, text);
        break;
    case PHRASE_HEALTH:
        text_add(text, "%s", output_health_text((enum output_health)value));
        break;
    case PHRASE_QUALITY:
        text_add(text, "%s", reading_quality_text((enum reading_quality)value));
        break;
    case PHRASE_PART:
        write_part(value, text);
        break;
    case PHRASE_NAME:
        text_add(text, "%s", numbers->name);
        break;
    case PHRASE_NONE:
        break;
    }
}

void phrase_write(const struct phrase *phrase, const struct phrase_numbers *numbers,
                  struct text *text)
{
    const char *at = phrase->text;
    for (int k = 0;; k++) {
        int length = (int)strcspn(at, "%");
        text_add(text, "%.*s", length, at);
        at += length;
        if (*at++ == '\0' || k == PHRASE_ARGUMENTS)
            return;
        write_argument(phrase, k, numbers, text);
    }
}
