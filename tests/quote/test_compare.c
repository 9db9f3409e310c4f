/* Every way on the same days: what is compared, within which bounds, and what is advised. */
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "../house/suite.h"
#include "../trial/rig.h"
#include "quote/compare.h"
#include "quote/compare_report.h"
#include "quote/parallel.h"
#include "quote/samples.h"
#include "quote/verdict.h"

enum { DAYS = 6 };

static const struct quote_settings quote = {.currency = "$",
                                            .timer_cost = 250,
                                            .controlled_cost = 400,
                                            .diverter_cost = 1000,
                                            .sluice_cost = 600,
                                            .years = 10};

/* ---- jobs ------------------------------------------------------------------------- */

static void square(const void *context, int index, void *result)
{
    const int *shift = context;
    *(long *)result = (long)(index + *shift) * (index + *shift);
}

static void die_at_three(const void *context, int index, void *result)
{
    (void)context;
    if (index == 3)
        _exit(7);
    *(long *)result = index;
}

static void count_progress(void *context, int done)
{
    int *last = context;
    ck_assert_int_eq(done, *last + 1);
    *last = done;
}

START_TEST(test_two_workers_fill_in_the_same_as_one)
{
    enum { COUNT = 101 };
    const int shift = 4;
    for (int workers = 1; workers <= 2; workers++) {
        long results[COUNT] = {0};
        int told = 0;
        struct parallel jobs = {.work = square,
                                .context = &shift,
                                .result_size = sizeof(long),
                                .workers = workers,
                                .progress = count_progress,
                                .progress_context = &told};
        ck_assert(parallel_run(&jobs, COUNT, results));
        ck_assert_int_eq(told, COUNT);
        for (int k = 0; k < COUNT; k++)
            ck_assert_int_eq(results[k], (long)(k + 4) * (k + 4));
    }
}
END_TEST

START_TEST(test_a_worker_that_dies_is_not_passed_over)
{
    long results[8] = {0};
    struct parallel jobs = {.work = die_at_three, .result_size = sizeof(long), .workers = 2};
    ck_assert(!parallel_run(&jobs, 8, results));
}
END_TEST

/* ---- a comparison of invented days ---------------------------------------------------- */

static struct rig *rig_of(uint64_t seed)
{
    struct rig *rig = rig_new(60, DAYS * 1440);
    rig_chance(rig, seed);
    rig->tariff.controlled =
        (struct tariff_controlled){.there = true,
                                   .count = 1,
                                   .daily_micro = 50000,
                                   .hours = {1, {{22 * 3600, 6 * 3600, WEEKDAYS_ALL}}},
                                   .band = {{.price_micro = 180000}}};
    rig->rules.tariff = rig->tariff;
    return rig;
}

static void compare_rig(struct compare *compare, const struct rig *rig, bool tune)
{
    const struct compare_wish wish = {.home = &rig->home,
                                      .days = &rig->days,
                                      .rules = &rig->rules,
                                      .quote = &quote,
                                      .seeds = 1,
                                      .tune = tune};
    struct trouble trouble = {0};
    ck_assert_msg(compare_run(compare, &wish, &trouble), "%s", trouble.text);
}

START_TEST(test_no_way_costs_less_than_the_bound_that_its_share_refers_to)
{
    for (uint64_t seed = 1; seed <= 3; seed++) {
        struct rig *rig = rig_of(seed);
        struct compare compare;
        compare_rig(&compare, rig, false);
        for (int way = 0; way < WAY_COUNT; way++) {
            enum compare_way bound = compare_bound_of(&compare, (enum compare_way)way);
            if (way == WAY_CONTROLLED || !compare.result[way].there)
                continue;
            ck_assert_msg(compare.result[way].mean.cost >= compare.result[bound].mean.cost - 1e-6,
                          "seed %d, way %d: %.6f beats %.6f", (int)seed, way,
                          compare.result[way].mean.cost, compare.result[bound].mean.cost);
        }
        ck_assert_double_le(compare.result[WAY_FORESIGHT_PROPORTIONAL].mean.cost,
                            compare.result[WAY_FORESIGHT_SWITCHED].mean.cost + 1e-6);
        compare_free(&compare);
        rig_free(rig);
    }
}
END_TEST

