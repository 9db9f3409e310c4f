/* Decoding: every type in both word orders, scales, absent values. */
#include <check.h>
#include <math.h>
#include <string.h>

#include "meter/meter.h"
#include "noise.h"

static struct meter_point watts(enum meter_type type, enum meter_order order)
{
    return (struct meter_point){.quantity = METER_POWER,
                                .table = METER_INPUT,
                                .address = 100,
                                .type = type,
                                .order = order,
                                .scale_num = 1000,
                                .scale_den = 1,
                                .scale_register = METER_NO_REGISTER};
}

/* Decodes one point from words that begin at 100; false: it was left out. */
static bool decode(struct meter_point point, const uint16_t words[], uint16_t count, int64_t *value)
{
    struct meter_map map = {.point_count = 1, .point = {point}};
    struct meter_block block = {.table = METER_INPUT, .address = 100, .count = count};
    struct meter_sample sample = {.has = 0};
    meter_decode(&map, &block, words, &sample);
    *value = sample.value[point.quantity];
    return sample.has == UINT32_C(1) << point.quantity;
}

static void assert_value(struct meter_point point, const uint16_t words[], int64_t expected)
{
    int64_t value;
    ck_assert(decode(point, words, meter_type_registers(point.type), &value));
    ck_assert_int_eq(value, expected);
}

static void assert_left_out(struct meter_point point, const uint16_t words[])
{
    int64_t value;
    ck_assert(!decode(point, words, meter_type_registers(point.type), &value));
    ck_assert_int_eq(value, 0);
}

/* IEEE 754 single precision, worked out apart from this code. */
static const struct {
    uint16_t high, low;
    int64_t milli;
} floats[] = {
    {0x4366, 0x3333, 230200},                        /* 230.2 */
    {0xc4bb, 0x8000, -1500000},                      /* -1500 */
    {0x449a, 0x5000, 1234500},                       /* 1234.5 */
    {0x0000, 0x0000, 0},        {0x8000, 0x0000, 0}, /* -0 */
};

START_TEST(test_float_is_read_in_both_word_orders)
{
    const uint16_t high_first[] = {floats[_i].high, floats[_i].low};
    const uint16_t low_first[] = {floats[_i].low, floats[_i].high};
    assert_value(watts(METER_FLOAT32, METER_HIGH_FIRST), high_first, floats[_i].milli);
    assert_value(watts(METER_FLOAT32, METER_LOW_FIRST), low_first, floats[_i].milli);
}
END_TEST

/* C4 BB 80 00 taken for low first is -1.7e-38: no spare power from that. */
START_TEST(test_float_in_the_wrong_order_is_next_to_nothing)
{
    const uint16_t words[] = {0x8000, 0xc4bb};
    assert_value(watts(METER_FLOAT32, METER_HIGH_FIRST), words, 0);
}
END_TEST

START_TEST(test_whole_numbers_are_read_in_both_word_orders)
{
    const uint16_t minus_two[] = {0xffff, 0xffff, 0xffff, 0xfffe};
    const uint16_t turned[] = {0xfffe, 0xffff, 0xffff, 0xffff};
    const uint16_t big[] = {0x0001, 0x0002}, big_turned[] = {0x0002, 0x0001};
    const uint16_t energy[] = {0, 0x0001, 0, 0x0003}, energy_turned[] = {0x0003, 0, 0x0001, 0};
    assert_value(watts(METER_INT16, METER_HIGH_FIRST), minus_two + 3, -2000);
    assert_value(watts(METER_UINT16, METER_LOW_FIRST), minus_two + 3, 65534000);
    assert_value(watts(METER_INT32, METER_HIGH_FIRST), minus_two + 2, -2000);
    assert_value(watts(METER_INT32, METER_LOW_FIRST), turned, -2000);
    assert_value(watts(METER_UINT32, METER_HIGH_FIRST), big, 65538000);
    assert_value(watts(METER_UINT32, METER_LOW_FIRST), big_turned, 65538000);
    assert_value(watts(METER_INT64, METER_HIGH_FIRST), minus_two, -2000);
    assert_value(watts(METER_INT64, METER_LOW_FIRST), turned, -2000);
    struct meter_point point = watts(METER_UINT64, METER_HIGH_FIRST);
    point.quantity = METER_IMPORT_ENERGY;
    assert_value(point, energy, INT64_C(4294967299000));
    point.order = METER_LOW_FIRST;
    assert_value(point, energy_turned, INT64_C(4294967299000));
}
END_TEST

