/* Plans: what may be read together, and properties over random maps. */
#include <check.h>
#include <stdlib.h>
#include <string.h>

#include "meter/meter.h"
#include "noise.h"

static struct meter_point at(uint16_t address, enum meter_type type)
{
    return (struct meter_point){.quantity = METER_POWER,
                                .address = address,
                                .type = type,
                                .scale_num = 1,
                                .scale_den = 1,
                                .scale_register = METER_NO_REGISTER};
}

static struct meter_plan plan_of(const struct meter_map *map)
{
    struct meter_plan plan;
    struct trouble trouble;
    ck_assert_msg(meter_plan_make(map, &plan, &trouble), "%s", trouble.text);
    return plan;
}

static void assert_refused(const struct meter_map *map, const char *told)
{
    struct meter_plan plan;
    struct trouble trouble;
    ck_assert(!meter_plan_make(map, &plan, &trouble));
    ck_assert_msg(strstr(trouble.text, told) != NULL, "%s", trouble.text);
}

static void assert_block(const struct meter_block *block, uint16_t address, uint16_t count)
{
    ck_assert_uint_eq(block->address, address);
    ck_assert_uint_eq(block->count, count);
}

START_TEST(test_gap_of_sixteen_registers_is_read_across_and_seventeen_not)
{
    struct meter_map map = {.point_count = 2, .point = {at(18, METER_INT32), at(0, METER_INT32)}};
    struct meter_plan plan = plan_of(&map);
    ck_assert_uint_eq(plan.count, 1);
    assert_block(&plan.block[0], 0, 20);
    map.point[0].address = 19;
    plan = plan_of(&map);
    ck_assert_uint_eq(plan.count, 2);
    assert_block(&plan.block[0], 0, 2);
    assert_block(&plan.block[1], 19, 2);
}
END_TEST

static void assert_split(const struct meter_map *map, struct meter_plan *plan, uint8_t index,
                         uint8_t parts)
{
    ck_assert_uint_eq(meter_plan_split(map, plan, index), parts);
}

START_TEST(test_a_block_is_split_at_its_gaps_then_value_by_value_and_no_further)
{
    /* 0-1, 2-3, a gap, 8-9; and behind a far gap 100 */
    struct meter_map map = {.point_count = 4,
                            .point = {at(0, METER_INT32), at(2, METER_INT32), at(8, METER_INT32),
                                      at(100, METER_INT16)}};
    struct meter_plan plan = plan_of(&map);
    ck_assert_uint_eq(plan.count, 2);
    assert_split(&map, &plan, 1, 0);
    assert_split(&map, &plan, 0, 2);
    ck_assert_uint_eq(plan.count, 3);
    assert_block(&plan.block[0], 0, 4);
    assert_block(&plan.block[1], 8, 2);
    assert_block(&plan.block[2], 100, 1);
    assert_split(&map, &plan, 1, 0);
    assert_split(&map, &plan, 0, 2);
    assert_block(&plan.block[0], 0, 2);
    assert_block(&plan.block[1], 2, 2);
    assert_block(&plan.block[2], 8, 2);
    assert_split(&map, &plan, 0, 0);
}
END_TEST

START_TEST(test_a_value_is_never_split_from_its_scale)
{
    struct meter_map map = {.point_count = 2, .point = {at(0, METER_INT16), at(1, METER_INT16)}};
    map.point[0].scale_register = map.point[1].scale_register = 5;
    struct meter_plan plan = plan_of(&map);
    ck_assert_uint_eq(plan.count, 1);
    assert_split(&map, &plan, 0, 0); /* both need register 5: one span overlaps the other */
}
END_TEST

START_TEST(test_totals_that_are_split_off_are_read_less_often)
{
    struct meter_map map = {.point_count = 2, .point = {at(0, METER_INT32), at(6, METER_INT32)}};
    map.point[1].quantity = METER_IMPORT_ENERGY;
    struct meter_plan plan = plan_of(&map);
    ck_assert(!plan.block[0].totals);
    assert_split(&map, &plan, 0, 2);
    ck_assert(!plan.block[0].totals);
    ck_assert(plan.block[1].totals);
}
END_TEST

START_TEST(test_block_ends_at_125_registers)
{
    struct meter_map map = {.point_count = 9};
    for (uint8_t i = 0; i < 9; i++)
        map.point[i] = at((uint16_t)(i * 15 + (i == 8)), METER_INT64); /* the last at 121 */
    struct meter_plan plan = plan_of(&map);
    ck_assert_uint_eq(plan.count, 1);
    assert_block(&plan.block[0], 0, 125);
    map.point[8].address = 122;
    plan = plan_of(&map);
    ck_assert_uint_eq(plan.count, 2);
    assert_block(&plan.block[0], 0, 109);
    assert_block(&plan.block[1], 122, 4);
}
END_TEST

