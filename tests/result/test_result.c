/* Sums over pieces, whole and in part. */
#include "result/result.h"

#include <math.h>

#include "../house/suite.h"

static void add(struct result *result, int64_t from_ms, int64_t to_ms, double spare_mwh,
                int32_t starts)
{
    struct result_piece *piece = result_add_piece(result, &result->grid, from_ms, to_ms);
    ck_assert_ptr_nonnull(piece);
    piece->amount.spare_mwh = spare_mwh;
    piece->amount.on_ms = to_ms - from_ms;
    piece->amount.starts = starts;
}

START_TEST(test_a_sum_takes_whole_pieces_whole_and_others_by_their_share_of_time)
{
    struct result result = {.end_ms = 300};
    add(&result, 0, 100, 1000, 1);
    add(&result, 100, 200, 2000, 0);
    add(&result, 250, 300, 500, 2);
    struct result_amount all = result_total(&result, &result.grid);
    ck_assert_double_eq(all.spare_mwh, 3500);
    ck_assert_int_eq(all.starts, 3);
    ck_assert_double_eq(result_sum(&result.grid, 50, 125).spare_mwh, 500 + 500);
    ck_assert_int_eq(result_sum(&result.grid, 50, 125).on_ms, 75);
    ck_assert_double_eq(result_sum(&result.grid, 100, 200).spare_mwh, 2000);
    result_free(&result);
}
END_TEST

START_TEST(test_time_without_pieces_is_not_covered)
{
    struct result result = {.end_ms = 300};
    add(&result, 0, 100, 1000, 0);
    add(&result, 250, 300, 500, 0);
    ck_assert_int_eq(result_covered_ms(&result.grid, 0, 300), 150);
    ck_assert_int_eq(result_covered_ms(&result.grid, 100, 250), 0);
    ck_assert_double_eq(result_sum(&result.grid, 100, 250).spare_mwh, 0);
    ck_assert(isnan(result_sum(&result.grid, 0, 300).coldest_c));
    result_free(&result);
}
END_TEST

START_TEST(test_a_load_is_there_once)
{
    struct result result = {.end_ms = 0};
    for (int k = 0; k < 100; k++) {
        ck_assert_ptr_nonnull(result_load(&result, "pool-pump"));
        ck_assert_ptr_nonnull(result_load(&result, "water-heater"));
    }
    ck_assert_uint_eq(result.load_count, 2);
    ck_assert_str_eq(result_title(&result.load[1]), "water-heater");
    result_free(&result);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_a_sum_takes_whole_pieces_whole_and_others_by_their_share_of_time,
        test_time_without_pieces_is_not_covered,
        test_a_load_is_there_once,
    };
    return RUN("result", tests);
}