START_TEST(test_a_share_is_what_is_saved_of_what_could_be)
{
    struct rig *rig = rig_of(1);
    struct compare compare;
    compare_rig(&compare, rig, false);
    const struct compare_result *result = compare.result;
    double could = result[WAY_ALWAYS_ON].mean.cost - result[WAY_FORESIGHT_PROPORTIONAL].mean.cost;
    double does = result[WAY_ALWAYS_ON].mean.cost - result[WAY_DIVERTER].mean.cost;
    ck_assert_double_eq_tol(result[WAY_DIVERTER].mean.share, does / could, 1e-12);
    could = result[WAY_ALWAYS_ON].mean.cost - result[WAY_FORESIGHT_SWITCHED].mean.cost;
    does = result[WAY_ALWAYS_ON].mean.cost - result[WAY_SLUICE].mean.cost;
    ck_assert_double_eq_tol(result[WAY_SLUICE].mean.share, does / could, 1e-12);
    ck_assert_double_eq(result[WAY_ALWAYS_ON].mean.share, 0);
    ck_assert_msg(isnan(result[WAY_CONTROLLED].mean.share), "it has prices of its own");
    compare_free(&compare);
    rig_free(rig);
}
END_TEST

START_TEST(test_figures_are_those_of_a_run_made_a_year)
{
    struct rig *rig = rig_of(2);
    struct compare compare;
    compare_rig(&compare, rig, false);
    rig->tariff.controlled = (struct tariff_controlled){0};
    const struct trial_plan plan = {.strategy = STRATEGY_ALWAYS_ON};
    struct trial_outcome outcome = rig_run(rig, &plan);
    const struct compare_figures *figures = &compare.result[WAY_ALWAYS_ON].mean;
    double year = 365.0 / DAYS;
    ck_assert_double_eq_tol(figures->sun_kwh, outcome.heat_sun_kwh * year, 1e-9);
    ck_assert_double_eq_tol(figures->grid_kwh, outcome.heat_grid_kwh * year, 1e-9);
    ck_assert_double_eq_tol(figures->bill,
                            (outcome.bill - compare.left_price * outcome.stored_kwh) * year, 1e-6);
    compare_free(&compare);
    rig_free(rig);
}
END_TEST

START_TEST(test_only_the_off_peak_supply_pays_for_itself)
{
    struct rig *rig = rig_of(3);
    struct compare with, without;
    compare_rig(&with, rig, false);
    ck_assert(with.result[WAY_CONTROLLED].there);
    rig->tariff.controlled = (struct tariff_controlled){0};
    compare_rig(&without, rig, false);
    ck_assert(!without.result[WAY_CONTROLLED].there);
    for (int way = 0; way < WAY_COUNT; way++)
        if (way != WAY_CONTROLLED && !compare_is_bound((enum compare_way)way) &&
            with.result[way].there)
            ck_assert_double_eq_tol(with.result[way].mean.bill, without.result[way].mean.bill,
                                    1e-9);
    compare_free(&with);
    compare_free(&without);
    rig_free(rig);
}
END_TEST

START_TEST(test_tuning_never_makes_the_tuned_days_worse)
{
    struct rig *rig = rig_of(4);
    struct compare compare;
    rig->load[0].floor_count = 1;
    rig->load[0].floor[0] = (struct floor_settings){
        .weekdays = WEEKDAYS_ALL, .by_s = 17 * 3600, .amount = 2 * MS_PER_HOUR};
    compare_rig(&compare, rig, true);
    const struct compare_figures *tuned = &compare.result[WAY_TUNED].sample[0];
    const struct compare_figures *configured = &compare.result[WAY_SLUICE].sample[0];
    ck_assert_int_gt(compare.tune_runs, 20);
    ck_assert_double_lt(tuned->cost, configured->cost);
    ck_assert_double_le(tuned->spoilt,
                        fmax(configured->spoilt, compare.result[WAY_ALWAYS_ON].sample[0].spoilt +
                                                     SPOILT_MORE_PER_YEAR));
    struct trouble trouble;
    ck_assert(rules_settings_check(&compare.tuned_rules, &trouble));
    compare_free(&compare);
    rig_free(rig);
}
END_TEST

