/* view.c - decoded readings written as a SunSpec meter.
 *
 * The decoder's own table (meter/sunspec_models.h) says where each quantity lies; here
 * it is read the other way round. What the table does not list, or the meter does not
 * tell, is "not implemented" by its type. Scale factors never change while we run:
 * clients read them once.
 *
 * Two points follow from others by their definition: the total current is the sum of
 * the phases' currents, and the mean voltage their mean; both only where each phase of
 * the model is known.
 *
 * Source: SunSpec information models, github.com/sunspec/models, commit 7abdf898: common
 * 1, meters 201-204 and 211-214. Not implemented: int16 and sunssf 8000, acc32 0, float
 * NaN (Information Model Specification, data types). */
#include "gateway/view.h"

#include <string.h>

#include "meter/sunspec_models.h"

enum {
    COMMON_AT = 2, /* behind the marker */
    COMMON_LENGTH = 66,
    MODEL_AT = COMMON_AT + 2 + COMMON_LENGTH,
    INTEGER_LENGTH = 105,
    FLOAT_LENGTH = 124,
    ABSENT = 0x8000,
    NAN_HIGH = 0x7fc0,
    VOLTAGE_EXP = -1,
    FREQUENCY_EXP = -2,
    ENERGY_EXP = 0, /* Wh: 32 bits hold 4.2 GWh */
};

static bool is_float(const struct gateway_served *served)
{
    return served->view == GATEWAY_SUNSPEC_FLOAT;
}

static uint16_t model_id(const struct gateway_served *served)
{
    uint16_t wiring = served->wiring == GATEWAY_AS_SITE ? GATEWAY_SINGLE : served->wiring;
    return (uint16_t)((is_float(served) ? 211 : 201) + wiring - GATEWAY_SINGLE);
}

/* ---- the fixed part ------------------------------------------------------------------ */

static void put_text(uint16_t at[], size_t registers, const char *text)
{
    size_t length = strlen(text);
    for (size_t i = 0; i < registers; i++) {
        unsigned high = 2 * i < length ? (unsigned char)text[2 * i] : 0;
        unsigned low = 2 * i + 1 < length ? (unsigned char)text[2 * i + 1] : 0;
        at[i] = (uint16_t)(high << 8 | low);
    }
}

static void put_common(uint16_t at[], const struct gateway_served *served, const char *version)
{
    at[0] = 1;
    at[1] = COMMON_LENGTH;
    put_text(at + 2, 16, "sluice");
    put_text(at + 18, 16, served->device);
    put_text(at + 34, 8, "");
    put_text(at + 42, 8, version);
    put_text(at + 50, 16, served->meter);
    at[66] = served->unit;
    at[67] = ABSENT;
}

/* Accumulators, event bits and all else of the integer models: where 32 bits lie. */
static bool is_zero_when_absent(uint16_t offset)
{
    static const uint16_t exponents[] = {54, 71, 104};
    for (size_t i = 0; i < sizeof(exponents) / sizeof(exponents[0]); i++)
        if (offset == exponents[i])
            return false;
    return offset >= 38;
}

static void clear_integers(uint16_t model[])
{
    for (uint16_t offset = 2; offset < 2 + INTEGER_LENGTH; offset++)
        model[offset] = is_zero_when_absent(offset) ? 0 : ABSENT;
}

static void clear_floats(uint16_t model[])
{
    enum { EVENTS_AT = 124 };
    for (uint16_t offset = 2; offset < 2 + FLOAT_LENGTH; offset += 2) {
        model[offset] = offset == EVENTS_AT ? 0 : NAN_HIGH;
        model[offset + 1] = 0;
    }
}

static void clear_model(struct view *view, const struct gateway_served *served)
{
    uint16_t *model = view->value + MODEL_AT;
    if (is_float(served))
        clear_floats(model);
    else
        clear_integers(model);
}

void view_begin(struct view *view, const struct gateway_served *served, const char *version)
{
    uint16_t length = is_float(served) ? FLOAT_LENGTH : INTEGER_LENGTH;
    *view = (struct view){.live_from = MODEL_AT + 2, .live_to = (uint16_t)(MODEL_AT + 2 + length)};
    put_text(view->value, 2, "SunS");
    put_common(view->value + COMMON_AT, served, version);
    view->value[MODEL_AT] = model_id(served);
    view->value[MODEL_AT + 1] = length;
    clear_model(view, served);
    view->value[view->live_to] = 0xffff; /* the end of the chain, of length 0 */
    view->value[view->live_to + 1] = 0;
    view->count = (uint16_t)(view->live_to + 2);
}

/* ---- what a reading fills in ----------------------------------------------------------- */

/* A quantity in the inside unit, a thousandth of the model's. */
static void put_float(uint16_t at[], int64_t milli)
{
    float value = (float)((double)milli / 1000);
    uint32_t bits;
    memcpy(&bits, &value, sizeof(bits));
    at[0] = (uint16_t)(bits >> 16);
    at[1] = (uint16_t)bits;
}