/* 1234.5 in double precision is 40934A0000000000. */
START_TEST(test_double_is_read_in_both_word_orders)
{
    const uint16_t high_first[] = {0x4093, 0x4a00, 0, 0}, low_first[] = {0, 0, 0x4a00, 0x4093};
    assert_value(watts(METER_FLOAT64, METER_HIGH_FIRST), high_first, 1234500);
    assert_value(watts(METER_FLOAT64, METER_LOW_FIRST), low_first, 1234500);
}
END_TEST

START_TEST(test_not_a_number_is_no_value)
{
    static const uint16_t patterns[][2] = {
        {0x7fc0, 0x0000}, /* SunSpec: not implemented */
        {0x7fa0, 0x0000}, {0xffc0, 0x0000}, {0x7f80, 0x0001},
        {0xffff, 0xffff}, {0x7f80, 0x0000}, {0xff80, 0x0000}, /* infinities */
        {0x7f7f, 0xffff},                                     /* the greatest float: no meter's */
        {0x4e80, 0x0000},                                     /* 1.07e9 W: more than 1 GW */
    };
    assert_left_out(watts(METER_FLOAT32, METER_HIGH_FIRST), patterns[_i]);
}
END_TEST

START_TEST(test_number_too_large_for_64_bits_is_no_value_and_not_a_negative_one)
{
    const uint16_t beyond_signed[] = {0xffff, 0xffff, 0xffff, 0xfffe};
    const uint16_t beyond_scaled[] = {0x7fff, 0xffff, 0xffff, 0xffff};
    struct meter_point point = watts(METER_UINT64, METER_HIGH_FIRST);
    assert_left_out(point, beyond_scaled);
    assert_left_out(point, beyond_signed);
    point.scale_num = 1;
    assert_left_out(point, beyond_signed);
}
END_TEST

START_TEST(test_pattern_of_the_map_means_not_available)
{
    static const struct {
        enum meter_type type;
        uint64_t absent;
        uint16_t words[4];
    } rows[] = {
        {METER_INT16, 0x8000, {0x8000}},
        {METER_UINT16, 0xffff, {0xffff}},
        {METER_INT32, 0x7fffffff, {0x7fff, 0xffff}},
        {METER_UINT32, 0xffffffff, {0xffff, 0xffff}},
        {METER_INT64, 0x8000000000000000, {0x8000}},
        {METER_UINT64, UINT64_MAX, {0xffff, 0xffff, 0xffff, 0xffff}},
        {METER_INT16, 0xffffffffffff8000, {0x8000}}, /* written wider than it is */
        {METER_FLOAT32, 0xc2c80000, {0xc2c8, 0}},    /* -100 where a maker says so */
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct meter_point point = watts(rows[i].type, METER_HIGH_FIRST);
        point.has_absent = true;
        point.absent = rows[i].absent;
        assert_left_out(point, rows[i].words);
    }
}
END_TEST

START_TEST(test_pattern_is_a_value_where_the_map_does_not_say_so)
{
    const uint16_t words[] = {0x8000};
    assert_value(watts(METER_INT16, METER_HIGH_FIRST), words, -32768000);
}
END_TEST

START_TEST(test_zero_means_not_accumulated_only_where_the_map_says_so)
{
    const uint16_t zero[] = {0, 0}, one[] = {0, 1};
    struct meter_point point = watts(METER_UINT32, METER_HIGH_FIRST);
    assert_value(point, zero, 0);
    point.absent_zero = true;
    assert_left_out(point, zero);
    assert_value(point, one, 1000);
}
END_TEST

START_TEST(test_inverted_point_is_turned_round)
{
    const uint16_t words[] = {0xc4bb, 0x8000};
    struct meter_point point = watts(METER_FLOAT32, METER_HIGH_FIRST);
    point.inverted = true;
    assert_value(point, words, 1500000);
}
END_TEST

START_TEST(test_scale_rounds_to_the_nearest_away_from_zero)
{
    static const struct {
        int16_t raw;
        int64_t num, den, value;
    } rows[] = {
        {5, 1, 10, 1},  {4, 1, 10, 0},   {-5, 1, 10, -1},    {-4, 1, 10, 0},
        {14, 1, 10, 1}, {1, 1, 3, 0},    {2, 1, 3, 1},       {-2, 1, 3, -1},
        {7, 3, 2, 11},  {-7, 3, 2, -11}, {123, 10, 1, 1230}, {123, 100, 10, 1230},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct meter_point point = watts(METER_INT16, METER_HIGH_FIRST);
        const uint16_t words[] = {(uint16_t)rows[i].raw};
        point.scale_num = rows[i].num;
        point.scale_den = rows[i].den;
        assert_value(point, words, rows[i].value);
    }
}
END_TEST