/* No day has a floor, and the sun alone is not enough. */
START_TEST(test_tuning_finds_a_floor_where_showers_are_cold_without)
{
    struct rig *rig = rig_of(4);
    struct compare compare;
    for (size_t k = 0; k < rig->days.count; k++)
        rig->solar_w[k] *= 0.4f;
    rig->load[0].floor_count = 0;
    compare_rig(&compare, rig, true);
    double most = compare.result[WAY_ALWAYS_ON].sample[0].spoilt + SPOILT_MORE_PER_YEAR;
    ck_assert_double_gt(compare.result[WAY_SLUICE].sample[0].spoilt, most);
    ck_assert_double_le(compare.result[WAY_TUNED].sample[0].spoilt, most);
    /* cold settings, those configured among them, would have cost less */
    ck_assert(isfinite(compare.tune_cold.spoilt));
    ck_assert_double_gt(compare.tune_cold.spoilt, most - 1);
    ck_assert_double_lt(compare.tune_cold.bill, compare.tune_best.bill);
    compare_free(&compare);
    rig_free(rig);
}
END_TEST

START_TEST(test_what_cannot_be_compared_is_refused)
{
    struct rig *rig = rig_of(1);
    struct compare compare;
    struct trouble trouble = {0};
    struct compare_wish wish = {
        .home = &rig->home, .days = &rig->days, .rules = &rig->rules, .quote = &quote};
    rig->tariff.count = 0;
    ck_assert(!compare_run(&compare, &wish, &trouble));
    ck_assert_ptr_nonnull(strstr(trouble.text, "tariff"));
    compare_free(&compare);
    rig->tariff.count = 1;
    rig->rules.load_count = 2;
    ck_assert(!compare_run(&compare, &wish, &trouble));
    ck_assert_ptr_nonnull(strstr(trouble.text, "one water heater"));
    compare_free(&compare);
    rig_free(rig);
}
END_TEST

START_TEST(test_two_years_of_hours_are_two_samples_for_each_seed)
{
    enum { HOURS = 2 * 8760 };
    static float use_w[HOURS], solar_w[HOURS];
    struct compare compare = {0};
    struct trouble trouble = {0};
    double told = 0, got = 0;
    for (int h = 0; h < HOURS; h++) {
        use_w[h] = 300 + (float)(h / 8760) * 100;
        solar_w[h] = h % 24 >= 8 && h % 24 < 16 ? 2000 : 0;
        told += solar_w[h];
    }
    struct days days = {.first = {0},
                        .step_s = 3600,
                        .count = HOURS,
                        .steps = HOURS,
                        .use_w = use_w,
                        .solar_w = solar_w};
    compare.wish = (struct compare_wish){.days = &days, .seeds = 2};
    ck_assert_msg(compare_samples(&compare, &trouble), "%s", trouble.text);
    ck_assert_int_eq(compare.sample_count, 4);
    ck_assert_int_eq(compare.years, 2);
    ck_assert_int_eq(compare.sample[2].first.ms, (int64_t)365 * MS_PER_DAY);
    for (int s = 0; s < 4; s++) {
        ck_assert_int_eq(compare.sample[s].step_s, 60);
        for (size_t k = 0; k < compare.sample[s].count; k++)
            got += compare.sample[s].solar_w[k] / 60.0 / 2;
    }
    ck_assert_double_eq_tol(got / told, 1, 1e-4);
    /* 1700 W to spare in 8 h of each day; within an hour a lack does not undo a surplus */
    ck_assert_double_eq_tol(compare.flat_spare_kwh, 1.7 * 8 * 365, 1);
    ck_assert_double_gt(compare.spare_kwh, compare.flat_spare_kwh);
    compare_free(&compare);
}
END_TEST

START_TEST(test_a_report_holds_the_heat_of_the_run)
{
    struct rig *rig = rig_of(5);
    struct compare compare;
    struct result result;
    struct trouble trouble = {0};
    double sun = 0, grid = 0;
    compare_rig(&compare, rig, false);
    ck_assert_msg(report_make(&compare, WAY_DIVERTER, &result, &trouble), "%s", trouble.text);
    for (int month = 1; month <= REPORT_MONTHS; month++) {
        struct result_amount heat;
        ck_assert_int_eq(report_month(&result, month, &heat), month == 10); /* October */
        sun += heat.spare_mwh / 1e6;
        grid += heat.grid_mwh / 1e6;
    }
    result_free(&result);
    const struct compare_figures *figures = &compare.result[WAY_DIVERTER].sample[0];
    double year = 365.0 / DAYS;
    ck_assert_double_eq_tol(sun * year, figures->sun_kwh, 1e-3 * figures->sun_kwh + 1e-6);
    ck_assert_double_eq_tol((sun + grid) * year, figures->sun_kwh + figures->grid_kwh,
                            1e-6 * (figures->sun_kwh + figures->grid_kwh));
    compare_free(&compare);
    rig_free(rig);
}
END_TEST

