/* decode.c - from the registers of one block to values.
 *
 * A raw value is first a bit pattern of 16, 32 or 64 bits, put together in the
 * map's word order; patterns that mean "not available" are known as patterns.
 * Then it is read as what the type says and scaled. Whole numbers stay whole
 * numbers: the decimal exponent of a scale register is folded into the fraction
 * first, so that nothing is rounded but the result. Whatever cannot be true is
 * no value: the sample lacks it, and nobody need check for magic numbers. */
#include <math.h>
#include <string.h>

#include "meter.h"
#include "meter/quantity_row.h"

enum { EXPONENT_MAX = 10 };

static const int16_t exponent_absent = INT16_MIN; /* SunSpec: sunssf 0x8000 */

struct fraction {
    int64_t num, den;
};

static bool block_holds(const struct meter_block *block, uint32_t address, uint32_t count)
{
    return address >= block->address && address + count <= (uint32_t)block->address + block->count;
}

/* The value's bits, right-aligned. */
static uint64_t raw_bits(enum meter_type type, enum meter_order order, const uint16_t words[])
{
    uint16_t count = meter_type_registers(type);
    uint64_t bits = 0;
    for (uint16_t i = 0; i < count; i++)
        bits = bits << 16 | words[order == METER_HIGH_FIRST ? i : count - 1 - i];
    return bits;
}

static bool is_absent(const struct meter_point *point, uint64_t bits)
{
    unsigned width = 16u * meter_type_registers(point->type);
    uint64_t mask = width == 64 ? UINT64_MAX : (UINT64_C(1) << width) - 1;
    return (point->has_absent && bits == (point->absent & mask)) ||
           (point->absent_zero && bits == 0);
}

/* ---- scaling ------------------------------------------------------------------ */

static int64_t common_divisor(int64_t a, int64_t b)
{
    while (b != 0) {
        int64_t rest = a % b;
        a = b;
        b = rest;
    }
    return a;
}

static bool fold_exponent(struct fraction *scale, int16_t exponent)
{
    if (exponent < -EXPONENT_MAX || exponent > EXPONENT_MAX)
        return false;
    int64_t *part = exponent < 0 ? &scale->den : &scale->num;
    for (int i = exponent < 0 ? -exponent : exponent; i > 0; i--)
        if (__builtin_mul_overflow(*part, 10, part))
            return false;
    return true;
}

/* False: the point's exponent makes no sense. */
static bool scale_of(const struct meter_point *point, const struct meter_block *block,
                     const uint16_t registers[], struct fraction *scale)
{
    *scale = (struct fraction){point->scale_num, point->scale_den};
    if (point->scale_register != METER_NO_REGISTER) {
        int16_t exponent = (int16_t)registers[point->scale_register - block->address];
        if (exponent == exponent_absent && point->scale_optional)
            exponent = 0;
        if (!fold_exponent(scale, exponent))
            return false;
    }
    int64_t divisor = common_divisor(scale->num, scale->den);
    *scale = (struct fraction){scale->num / divisor, scale->den / divisor};
    return true;
}

/* Rounded to the nearest, halves away from zero. */
static bool scale_whole(int64_t raw, struct fraction scale, int64_t *value)
{
    int64_t product;
    if (__builtin_mul_overflow(raw, scale.num, &product))
        return false;
    int64_t quotient = product / scale.den, rest = product % scale.den;
    int64_t half_up = scale.den - scale.den / 2; /* the least rest that rounds up */
    if (rest >= half_up)
        quotient++;
    else if (rest <= -half_up)
        quotient--;
    *value = quotient;
    return true;
}

static bool scale_float(double raw, struct fraction scale, int64_t *value)
{
    double scaled = raw * (double)scale.num / (double)scale.den;
    if (!isfinite(scaled) || fabs(scaled) > 1e18)
        return false;
    *value = (int64_t)(scaled + (scaled < 0 ? -0.5 : 0.5));
    return true;
}

/* ---- types ------------------------------------------------------------------- */

static double float_of(enum meter_type type, uint64_t bits)
{
    if (type == METER_FLOAT64) {
        double wide;
        memcpy(&wide, &bits, sizeof wide);
        return wide;
    }
    uint32_t narrow_bits = (uint32_t)bits;
    float narrow;
    memcpy(&narrow, &narrow_bits, sizeof narrow);
    return (double)narrow;
}

int64_t meter_whole_number(enum meter_type type, enum meter_order order, const uint16_t registers[])
{
    uint64_t bits = raw_bits(type, order, registers);
    switch (type) {
    case METER_INT16:
        return (int16_t)bits;
    case METER_INT32:
        return (int32_t)bits;
    case METER_INT64:
        return (int64_t)bits;
    case METER_UINT16:
    case METER_UINT32:
    case METER_UINT64:
        return bits <= INT64_MAX ? (int64_t)bits : INT64_MAX;
    case METER_FLOAT32:
    case METER_FLOAT64:
        return 0;
    }
    return 0;
}

static bool value_of(enum meter_type type, uint64_t bits, struct fraction scale, int64_t *value)
{
    switch (type) {
    case METER_INT16:
        return scale_whole((int16_t)bits, scale, value);
    case METER_INT32:
        return scale_whole((int32_t)bits, scale, value);
    case METER_INT64:
        return scale_whole((int64_t)bits, scale, value);
    case METER_UINT16:
    case METER_UINT32:
    case METER_UINT64:
        return bits <= INT64_MAX && scale_whole((int64_t)bits, scale, value);
    case METER_FLOAT32:
    case METER_FLOAT64:
        return scale_float(float_of(type, bits), scale, value);
    }
    return false;
}

static bool decode_point(const struct meter_point *point, const struct meter_block *block,
                         const uint16_t registers[], int64_t *value)
{
    int64_t greatest = meter_quantity_row(point->quantity)->greatest;
    uint64_t bits =
        raw_bits(point->type, point->order, registers + (point->address - block->address));
    struct fraction scale;
    if (is_absent(point, bits) || !scale_of(point, block, registers, &scale) ||
        !value_of(point->type, bits, scale, value) || *value > greatest || *value < -greatest)
        return false;
    if (point->inverted)
        *value = -*value;
    return true;
}

static bool lies_in(const struct meter_point *point, const struct meter_block *block)
{
    return point->table == block->table &&
           block_holds(block, point->address, meter_type_registers(point->type)) &&
           (point->scale_register == METER_NO_REGISTER ||
            block_holds(block, (uint32_t)point->scale_register, 1));
}

void meter_decode(const struct meter_map *map, const struct meter_block *block,
                  const uint16_t registers[], struct meter_sample *sample)
{
    for (uint8_t i = 0; i < map->point_count; i++) {
        const struct meter_point *point = &map->point[i];
        int64_t value;
        if (!lies_in(point, block) || !decode_point(point, block, registers, &value))
            continue;
        sample->has |= UINT32_C(1) << point->quantity;
        sample->value[point->quantity] = value;
    }
}
