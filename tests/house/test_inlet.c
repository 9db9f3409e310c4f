/* Mains water by season. */
#include "house/inlet.h"
#include "suite.h"

static const struct inlet usual = {.mean_c = 18, .swing_k = 4, .coldest_day = 40};

START_TEST(test_it_is_coldest_on_its_coldest_day_and_warmest_half_a_year_later)
{
    ck_assert_double_eq_tol(inlet_c(&usual, 40), 14, 1e-12);
    ck_assert_double_eq_tol(inlet_c(&usual, 40 + 182), 22, 1e-3);
    for (int day = 1; day <= 366; day++) {
        ck_assert_double_ge(inlet_c(&usual, day), 14 - 1e-12);
        ck_assert_double_le(inlet_c(&usual, day), 22 + 1e-12);
    }
}
END_TEST

START_TEST(test_its_mean_over_a_year_is_the_mean)
{
    double sum_c = 0;
    for (int day = 1; day <= 365; day++)
        sum_c += inlet_c(&usual, day);
    ck_assert_double_eq_tol(sum_c / 365, 18, 1e-9);
}
END_TEST

START_TEST(test_without_a_swing_it_is_the_same_all_year)
{
    struct inlet even = {.mean_c = 12};
    ck_assert_double_eq(inlet_c(&even, 1), 12);
    ck_assert_double_eq(inlet_c(&even, 200), 12);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_it_is_coldest_on_its_coldest_day_and_warmest_half_a_year_later,
        test_its_mean_over_a_year_is_the_mean,
        test_without_a_swing_it_is_the_same_all_year,
    };
    return RUN("inlet", tests);
}