/* ---- advice: of figures made up for it --------------------------------------------------- */

/* Bills a year in each of two samples; spoilt showers. */
static void make_up(struct compare *compare, enum compare_way way, double first, double second,
                    double spoilt)
{
    struct compare_result *result = &compare->result[way];
    result->there = true;
    result->sample[0] = (struct compare_figures){.bill = first, .spoilt = spoilt};
    result->sample[1] = (struct compare_figures){.bill = second, .spoilt = spoilt};
    result->mean = (struct compare_figures){.bill = (first + second) / 2, .spoilt = spoilt};
}

static struct compare made_up(void)
{
    struct compare compare = {.sample_count = 2};
    compare.wish.quote = &quote;
    make_up(&compare, WAY_ALWAYS_ON, 2000, 2000, 1);
    make_up(&compare, WAY_TIMER, 1900, 1900, 1);
    make_up(&compare, WAY_DIVERTER, 1700, 1720, 1);
    make_up(&compare, WAY_SLUICE, 1750, 1700, 1);
    return compare;
}

START_TEST(test_most_left_over_after_the_years_is_advised)
{
    struct compare compare = made_up();
    struct compare_verdict verdict;
    compare_judge(&compare, &verdict);
    /* sluice: (250 + 300) / 2 * 10 - 600 = 2150; diverter: (300 + 280) / 2 * 10 - 1000 = 1900 */
    ck_assert_int_eq(verdict.buy, WAY_SLUICE);
    ck_assert_int_eq(verdict.second, WAY_DIVERTER);
    ck_assert_double_eq_tol(verdict.offer[WAY_SLUICE].net, 2150, 1e-9);
    ck_assert_double_eq_tol(verdict.lead, 250, 1e-9);
    ck_assert_double_eq_tol(verdict.lead_least, -100, 1e-9); /* 1900 - 2000 in the first sample */
    ck_assert_int_eq(verdict.first_in, 1);
    ck_assert_double_eq_tol(verdict.offer[WAY_SLUICE].payback_years, 600 / 275.0, 1e-9);
}
END_TEST

START_TEST(test_what_makes_showers_cold_is_not_advised)
{
    struct compare compare = made_up();
    struct compare_verdict verdict;
    make_up(&compare, WAY_SLUICE, 1200, 1200, 1 + SPOILT_MORE_PER_YEAR + 1);
    compare_judge(&compare, &verdict);
    ck_assert(!verdict.offer[WAY_SLUICE].hot);
    ck_assert_int_eq(verdict.buy, WAY_DIVERTER);
}
END_TEST

START_TEST(test_a_better_timer_or_off_peak_supply_is_advised)
{
    struct compare compare = made_up();
    struct compare_verdict verdict;
    make_up(&compare, WAY_TIMER, 1740, 1740, 1);
    compare_judge(&compare, &verdict);
    ck_assert_int_eq(verdict.buy, WAY_TIMER);
    make_up(&compare, WAY_CONTROLLED, 1600, 1600, 1);
    compare_judge(&compare, &verdict);
    ck_assert_int_eq(verdict.buy, WAY_CONTROLLED);
    ck_assert_int_eq(verdict.second, WAY_TIMER);
}
END_TEST

START_TEST(test_where_nothing_pays_nothing_is_advised)
{
    struct compare compare = made_up();
    struct compare_verdict verdict;
    make_up(&compare, WAY_TIMER, 1990, 1990, 1);
    make_up(&compare, WAY_DIVERTER, 2010, 2010, 1);
    make_up(&compare, WAY_SLUICE, 1950, 1950, 1);
    compare_judge(&compare, &verdict);
    ck_assert_int_eq(verdict.buy, WAY_ALWAYS_ON);
    ck_assert(isinf(verdict.offer[WAY_DIVERTER].payback_years));
}
END_TEST