/* milli / 1000 / 10^exponent, rounded half away from zero. */
static int64_t scaled(int64_t milli, int exponent)
{
    int64_t divisor = 1;
    for (int k = -3; k < exponent; k++)
        divisor *= 10;
    return (milli + (milli < 0 ? -divisor : divisor) / 2) / divisor;
}

/* What does not fit is not told: a wrong number would be worse. */
static void put_int16(uint16_t at[], int64_t milli, int exponent)
{
    int64_t value = scaled(milli, exponent);
    at[0] = value > INT16_MAX || value <= INT16_MIN ? ABSENT : (uint16_t)value;
}

/* An accumulator begins anew at 2^32. */
static void put_acc32(uint16_t at[], int64_t milli)
{
    uint64_t value = (uint64_t)scaled(milli < 0 ? 0 : milli, ENERGY_EXP);
    at[0] = (uint16_t)(value >> 16);
    at[1] = (uint16_t)value;
}

static int exponent_of(const struct gateway_served *served, enum meter_quantity quantity)
{
    if (quantity <= METER_POWER_L3)
        return served->power_exp;
    if (quantity <= METER_CURRENT_L3)
        return served->current_exp;
    return quantity == METER_FREQUENCY ? FREQUENCY_EXP : VOLTAGE_EXP;
}

static void put_point(uint16_t model[], const struct gateway_served *served,
                      const struct sunspec_point *point, int64_t value)
{
    uint16_t *at = model + point->offset;
    if (point->type == SUNSPEC_FLOAT32)
        put_float(at, value);
    else if (point->type == SUNSPEC_ACC32)
        put_acc32(at, value);
    else
        put_int16(at, value, exponent_of(served, point->quantity));
}

/* A model's own phases: the others stay not implemented whatever the meter tells. */
static unsigned phases_of(const struct gateway_served *served)
{
    switch (served->wiring) {
    case GATEWAY_SPLIT:
        return 2;
    case GATEWAY_WYE:
    case GATEWAY_DELTA:
        return 3;
    default:
        return 1;
    }
}

static bool is_of_phase_beyond(enum meter_quantity quantity, unsigned phases)
{
    static const enum meter_quantity firsts[] = {METER_POWER_L1, METER_CURRENT_L1,
                                                 METER_VOLTAGE_L1};
    for (size_t k = 0; k < sizeof(firsts) / sizeof(firsts[0]); k++)
        if (quantity >= firsts[k] + phases && quantity < firsts[k] + 3)
            return true;
    return false;
}

/* The sum over the model's phases; false: not all are known. */
static bool sum_phases(const struct meter_sample *sample, enum meter_quantity first,
                       unsigned phases, int64_t *sum)
{
    *sum = 0;
    for (unsigned phase = 0; phase < phases; phase++) {
        if (!(sample->has >> (first + phase) & 1))
            return false;
        *sum += sample->value[first + phase];
    }
    return true;
}

static void put_derived(uint16_t model[], const struct gateway_served *served,
                        const struct meter_sample *sample)
{
    static const struct sunspec_point integers[] = {
        {.quantity = METER_CURRENT_L1, .name = "A", .offset = 2, .type = SUNSPEC_INT16},
        {.quantity = METER_VOLTAGE_L1, .name = "PhV", .offset = 7, .type = SUNSPEC_INT16},
    };
    static const struct sunspec_point floats[] = {
        {.quantity = METER_CURRENT_L1, .name = "A", .offset = 2, .type = SUNSPEC_FLOAT32},
        {.quantity = METER_VOLTAGE_L1, .name = "PhV", .offset = 10, .type = SUNSPEC_FLOAT32},
    };
    const struct sunspec_point *points = is_float(served) ? floats : integers;
    unsigned phases = phases_of(served);
    int64_t sum;
    if (sum_phases(sample, METER_CURRENT_L1, phases, &sum))
        put_point(model, served, &points[0], sum);
    if (sum_phases(sample, METER_VOLTAGE_L1, phases, &sum))
        put_point(model, served, &points[1], sum / (int64_t)phases);
}

static void put_exponents(uint16_t model[], const struct gateway_served *served)
{
    const struct sunspec_model *layout = sunspec_model(model_id(served));
    for (uint8_t k = 0; k < layout->point_count; k++) {
        const struct sunspec_point *point = &layout->points[k];
        if (!point->scale_name)
            continue;
        int exponent =
            point->type == SUNSPEC_ACC32 ? (int)ENERGY_EXP : exponent_of(served, point->quantity);
        model[point->scale_offset] = (uint16_t)exponent;
    }
}

void view_fill(struct view *view, const struct gateway_served *served,
               const struct meter_sample *sample, int64_t at_us)
{
    const struct sunspec_model *layout = sunspec_model(model_id(served));
    uint16_t *model = view->value + MODEL_AT;
    unsigned phases = phases_of(served);
    clear_model(view, served);
    put_exponents(model, served);
    for (uint8_t k = 0; k < layout->point_count; k++) {
        const struct sunspec_point *point = &layout->points[k];
        if ((sample->has >> point->quantity & 1) && !is_of_phase_beyond(point->quantity, phases))
            put_point(model, served, point, sample->value[point->quantity]);
    }
    put_derived(model, served, sample);
    view->filled = true;
    view->at_us = at_us;
}