START_TEST(test_tables_are_not_mixed)
{
    struct meter_map map = {.point_count = 2, .point = {at(0, METER_INT16), at(1, METER_INT16)}};
    map.point[1].table = METER_INPUT;
    ck_assert_uint_eq(plan_of(&map).count, 2);
}
END_TEST

START_TEST(test_block_of_energy_alone_is_read_less_often)
{
    struct meter_map map = {
        .point_count = 3,
        .point = {at(0, METER_INT16), at(100, METER_INT32), at(102, METER_INT32)}};
    map.point[1].quantity = METER_IMPORT_ENERGY;
    map.point[2].quantity = METER_EXPORT_ENERGY;
    struct meter_plan plan = plan_of(&map);
    ck_assert_uint_eq(plan.count, 2);
    ck_assert(!plan.block[0].totals);
    ck_assert(plan.block[1].totals);
    map.point[0].address = 110; /* now it comes along with them */
    plan = plan_of(&map);
    ck_assert_uint_eq(plan.count, 1);
    ck_assert(!plan.block[0].totals);
}
END_TEST

START_TEST(test_scale_register_is_read_with_its_value)
{
    struct meter_map map = {.point_count = 1, .point = {at(0, METER_INT16)}};
    map.point[0].scale_register = 124;
    assert_block(&plan_of(&map).block[0], 0, 125);
    map.point[0].address = 200;
    assert_block(&plan_of(&map).block[0], 124, 77);
    map.point[0].address = 249;
    assert_refused(&map, "126 registers apart");
}
END_TEST

START_TEST(test_last_register_can_be_read_and_none_beyond)
{
    struct meter_map map = {.point_count = 1, .point = {at(65534, METER_INT32)}};
    assert_block(&plan_of(&map).block[0], 65534, 2);
    map.point[0].address = 65535;
    assert_refused(&map, "beyond the last register");
}
END_TEST

START_TEST(test_map_without_points_is_refused)
{
    struct meter_map map = {.point_count = 0};
    assert_refused(&map, "1 to 24 points");
}
END_TEST

START_TEST(test_map_with_a_scale_of_zero_is_refused)
{
    struct meter_map map = {.point_count = 1, .point = {at(0, METER_INT16)}};
    map.point[0].scale_den = 0;
    assert_refused(&map, "power: the scale");
}
END_TEST

START_TEST(test_points_too_far_apart_for_the_room_of_a_plan_are_refused)
{
    struct meter_map map = {.point_count = METER_POINTS_MAX};
    for (uint16_t i = 0; i < METER_POINTS_MAX; i++)
        map.point[i] = at((uint16_t)(i * 1000), METER_INT16);
    assert_refused(&map, "more than 16 requests");
}
END_TEST

/* ---- properties over random maps ---------------------------------------------------- */

static bool lies_in(const struct meter_block *block, enum meter_table table, uint32_t first,
                    uint32_t count)
{
    return block->table == table && first >= block->address &&
           first + count <= (uint32_t)block->address + block->count;
}

static int blocks_with(const struct meter_plan *plan, const struct meter_point *point)
{
    int count = 0;
    for (uint8_t i = 0; i < plan->count; i++)
        count += lies_in(&plan->block[i], point->table, point->address,
                         meter_type_registers(point->type)) &&
                 (point->scale_register == METER_NO_REGISTER ||
                  lies_in(&plan->block[i], point->table, (uint32_t)point->scale_register, 1));
    return count;
}

/* Values one behind the other with gaps, shuffled, in both tables. */
static struct meter_map random_map(uint64_t *seed, uint32_t widest_gap)
{
    struct meter_map map = {.point_count = (uint8_t)(1 + noise_below(seed, 16))};
    uint32_t next[2] = {noise_below(seed, 65536 - 16 * (widest_gap + 4)), 0};
    for (uint8_t i = 0; i < map.point_count; i++) {
        struct meter_point *point = &map.point[i];
        enum meter_table table = noise_below(seed, 4) == 0 ? METER_INPUT : METER_HOLDING;
        *point = at((uint16_t)next[table], (enum meter_type)noise_below(seed, 8));
        point->table = table;
        point->quantity = (enum meter_quantity)noise_below(seed, METER_QUANTITIES);
        next[table] += meter_type_registers(point->type) + noise_below(seed, widest_gap);
    }
    for (uint8_t i = map.point_count; i > 1; i--) {
        uint8_t other = (uint8_t)noise_below(seed, i);
        struct meter_point swapped = map.point[other];
        map.point[other] = map.point[i - 1];
        map.point[i - 1] = swapped;
    }
    return map;
}

static void assert_blocks_sound(const struct meter_plan *plan, const struct meter_map *map)
{
    for (uint8_t i = 0; i < plan->count; i++) {
        const struct meter_block *block = &plan->block[i];
        bool slow = true;
        ck_assert_uint_ge(block->count, 1);
        ck_assert_uint_le(block->count, 125);
        for (uint8_t p = 0; p < map->point_count; p++)
            if (lies_in(block, map->point[p].table, map->point[p].address, 1) &&
                map->point[p].quantity != METER_IMPORT_ENERGY &&
                map->point[p].quantity != METER_EXPORT_ENERGY)
                slow = false;
        ck_assert_int_eq(block->totals, slow);
    }
}