START_TEST(test_a_home_that_is_a_little_different_may_want_another)
{
    struct compare compare = made_up();
    struct compare_verdict verdict;
    for (int v = 0; v < COMPARE_VARIANTS; v++)
        for (int way = 0; way < WAY_COUNT; way++)
            compare.varied[v][way] = compare.result[way].mean;
    compare.varied[0][WAY_SLUICE].spoilt = 100;
    compare.varied[1][WAY_TIMER].bill = 1500;
    for (int way = WAY_TIMER; way < WAY_COUNT; way++)
        compare.varied[3][way].bill = 1980;
    compare_judge(&compare, &verdict);
    ck_assert_int_eq(verdict.with[0].first, WAY_DIVERTER);
    ck_assert_int_eq(verdict.with[0].reason, TURN_COLD);
    ck_assert_double_eq(verdict.with[0].spoilt, 100);
    ck_assert_double_eq(verdict.with[0].always, 1);
    ck_assert_int_eq(verdict.with[1].first, WAY_TIMER);
    ck_assert_int_eq(verdict.with[1].reason, TURN_BEATEN);
    /* timer: (2000 - 1500) * 10 - 250 = 4750; sluice 2150 */
    ck_assert_double_eq_tol(verdict.with[1].by, 2600, 1e-9);
    ck_assert_int_eq(verdict.with[2].first, WAY_SLUICE);
    ck_assert_int_eq(verdict.with[2].reason, TURN_NONE);
    ck_assert_int_eq(verdict.with[3].first, WAY_ALWAYS_ON);
    ck_assert_int_eq(verdict.with[3].reason, TURN_UNPAID);
    /* sluice lacks 600 less ten times the 20 that it saves */
    ck_assert_double_eq_tol(verdict.with[3].by, 400, 1e-9);
}
END_TEST

/* Samples alike and homes alike: sure; a lead that one sample turns, or that is small against
 * what is left over: not, however often it comes first. */
START_TEST(test_how_sure_the_advice_is_has_one_answer)
{
    struct compare compare = made_up();
    struct compare_verdict verdict;
    compare_judge(&compare, &verdict);
    ck_assert_int_eq(verdict.sure, SURE_NOT);
    make_up(&compare, WAY_SLUICE, 1735, 1735, 1);
    make_up(&compare, WAY_DIVERTER, 1700, 1700, 1);
    compare_judge(&compare, &verdict);
    ck_assert_int_eq(verdict.first_in, 2);
    ck_assert_double_eq_tol(verdict.lead, 50, 1e-9); /* of 2050 */
    ck_assert_int_eq(verdict.sure, SURE_NOT);
    make_up(&compare, WAY_SLUICE, 1600, 1600, 1);
    for (int v = 0; v < COMPARE_VARIANTS; v++)
        for (int way = 0; way < WAY_COUNT; way++)
            compare.varied[v][way] = compare.result[way].mean;
    compare_judge(&compare, &verdict);
    ck_assert_int_eq(verdict.sure, SURE_ALIKE);
    compare.varied[2][WAY_SLUICE].spoilt = 100;
    compare_judge(&compare, &verdict);
    ck_assert_int_eq(verdict.sure, SURE_THIS_HOME);
}
END_TEST

START_TEST(test_more_hot_water_or_use_or_less_sun_costs_more)
{
    struct rig *rig = rig_of(6);
    struct compare compare;
    compare_rig(&compare, rig, false);
    const struct compare_figures *told = &compare.result[WAY_ALWAYS_ON].sample[0];
    ck_assert_double_gt(compare.varied[0][WAY_ALWAYS_ON].bill, told->bill);
    ck_assert_double_lt(compare.varied[1][WAY_ALWAYS_ON].bill, told->bill);
    ck_assert_double_gt(compare.varied[2][WAY_ALWAYS_ON].bill, told->bill);
    ck_assert_double_gt(compare.varied[3][WAY_ALWAYS_ON].bill, told->bill);
    compare_free(&compare);
    rig_free(rig);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_two_workers_fill_in_the_same_as_one,
        test_a_worker_that_dies_is_not_passed_over,
        test_no_way_costs_less_than_the_bound_that_its_share_refers_to,
        test_a_share_is_what_is_saved_of_what_could_be,
        test_figures_are_those_of_a_run_made_a_year,
        test_only_the_off_peak_supply_pays_for_itself,
        test_tuning_never_makes_the_tuned_days_worse,
        test_tuning_finds_a_floor_where_showers_are_cold_without,
        test_what_cannot_be_compared_is_refused,
        test_two_years_of_hours_are_two_samples_for_each_seed,
        test_a_report_holds_the_heat_of_the_run,
        test_most_left_over_after_the_years_is_advised,
        test_what_makes_showers_cold_is_not_advised,
        test_a_better_timer_or_off_peak_supply_is_advised,
        test_where_nothing_pays_nothing_is_advised,
        test_a_home_that_is_a_little_different_may_want_another,
        test_how_sure_the_advice_is_has_one_answer,
        test_more_hot_water_or_use_or_less_sun_costs_more,
    };
    return RUN("compare", tests);
}