/* A value at 100 and its exponent, as SunSpec has it: raw x 10^exponent. */
static bool decode_scaled(uint16_t raw, uint16_t exponent, bool optional, int64_t *value)
{
    const uint16_t words[] = {raw, exponent};
    struct meter_point point = watts(METER_INT16, METER_HIGH_FIRST);
    point.scale_register = 101;
    point.scale_optional = optional;
    return decode(point, words, 2, value);
}

START_TEST(test_scale_register_is_a_signed_power_of_ten)
{
    int64_t value;
    ck_assert(decode_scaled(1234, 0xffff, false, &value)); /* -1 */
    ck_assert_int_eq(value, 123400);
    ck_assert(decode_scaled(1234, 0, false, &value));
    ck_assert_int_eq(value, 1234000);
    ck_assert(decode_scaled(12, 2, false, &value));
    ck_assert_int_eq(value, 1200000);
    ck_assert(decode_scaled((uint16_t)-1500, (uint16_t)-3, false, &value));
    ck_assert_int_eq(value, -1500);
    ck_assert(decode_scaled(30000, (uint16_t)-10, false, &value));
    ck_assert_int_eq(value, 0);
}
END_TEST

/* SunSpec's sunssf goes from -10 to 10; a meter that shows 0 W says so at either end. */
START_TEST(test_exponents_to_either_end_of_their_range_are_taken)
{
    int64_t value;
    ck_assert(decode_scaled(0, 10, false, &value));
    ck_assert_int_eq(value, 0);
    ck_assert(decode_scaled(0, (uint16_t)-10, false, &value));
    ck_assert_int_eq(value, 0);
}
END_TEST

START_TEST(test_exponent_out_of_range_leaves_the_value_out)
{
    int64_t value;
    ck_assert(!decode_scaled(1, 11, false, &value));
    ck_assert(!decode_scaled(1, (uint16_t)-11, false, &value));
    ck_assert(!decode_scaled(1, 0x7fff, false, &value));
    ck_assert(!decode_scaled(1000, 10, false, &value)); /* 10^13 W: allowed, but no meter's */
    ck_assert(!decode_scaled(1, 0x8001, true, &value));
}
END_TEST

/* SunSpec models: Hz_SF is optional, W_SF mandatory. A power whose mandatory
 * exponent is missing may be off by any power of ten. */
START_TEST(test_exponent_not_implemented_counts_as_zero_only_where_optional)
{
    int64_t value;
    ck_assert(decode_scaled(50, 0x8000, true, &value));
    ck_assert_int_eq(value, 50000);
    ck_assert(!decode_scaled(50, 0x8000, false, &value));
}
END_TEST

START_TEST(test_value_and_its_exponent_come_from_one_block_or_not_at_all)
{
    const uint16_t words[] = {0x4366, 0x3333, 0};
    struct meter_point point = watts(METER_FLOAT32, METER_HIGH_FIRST);
    int64_t value;
    ck_assert(!decode(point, words, 1, &value)); /* half of the value */
    point.scale_register = 102;
    ck_assert(!decode(point, words, 2, &value)); /* without its exponent */
    ck_assert(decode(point, words, 3, &value));
    point.scale_register = 99;
    ck_assert(!decode(point, words, 3, &value));
}
END_TEST

START_TEST(test_point_of_the_other_table_is_not_taken_from_this_one)
{
    const uint16_t words[] = {0x4366, 0x3333};
    struct meter_point point = watts(METER_FLOAT32, METER_HIGH_FIRST);
    point.table = METER_HOLDING;
    int64_t value;
    ck_assert(!decode(point, words, 2, &value));
}
END_TEST

/* ---- random images: a second, plain reading in wide arithmetic ------------------- */

static void put(uint16_t words[], uint64_t bits, int count, enum meter_order order)
{
    for (int i = 0; i < count; i++, bits >>= 16)
        words[order == METER_LOW_FIRST ? i : count - 1 - i] = (uint16_t)bits;
}

static long double plain_value(enum meter_type type, uint64_t bits)
{
    uint32_t half = (uint32_t)bits;
    float single;
    double twice;
    memcpy(&single, &half, sizeof single);
    memcpy(&twice, &bits, sizeof twice);
    switch (type) {
    case METER_INT16:
        return (int16_t)bits;
    case METER_UINT16:
        return (uint16_t)bits;
    case METER_INT32:
        return (int32_t)bits;
    case METER_UINT32:
        return (uint32_t)bits;
    case METER_INT64:
        return (int64_t)bits;
    case METER_UINT64:
        return bits;
    case METER_FLOAT32:
        return (long double)single;
    default:
        return (long double)twice;
    }
}

