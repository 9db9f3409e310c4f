/* Devices that answer anything at all: fixed seeds, bounded rounds. Registers lie in
 * memory of their exact size, so that a sanitizer sees a step beyond it. */
#include <check.h>
#include <stdlib.h>
#include <string.h>

#include "meter/meter.h"
#include "meter/plausible.h"
#include "meter/sunspec.h"
#include "noise.h"

/* Mostly words that lead somewhere. */
static uint16_t likely_word(uint64_t *seed)
{
    static const uint16_t likely[] = {0x5375, 0x6e53, 0,      1,      2,      65,     66,
                                      101,    103,    105,    120,    124,    201,    204,
                                      211,    214,    0x8000, 0xffff, 0x7fc0, 0x7f80, 0xfff6};
    return noise_below(seed, 3) == 0 ? (uint16_t)noise(seed)
                                     : likely[noise_below(seed, sizeof likely / sizeof likely[0])];
}

static uint16_t *random_registers(uint64_t *seed, uint16_t count)
{
    uint16_t *registers = malloc(count * sizeof *registers);
    ck_assert_ptr_nonnull(registers);
    for (uint16_t i = 0; i < count; i++)
        registers[i] = likely_word(seed);
    return registers;
}

static void assert_values_bounded(const struct meter_sample *sample)
{
    for (int q = 0; q < METER_QUANTITIES; q++) {
        ck_assert_int_le(llabs(sample->value[q]), INT64_C(10000000000000000));
        ck_assert((sample->has >> q & 1) || sample->value[q] == 0);
    }
    ck_assert_uint_eq(sample->has >> METER_QUANTITIES, 0);
}

/* One round as the line's worker makes it, with whatever comes back. */
static struct meter_sample read_round(const struct meter_map *map, const struct meter_plan *plan,
                                      uint64_t *seed)
{
    struct meter_sample sample = {.has = 0};
    for (uint8_t i = 0; i < plan->count; i++) {
        uint16_t *registers = random_registers(seed, plan->block[i].count);
        meter_decode(map, &plan->block[i], registers, &sample);
        free(registers);
    }
    assert_values_bounded(&sample);
    return sample;
}

START_TEST(test_walk_along_noise_ends_and_its_map_can_be_planned)
{
    uint64_t seed = 0x5a17 + (uint64_t)_i;
    int found = 0;
    for (int round = 0; round < 600; round++) {
        struct sunspec_walk walk;
        sunspec_begin(&walk);
        walk.wanted = (enum sunspec_wanted)noise_below(&seed, 3);
        int asked = 0;
        while (walk.state == SUNSPEC_ASKING) {
            ck_assert_int_lt(++asked, 300); /* 3 bases, 100 models of at most 2 reads */
            ck_assert_uint_le(walk.count, METER_BLOCK_REGISTERS_MAX);
            ck_assert_uint_le((uint32_t)walk.address + walk.count, 65536);
            uint16_t *registers = random_registers(&seed, walk.count);
            if (walk.step == SUNSPEC_MARKER) {
                registers[0] = 0x5375;
                registers[1] = 0x6e53;
            }
            sunspec_feed(&walk, noise_below(&seed, 20) == 0 ? NULL : registers);
            free(registers);
        }
        if (walk.state != SUNSPEC_FOUND)
            continue;
        struct meter_plan plan;
        struct trouble trouble;
        found++;
        ck_assert_msg(meter_plan_make(&walk.map, &plan, &trouble), "%s", trouble.text);
        read_round(&walk.map, &plan, &seed);
    }
    ck_assert_int_gt(found, 30);
}
END_TEST

static struct meter_point random_point(uint64_t *seed)
{
    static const int64_t scales[] = {1, 2, 3, 10, 1000, 1000000, 1000000000, INT64_MAX};
    struct meter_point point = {
        .quantity = (enum meter_quantity)noise_below(seed, METER_QUANTITIES),
        .table = (enum meter_table)noise_below(seed, 2),
        .address = (uint16_t)(noise_below(seed, 2) ? 65400 + noise_below(seed, 136)
                                                   : noise_below(seed, 200)),
        .type = (enum meter_type)noise_below(seed, 8),
        .order = (enum meter_order)noise_below(seed, 2),
        .scale_num = scales[noise_below(seed, 8)],
        .scale_den = scales[noise_below(seed, 8)],
        .scale_register = METER_NO_REGISTER,
        .scale_optional = noise_below(seed, 2),
        .inverted = noise_below(seed, 2),
        .has_absent = noise_below(seed, 2),
        .absent = noise(seed),
        .absent_zero = noise_below(seed, 2),
    };
    if (noise_below(seed, 3) == 0)
        point.scale_register = (point.address + (int32_t)noise_below(seed, 100)) & 0xffff;
    return point;
}

START_TEST(test_any_map_of_any_registers_gives_bounded_values_or_none)
{
    uint64_t seed = 0xdec0de + (uint64_t)_i;
    struct plausible_limits limits = {.needs_power = true, .power_mw = 40000000, .stuck_ms = 1000};
    struct plausible_memory memory = {.begun = false};
    int planned = 0, decoded = 0;
    for (int round = 0; round < 1000; round++) {
        struct meter_map map = {.point_count = (uint8_t)(1 + noise_below(&seed, 8))};
        struct meter_plan plan;
        struct trouble trouble;
        for (uint8_t i = 0; i < map.point_count; i++)
            map.point[i] = random_point(&seed);
        if (!meter_plan_make(&map, &plan, &trouble)) {
            ck_assert_str_ne(trouble.text, "");
            continue;
        }
        planned++;
        struct meter_sample sample = read_round(&map, &plan, &seed);
        decoded += sample.has != 0;
        enum implausible fault =
            plausible_check(&limits, &memory, &sample, (struct mono){100 * round});
        ck_assert(fault <= IMPLAUSIBLE_STUCK);
        ck_assert(fault == IMPLAUSIBLE_NO_POWER || (sample.has >> METER_POWER & 1));
    }
    ck_assert_int_gt(planned, 300);
    ck_assert_int_gt(decoded, 150);
}
END_TEST

int main(void)
{
    Suite *suite = suite_create("noise");
    TCase *cases = tcase_create("noise");
    tcase_add_loop_test(cases, test_walk_along_noise_ends_and_its_map_can_be_planned, 0, 4);
    tcase_add_loop_test(cases, test_any_map_of_any_registers_gives_bounded_values_or_none, 0, 4);
    suite_add_tcase(suite, cases);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? 1 : 0;
}