static int by_place(const void *a, const void *b)
{
    const struct meter_point *one = a, *other = b;
    return one->table != other->table ? (int)one->table - (int)other->table
                                      : one->address - other->address;
}

/* The fewest blocks by trying every way to cut the row of values: the best for the
 * first `to` values is one block more than the best for the first `from`. */
static int fewest_blocks(const struct meter_map *map)
{
    struct meter_point row[METER_POINTS_MAX];
    int fewest[METER_POINTS_MAX + 1] = {0};
    memcpy(row, map->point, sizeof row);
    qsort(row, map->point_count, sizeof row[0], by_place);
    for (int to = 1; to <= map->point_count; to++) {
        uint32_t end = (uint32_t)row[to - 1].address + meter_type_registers(row[to - 1].type);
        fewest[to] = to;
        for (int from = to - 1; from >= 0; from--) {
            if (row[from].table != row[to - 1].table || end - row[from].address > 125)
                break;
            if (from + 1 < to && row[from + 1].address > (uint32_t)row[from].address +
                                                             meter_type_registers(row[from].type) +
                                                             16)
                break;
            if (fewest[from] + 1 < fewest[to])
                fewest[to] = fewest[from] + 1;
        }
    }
    return fewest[map->point_count];
}

START_TEST(test_every_point_lies_in_exactly_one_block_of_a_random_map)
{
    uint64_t seed = 0x91a0 + (uint64_t)_i;
    for (int round = 0; round < 500; round++) {
        struct meter_map map = random_map(&seed, 1 + noise_below(&seed, 60));
        struct meter_plan plan = plan_of(&map);
        for (uint8_t p = 0; p < map.point_count; p++)
            ck_assert_msg(blocks_with(&plan, &map.point[p]) == 1, "seed %d, round %d, point %u", _i,
                          round, p);
        assert_blocks_sound(&plan, &map);
        ck_assert_int_eq(plan.count, fewest_blocks(&map));
    }
}
END_TEST

/* Scale registers anywhere near make spans overlap: a register may then be read
 * twice, but no value without its exponent. */
START_TEST(test_every_value_comes_with_its_scale_register_in_a_random_map)
{
    uint64_t seed = 0x5ca1e + (uint64_t)_i;
    int made = 0;
    for (int round = 0; round < 500; round++) {
        struct meter_map map = random_map(&seed, 1 + noise_below(&seed, 40));
        struct meter_plan plan;
        struct trouble trouble;
        for (uint8_t p = 0; p < map.point_count; p++)
            if (noise_below(&seed, 2) == 0)
                map.point[p].scale_register =
                    map.point[p].address + (int32_t)noise_below(&seed, 60);
        if (!meter_plan_make(&map, &plan, &trouble))
            continue; /* runs past the last register */
        made++;
        for (uint8_t p = 0; p < map.point_count; p++)
            ck_assert_msg(blocks_with(&plan, &map.point[p]) >= 1, "seed %d, round %d, point %u", _i,
                          round, p);
        for (uint8_t i = 0; i < plan.count; i++)
            ck_assert_uint_le(plan.block[i].count, 125);
    }
    ck_assert_int_gt(made, 400);
}
END_TEST

int main(void)
{
    Suite *suite = suite_create("plan");
    TCase *cases = tcase_create("plan");
    tcase_add_test(cases, test_gap_of_sixteen_registers_is_read_across_and_seventeen_not);
    tcase_add_test(cases, test_a_block_is_split_at_its_gaps_then_value_by_value_and_no_further);
    tcase_add_test(cases, test_a_value_is_never_split_from_its_scale);
    tcase_add_test(cases, test_totals_that_are_split_off_are_read_less_often);
    tcase_add_test(cases, test_block_ends_at_125_registers);
    tcase_add_test(cases, test_tables_are_not_mixed);
    tcase_add_test(cases, test_block_of_energy_alone_is_read_less_often);
    tcase_add_test(cases, test_scale_register_is_read_with_its_value);
    tcase_add_test(cases, test_last_register_can_be_read_and_none_beyond);
    tcase_add_test(cases, test_map_without_points_is_refused);
    tcase_add_test(cases, test_map_with_a_scale_of_zero_is_refused);
    tcase_add_test(cases, test_points_too_far_apart_for_the_room_of_a_plan_are_refused);
    tcase_add_loop_test(cases, test_every_point_lies_in_exactly_one_block_of_a_random_map, 0, 4);
    tcase_add_loop_test(cases, test_every_value_comes_with_its_scale_register_in_a_random_map, 0,
                        4);
    suite_add_tcase(suite, cases);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? 1 : 0;
}
