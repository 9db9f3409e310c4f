/* Every way on the same days: what is compared, within which bounds, and what is advised. */
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "../core/suite.h"
#include "../house/suite.h"
#include "../trial/rig.h"
#include "quote/compare.h"
#include "quote/compare_report.h"
#include "quote/parallel.h"
#include "quote/samples.h"
#include "quote/verdict.h"

enum { DAYS = 3, DAYS_TUNED = 6 };

static const struct quote_settings quote = {.currency = "$",
                                            .timer_cost = 250,
                                            .controlled_cost = 400,
                                            .diverter_cost = 1000,
                                            .board_cost = 150,
                                            .relay_cost = 100,
                                            .contactor_cost = 100,
                                            .regulator_cost = 350,
                                            .labour_cost = 250,
                                            .sensor_cost = 80,
                                            .element_cost = 150,
                                            .valve_cost = 250,
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

static struct rig *rig_of_days(uint64_t seed, int days)
{
    struct rig *rig = rig_new(60, (size_t)days * 1440);
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

static struct rig *rig_of(uint64_t seed)
{
    return rig_of_days(seed, DAYS);
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
            const struct hardware *own = &compare.fit[way].hardware;
            if (way == WAY_CONTROLLED || !compare.result[way].there ||
                own->element_w != compare.present.element_w ||
                own->set_mc != compare.present.set_mc)
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
    ck_assert_int_ne(compare.fit[WAY_DIVERTER].hardware.set_mc, compare.present.set_mc);
    ck_assert_msg(isnan(result[WAY_DIVERTER].mean.share), "the bound is another thermostat's");
    double could = result[WAY_ALWAYS_ON].mean.cost - result[WAY_FORESIGHT_SWITCHED].mean.cost;
    double does = result[WAY_ALWAYS_ON].mean.cost - result[WAY_SLUICE].mean.cost;
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

static bool suits_the_rules(const struct compare *compare, enum compare_way way)
{
    struct trouble trouble;
    struct compare_ready ready;
    compare_prepare(compare, way, &compare->fit[way], &ready);
    return rules_settings_check(&ready.rules, &trouble);
}

START_TEST(test_tuning_never_makes_the_tuned_days_worse)
{
    struct rig *rig = rig_of(4);
    struct compare compare;
    rig->load[0].floor_count = 1;
    rig->load[0].floor[0] = (struct floor_settings){
        .weekdays = WEEKDAYS_ALL, .by_s = 17 * 3600, .amount = 2 * MS_PER_HOUR};
    compare_rig(&compare, rig, true);
    ck_assert_int_gt(compare.tune_runs, 20);
    ck_assert_double_lt(compare.result[WAY_TUNED].mean.cost, compare.result[WAY_SLUICE].mean.cost);
    ck_assert(suits_the_rules(&compare, WAY_TUNED));
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
    double always = compare.result[WAY_ALWAYS_ON].mean.spoilt;
    ck_assert_double_gt(compare.result[WAY_SLUICE].mean.spoilt, always + 3);
    ck_assert_double_lt(compare.result[WAY_TUNED].mean.spoilt,
                        compare.result[WAY_SLUICE].mean.spoilt);
    compare_free(&compare);
    rig_free(rig);
}
END_TEST

/* Of three days the two ends differ by 2.6 a year, in a year of 1850. */
START_TEST(test_tuning_comes_to_the_same_from_any_start)
{
    double cost[2];
    for (int k = 0; k < 2; k++) {
        struct rig *rig = rig_of_days(4, DAYS_TUNED);
        struct compare compare;
        rig->load[0].start_permille = (uint16_t)(100 + 900 * k);
        rig->load[0].stop_margin_w = 100 + 800 * k;
        rig->load[0].floor_count = k == 0;
        rig->load[0].floor[0] = (struct floor_settings){
            .weekdays = WEEKDAYS_ALL, .by_s = (6 + 6 * k) * 3600, .amount = MS_PER_HOUR};
        compare_rig(&compare, rig, true);
        cost[k] = compare.result[WAY_TUNED].mean.cost;
        compare_free(&compare);
        rig_free(rig);
    }
    ck_assert_double_eq_tol(cost[0], cost[1], 0.5);
}
END_TEST

/* ---- hardware ----------------------------------------------------------------------------- */

START_TEST(test_a_price_is_the_sum_of_its_items)
{
    const struct hardware present = {.stages = 1, .element_w = 3600, .set_mc = 65000};
    const struct {
        struct hardware wanted;
        int items;
        double price;
    } cases[] = {
        {{DRIVE_NONE, 1, false, 3600, 65000}, 0, 0},
        {{DRIVE_NONE, 1, false, 3600, 60000}, 0, 0},
        {{DRIVE_NONE, 1, false, 1800, 65000}, 1, 150},
        {{DRIVE_TIMER, 1, false, 1800, 65000}, 2, 400},
        {{DRIVE_TIMER, 1, false, 3600, 70000}, 2, 500},
        {{DRIVE_OFF_PEAK, 1, false, 3600, 65000}, 1, 400},
        {{DRIVE_DIVERTER, 1, true, 3600, 65000}, 2, 1080},
        {{DRIVE_CONTACTOR, 1, false, 3600, 65000}, 4, 600},
        {{DRIVE_STAGES, 3, false, 3600, 65000}, 5, 950},
        {{DRIVE_REGULATOR, 1, true, 3600, 65000}, 4, 830},
    };
    for (size_t k = 0; k < sizeof cases / sizeof cases[0]; k++) {
        struct price_item items[PRICE_ITEMS_MAX];
        double sum = 0;
        int count = hardware_items(&quote, &present, &cases[k].wanted, items);
        ck_assert_msg(count == cases[k].items, "case %zu: %d items", k, count);
        for (int i = 0; i < count; i++)
            sum += items[i].cost;
        ck_assert_double_eq(sum, cases[k].price);
        ck_assert_double_eq(hardware_price(&quote, &present, &cases[k].wanted), sum);
    }
}
END_TEST

START_TEST(test_other_hardware_is_run_with_settings_that_suit_it)
{
    struct rig *rig = rig_of(2);
    struct compare compare;
    compare_rig(&compare, rig, false);
    const struct load_settings *stages = &compare.fit[WAY_STAGES].load;
    const struct load_settings *regulator = &compare.fit[WAY_REGULATOR].load;
    ck_assert(compare.result[WAY_STAGES].there && compare.result[WAY_REGULATOR].there);
    ck_assert_int_eq(stages->kind, LOAD_STAGED);
    ck_assert_int_eq(stages->stages, compare.fit[WAY_STAGES].hardware.stages);
    int32_t sum_w = 0;
    for (int s = 0; s < stages->stages; s++)
        sum_w += stages->stage_w[s];
    ck_assert_int_eq(sum_w, 3600);
    ck_assert_int_eq(regulator->kind, LOAD_SETPOINT);
    ck_assert_int_eq(regulator->power_w, compare.fit[WAY_REGULATOR].hardware.element_w);
    for (int way = WAY_CONTACTOR; way <= WAY_REGULATOR; way++) {
        struct compare_ready ready;
        if (!compare.result[way].there)
            continue;
        ck_assert(suits_the_rules(&compare, (enum compare_way)way));
        compare_prepare(&compare, (enum compare_way)way, &compare.fit[way], &ready);
        ck_assert_int_eq(ready.rules.loads[0].power_w,
                         (int)lround(ready.home.tank[0].heater.element_w));
    }
    compare_free(&compare);
    rig_free(rig);
}
END_TEST

/* The best of a kind leaves no less than the same kind with the hardware at hand. */
START_TEST(test_a_dear_element_is_not_bought_and_a_cheap_one_that_saves_is)
{
    struct quote_settings own = quote;
    for (uint32_t cost = 0; cost <= 100000; cost += 100000) {
        struct rig *rig = rig_of(2);
        struct compare compare;
        struct trouble trouble;
        const struct compare_wish wish = {.home = &rig->home,
                                          .days = &rig->days,
                                          .rules = &rig->rules,
                                          .quote = &own,
                                          .seeds = 1};
        own.element_cost = cost;
        ck_assert(compare_run(&compare, &wish, &trouble));
        bool other = false;
        for (int way = 0; way < WAY_FORESIGHT_SWITCHED; way++)
            other |= compare.result[way].there && way != WAY_STAGES &&
                     compare.fit[way].hardware.element_w != 3600;
        ck_assert(other == (cost == 0));
        compare_free(&compare);
        rig_free(rig);
    }
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

#define COLD_EACH 5 /* what a spoilt shower counts */

/* Bills a year in each of two samples; spoilt showers. */
static void make_up(struct compare *compare, enum compare_way way, double first, double second,
                    double spoilt)
{
    struct compare_result *result = &compare->result[way];
    result->there = true;
    double cold = spoilt * COLD_EACH;
    result->sample[0] =
        (struct compare_figures){.bill = first, .cost = first + cold, .spoilt = spoilt};
    result->sample[1] =
        (struct compare_figures){.bill = second, .cost = second + cold, .spoilt = spoilt};
    result->mean = (struct compare_figures){
        .bill = (first + second) / 2, .cost = (first + second) / 2 + cold, .spoilt = spoilt};
}

static struct compare made_up(void)
{
    struct compare compare = {.sample_count = 2};
    compare.wish.quote = &quote;
    compare.fit[WAY_TIMER].hardware.drive = DRIVE_TIMER;
    compare.fit[WAY_CONTROLLED].hardware.drive = DRIVE_OFF_PEAK;
    compare.fit[WAY_DIVERTER].hardware.drive = DRIVE_DIVERTER;
    compare.fit[WAY_SLUICE].hardware.drive = DRIVE_CONTACTOR;
    compare.fit[WAY_TUNED].hardware.drive = DRIVE_CONTACTOR;
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

/* One more changes little; many change the advice. */
START_TEST(test_each_spoilt_shower_counts_as_much_as_the_one_before)
{
    double before = NAN;
    for (int spoilt = 1; spoilt <= 40; spoilt++) {
        struct compare compare = made_up();
        struct compare_verdict verdict;
        make_up(&compare, WAY_SLUICE, 1725, 1725, spoilt);
        compare_judge(&compare, &verdict);
        const struct compare_offer *offer = &verdict.offer[WAY_SLUICE];
        if (spoilt > 1)
            ck_assert_double_eq_tol(before - offer->net, COLD_EACH * 10, 1e-6);
        ck_assert_double_eq_tol(offer->cold, COLD_EACH * (spoilt - 1), 1e-9);
        ck_assert_double_eq_tol(offer->saves, 275, 1e-9);
        /* 2150 - 50 a shower against the diverter's 1900 */
        ck_assert_int_eq(verdict.buy, spoilt <= 5 || offer->net > 1900 ? WAY_SLUICE : WAY_DIVERTER);
        before = offer->net;
    }
}
END_TEST

/* A tank at 40 C spoils no shower, and costs more than one at 60 C all the same. */
START_TEST(test_lukewarm_water_is_no_saving)
{
    double cost[2];
    for (int k = 0; k < 2; k++) {
        struct rig *rig = rig_new(60, DAYS * 1440);
        struct compare compare;
        rig->home.tank[0].heater.set_c = rig->home.tank[0].start_c = k == 0 ? 60 : 41;
        rig->home.tank[0].heater.hysteresis_k = 1;
        for (size_t m = 7 * 60; m < DAYS * 1440; m += 1440)
            rig_draw(rig, m, 8), rig_draw(rig, m + 1, 8);
        compare_rig(&compare, rig, false);
        const struct compare_figures *always = &compare.result[WAY_ALWAYS_ON].mean;
        ck_assert_double_eq(always->spoilt, 0);
        ck_assert((always->cool_kwh > 10) == (k == 1));
        cost[k] = always->cost;
        compare_free(&compare);
        rig_free(rig);
    }
    ck_assert_double_gt(cost[1], cost[0]);
}
END_TEST

START_TEST(test_what_is_too_close_to_call_is_a_near_tie)
{
    struct compare compare = made_up();
    struct compare_verdict verdict;
    make_up(&compare, WAY_SLUICE, 1725, 1725, 1);
    make_up(&compare, WAY_DIVERTER, 1695, 1695, 1); /* 2050 */
    compare_judge(&compare, &verdict);
    ck_assert(verdict.offer[WAY_DIVERTER].near);
    ck_assert(!verdict.offer[WAY_SLUICE].near); /* it is the first */
    ck_assert(!verdict.offer[WAY_TIMER].near);
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
    compare.varied[0][WAY_SLUICE].cost += 500;
    compare.varied[1][WAY_TIMER].cost = 1505;
    for (int way = WAY_TIMER; way < WAY_COUNT; way++)
        compare.varied[3][way].cost = 1985;
    compare_judge(&compare, &verdict);
    ck_assert_int_eq(verdict.with[0].first, WAY_DIVERTER);
    ck_assert_int_eq(verdict.with[0].reason, TURN_BEATEN);
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
    compare.varied[2][WAY_SLUICE].cost += 500;
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
        test_a_share_is_what_is_saved_of_what_could_be,
        test_figures_are_those_of_a_run_made_a_year,
        test_only_the_off_peak_supply_pays_for_itself,
        test_tuning_never_makes_the_tuned_days_worse,
        test_tuning_finds_a_floor_where_showers_are_cold_without,
        test_what_cannot_be_compared_is_refused,
        test_two_years_of_hours_are_two_samples_for_each_seed,
        test_a_report_holds_the_heat_of_the_run,
        test_most_left_over_after_the_years_is_advised,
        test_each_spoilt_shower_counts_as_much_as_the_one_before,
        test_lukewarm_water_is_no_saving,
        test_what_is_too_close_to_call_is_a_near_tie,
        test_a_price_is_the_sum_of_its_items,
        test_other_hardware_is_run_with_settings_that_suit_it,
        test_a_dear_element_is_not_bought_and_a_cheap_one_that_saves_is,
        test_a_better_timer_or_off_peak_supply_is_advised,
        test_where_nothing_pays_nothing_is_advised,
        test_a_home_that_is_a_little_different_may_want_another,
        test_how_sure_the_advice_is_has_one_answer,
        test_more_hot_water_or_use_or_less_sun_costs_more,
        /* with all cases only, as they take as long as all others together */
        test_tuning_comes_to_the_same_from_any_start,
        test_no_way_costs_less_than_the_bound_that_its_share_refers_to,
    };
    enum { LONG = 2 };
    return run_tests("compare", tests, COUNT_OF(tests) - (cases_step() == 1 ? 0 : LONG));
}