/* A value of any size that the type can hold, so that small ones come up too. */
static uint64_t random_bits(uint64_t *seed, enum meter_type type)
{
    float single = (float)((double)(int64_t)noise(seed) / 9e18 * pow(10, noise_below(seed, 12)));
    double twice = (double)single;
    uint32_t half;
    uint64_t bits = noise(seed) >> noise_below(seed, 64);
    if (type == METER_FLOAT32) {
        memcpy(&half, &single, sizeof half);
        bits = half;
    } else if (type == METER_FLOAT64) {
        memcpy(&bits, &twice, sizeof bits);
    }
    return bits;
}

START_TEST(test_random_images_decode_as_plain_arithmetic_says)
{
    static const int64_t scales[][2] = {{1, 1},  {1000, 1}, {100, 1},
                                        {10, 1}, {1, 10},   {1000000, 1}};
    uint64_t seed = 0x5eed0000 + (uint64_t)_i;
    int taken = 0;
    for (int round = 0; round < 3000; round++) {
        enum meter_type type = (enum meter_type)(round % 8);
        const int64_t *scale = scales[noise_below(&seed, 6)];
        int exponent = (int)noise_below(&seed, 7) - 3;
        struct meter_point point = watts(type, noise_below(&seed, 2));
        uint16_t words[6] = {0};
        int count = meter_type_registers(type);
        uint64_t bits = random_bits(&seed, type);
        put(words, bits, count, point.order);
        words[count] = (uint16_t)exponent;
        point.scale_num = scale[0];
        point.scale_den = scale[1];
        point.scale_register = 100 + count;
        point.inverted = noise_below(&seed, 2);
        long double expected = plain_value(type, bits) * (long double)scale[0] /
                               (long double)scale[1] * powl(10, exponent);
        int64_t value;
        if (!decode(point, words, (uint16_t)(count + 1), &value)) {
            ck_assert_msg(fabsl(expected) > 0.99e12L, "type %u: %Lf left out", type, expected);
            continue;
        }
        taken++;
        long double off = fabsl((point.inverted ? -expected : expected) - (long double)value);
        ck_assert_msg(off <= 0.5001L + fabsl(expected) * 1e-15L, "type %u: %Lf read as %lld", type,
                      expected, (long long)value);
    }
    ck_assert_int_gt(taken, 1500);
}
END_TEST

int main(void)
{
    Suite *suite = suite_create("decode");
    TCase *cases = tcase_create("decode");
    tcase_add_loop_test(cases, test_float_is_read_in_both_word_orders, 0, 5);
    tcase_add_test(cases, test_float_in_the_wrong_order_is_next_to_nothing);
    tcase_add_test(cases, test_whole_numbers_are_read_in_both_word_orders);
    tcase_add_test(cases, test_double_is_read_in_both_word_orders);
    tcase_add_loop_test(cases, test_not_a_number_is_no_value, 0, 9);
    tcase_add_test(cases, test_number_too_large_for_64_bits_is_no_value_and_not_a_negative_one);
    tcase_add_test(cases, test_pattern_of_the_map_means_not_available);
    tcase_add_test(cases, test_pattern_is_a_value_where_the_map_does_not_say_so);
    tcase_add_test(cases, test_zero_means_not_accumulated_only_where_the_map_says_so);
    tcase_add_test(cases, test_inverted_point_is_turned_round);
    tcase_add_test(cases, test_scale_rounds_to_the_nearest_away_from_zero);
    tcase_add_test(cases, test_scale_register_is_a_signed_power_of_ten);
    tcase_add_test(cases, test_exponents_to_either_end_of_their_range_are_taken);
    tcase_add_test(cases, test_exponent_out_of_range_leaves_the_value_out);
    tcase_add_test(cases, test_exponent_not_implemented_counts_as_zero_only_where_optional);
    tcase_add_test(cases, test_value_and_its_exponent_come_from_one_block_or_not_at_all);
    tcase_add_test(cases, test_point_of_the_other_table_is_not_taken_from_this_one);
    tcase_add_loop_test(cases, test_random_images_decode_as_plain_arithmetic_says, 0, 4);
    suite_add_tcase(suite, cases);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? 1 : 0;
}
