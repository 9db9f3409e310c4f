/* test_bill.c - bills worked out by hand. */
#include "tariff/bill.h"

#include "../core/suite.h"
#include "../core/zones.h"

enum { CENT = 10000, WH = 1000, KWH = 1000000, MINUTE = 60, HALF_HOUR = 1800 };

static const struct tariff flat = {
    .count = 1, .band = {{.price_micro = 30 * CENT}}, .feed_in_micro = 5 * CENT};

/* A peak on working days, a free noon, a charge for exporting around it, an off-peak
 * supply at night, and a demand charge for the peak. */
static struct tariff many_parts(void)
{
    const struct hours peak = {.count = 1, .span = {{15 * 3600, 21 * 3600, 0x1f}}};
    return (struct tariff){
        .count = 3,
        .band = {{.price_micro = 30 * CENT},
                 {.price_micro = 45 * CENT, .hours = peak},
                 {.price_micro = 0,
                  .hours = {.count = 1, .span = {{12 * 3600, 14 * 3600, WEEKDAYS_ALL}}}}},
        .feed_in_micro = 5 * CENT,
        .feed_in_count = 1,
        .feed_in_band = {{.price_micro = -2 * CENT,
                          .hours = {.count = 1, .span = {{10 * 3600, 15 * 3600, WEEKDAYS_ALL}}}}},
        .daily_micro = 110 * CENT,
        .demand_count = 1,
        .demand = {{.price_micro = 1250 * CENT, .hours = peak}},
        .controlled = {.there = true,
                       .hours = {.count = 1, .span = {{22 * 3600, 6 * 3600, WEEKDAYS_ALL}}},
                       .daily_micro = 6 * CENT,
                       .count = 1,
                       .band = {{.price_micro = 18 * CENT}}},
    };
}

/* A kW of the month's highest half hour, at any time. */
static struct tariff demand_only(int32_t price_micro, enum tariff_per per)
{
    return (struct tariff){
        .demand_count = 1,
        .demand = {{.price_micro = price_micro, .per = (uint8_t)per}},
    };
}

struct energy {
    int64_t import_mwh, export_mwh, controlled_mwh;
};

static void add(struct bill *bill, const struct tariff *tariff, int64_t from_s, int64_t length_s,
                struct energy energy)
{
    struct wall from = {from_s * MS_PER_S}, to = {(from_s + length_s) * MS_PER_S};
    ck_assert(bill_add(bill, tariff, &zone_utc, from, to, energy.import_mwh, energy.export_mwh,
                       energy.controlled_mwh));
}

/* A Wednesday, unless moved by `days`. */
static int64_t at(int days, int hour, int minute)
{
    return utc_s(2026, 1, 14, hour, minute) + days * INT64_C(86400);
}

START_TEST(test_a_day_with_everything)
{
    struct tariff tariff = many_parts();
    struct bill bill = {0};
    const struct {
        int hour, minute;
        struct energy energy;
    } steps[] = {
        {8, 0, {500 * WH, 0, 0}},          /* 0.5 x 0.30 = 0.15 */
        {9, 30, {0, 1 * KWH, 0}},          /* credit 1 x 0.05 = 0.05 */
        {12, 30, {1 * KWH, 2 * KWH, 0}},   /* free; credit 2 x -0.02 = -0.04 */
        {15, 0, {1200 * WH, 100 * WH, 0}}, /* 1.2 x 0.45 = 0.54; credit 0.005; 2.4 kW */
        {15, 30, {900 * WH, 0, 0}},        /* 0.9 x 0.45 = 0.405 */
        {21, 0, {2 * KWH, 0, 0}},          /* 2 x 0.30 = 0.60; its 4 kW are after the peak */
        {23, 0, {0, 0, 1800 * WH}},        /* 1.8 x 0.18 = 0.324 */
    };
    for (size_t i = 0; i < COUNT_OF(steps); i++)
        add(&bill, &tariff, at(0, steps[i].hour, steps[i].minute), HALF_HOUR, steps[i].energy);
    struct bill_parts parts = bill_parts(&bill, &tariff);
    ck_assert_int_eq(parts.import_micro, 1695000);
    ck_assert_int_eq(parts.feed_in_micro, 15000);
    ck_assert_int_eq(parts.controlled_micro, 324000);
    ck_assert_int_eq(parts.demand_micro, 30000000); /* 2.4 kW x 12.50 */
    ck_assert_int_eq(parts.daily_micro, 1160000);
    ck_assert_int_eq(parts.total_micro, 33164000);
}
END_TEST

START_TEST(test_a_step_lies_in_the_band_of_its_beginning)
{
    struct tariff tariff = many_parts();
    struct bill bill = {0};
    add(&bill, &tariff, at(0, 14, 45), HALF_HOUR, (struct energy){KWH, 0, 0});
    add(&bill, &tariff, at(0, 20, 45), HALF_HOUR, (struct energy){KWH, 0, 0});
    ck_assert_int_eq(bill_parts(&bill, &tariff).import_micro, 75 * CENT);
    ck_assert_int_eq(bill.import_mwh[0], KWH);
    ck_assert_int_eq(bill.import_mwh[1], KWH);
}
END_TEST

START_TEST(test_who_is_paid_to_use_energy_gets_money_back)
{
    struct tariff tariff = flat;
    struct bill bill = {0};
    tariff.band[0].price_micro = -3 * CENT;
    add(&bill, &tariff, at(0, 0, 0), HALF_HOUR, (struct energy){2 * KWH, 0, 0});
    ck_assert_int_eq(bill_parts(&bill, &tariff).total_micro, -6 * CENT);
}
END_TEST

/* 1 mWh at 0.30 /kWh is 0.3 millionths: rounded by itself it would be nothing. */
START_TEST(test_the_smallest_steps_add_up)
{
    struct bill bill = {0};
    for (int i = 0; i < 1000; i++)
        add(&bill, &flat, at(0, 0, 0) + i, 1, (struct energy){1, 3, 0});
    struct bill_parts parts = bill_parts(&bill, &flat);
    ck_assert_int_eq(parts.import_micro, 300);
    ck_assert_int_eq(parts.feed_in_micro, 150);
}
END_TEST

START_TEST(test_a_part_is_rounded_to_the_nearest_millionth)
{
    struct tariff tariff = flat;
    struct bill bill = {0};
    add(&bill, &tariff, at(0, 0, 0), 1, (struct energy){5, 0, 0}); /* 1.5 millionths */
    ck_assert_int_eq(bill_parts(&bill, &tariff).import_micro, 2);
    tariff.band[0].price_micro = -30 * CENT;
    ck_assert_int_eq(bill_parts(&bill, &tariff).import_micro, -2);
}
END_TEST

/* 100 kW at 100 /kWh, the highest price that settings take: 8.76e17 mWh x 1e8 would not
 * fit 64 bits. */
START_TEST(test_a_year_of_100_kw_at_the_highest_price_fits)
{
    struct tariff tariff = {
        .count = 1,
        .band = {{.price_micro = 100000000}},
        .feed_in_micro = 10000000,
        .demand_count = 1,
        .demand = {{.price_micro = 1000000000, .per = TARIFF_PER_DAY}},
        .controlled = {.there = true, .count = 1, .band = {{.price_micro = 100000000}}},
    };
    struct bill bill = {0};
    for (int i = 0; i < 365 * 24; i++)
        add(&bill, &tariff, utc_s(2026, 1, 1, 0, 0) + i * INT64_C(3600), 3600,
            (struct energy){100 * KWH, 100 * KWH, 100 * KWH});
    struct bill_parts parts = bill_parts(&bill, &tariff);
    ck_assert_int_eq(parts.import_micro, INT64_C(876000) * 100000000);
    ck_assert_int_eq(parts.controlled_micro, INT64_C(876000) * 100000000);
    ck_assert_int_eq(parts.feed_in_micro, INT64_C(876000) * 10000000);
    ck_assert_int_eq(parts.demand_micro, INT64_C(36500) * 1000000000);
}
END_TEST

START_TEST(test_what_no_band_covers_is_free_but_counted)
{
    struct tariff tariff = flat;
    struct bill bill = {0};
    tariff.band[0].hours = (struct hours){.count = 1, .span = {{0, 3600, WEEKDAYS_ALL}}};
    add(&bill, &tariff, at(0, 0, 30), HALF_HOUR, (struct energy){KWH, 0, 0});
    add(&bill, &tariff, at(0, 1, 0), HALF_HOUR, (struct energy){7 * KWH, 0, 0});
    ck_assert_int_eq(bill_parts(&bill, &tariff).import_micro, 30 * CENT);
    ck_assert_int_eq(bill.import_mwh[TARIFF_BANDS_MAX], 7 * KWH);
}
END_TEST

START_TEST(test_steps_that_cannot_be_are_refused_and_change_nothing)
{
    struct tariff tariff = many_parts();
    struct bill bill = {0}, before;
    const int64_t begin_ms = at(0, 12, 0) * MS_PER_S;
    add(&bill, &tariff, at(0, 12, 0), HALF_HOUR, (struct energy){KWH, 0, 0});
    before = bill;
    const struct {
        int64_t from_ms, to_ms, import_mwh, export_mwh, controlled_mwh;
    } steps[] = {
        {HALF_HOUR * 1000, HALF_HOUR * 1000, 0, 0, 0},                  /* no time */
        {HALF_HOUR * 1000, 0, 0, 0, 0},                                 /* backwards */
        {HALF_HOUR * 1000 - 1, 3600000, 0, 0, 0},                       /* a second time */
        {HALF_HOUR * 1000, HALF_HOUR * 1000 + MS_PER_DAY + 1, 0, 0, 0}, /* too long */
        {HALF_HOUR * 1000, 3600000, -1, 0, 0},
        {HALF_HOUR * 1000, 3600000, 0, -1, 0},
        {HALF_HOUR * 1000, 3600000, 0, 0, -1},
    };
    for (size_t i = 0; i < COUNT_OF(steps); i++)
        ck_assert_msg(!bill_add(&bill, &tariff, &zone_utc,
                                (struct wall){begin_ms + steps[i].from_ms},
                                (struct wall){begin_ms + steps[i].to_ms}, steps[i].import_mwh,
                                steps[i].export_mwh, steps[i].controlled_mwh),
                      "row %zu is taken", i);
    ck_assert_mem_eq(&bill, &before, sizeof(bill));
}
END_TEST

/* ---- days ---------------------------------------------------------------------------- */

static int32_t days_of(const char *zone_name, int64_t from_s, int64_t to_s)
{
    struct zone zone = zone_of_system(zone_name);
    struct bill bill = {0};
    for (int64_t s = from_s; s < to_s; s += HALF_HOUR)
        ck_assert(bill_add(&bill, &flat, &zone, (struct wall){s * MS_PER_S},
                           (struct wall){(s + HALF_HOUR) * MS_PER_S}, 1, 1, 1));
    return bill.days;
}

START_TEST(test_days_of_23_and_25_hours_are_days)
{
    /* 5 April 2026 has 25 hours in Sydney, 4 October 23; 24.5 and 23.5 on Lord Howe. */
    ck_assert_int_eq(
        days_of("Australia/Sydney", utc_s(2026, 4, 4, 13, 0), utc_s(2026, 4, 5, 14, 0)), 1);
    ck_assert_int_eq(
        days_of("Australia/Sydney", utc_s(2026, 10, 3, 14, 0), utc_s(2026, 10, 4, 13, 0)), 1);
    ck_assert_int_eq(
        days_of("Australia/Lord_Howe", utc_s(2026, 4, 4, 13, 0), utc_s(2026, 4, 5, 13, 30)), 1);
    ck_assert_int_eq(
        days_of("Australia/Lord_Howe", utc_s(2026, 10, 3, 13, 30), utc_s(2026, 10, 4, 13, 0)), 1);
    ck_assert_int_eq(
        days_of("Australia/Sydney", utc_s(2025, 12, 31, 13, 0), utc_s(2026, 12, 31, 13, 0)), 365);
}
END_TEST

START_TEST(test_days_without_data_are_not_charged)
{
    struct tariff tariff = many_parts();
    struct bill bill = {0};
    add(&bill, &tariff, at(0, 23, 30), HALF_HOUR, (struct energy){0});
    add(&bill, &tariff, at(5, 0, 0), HALF_HOUR, (struct energy){0});
    ck_assert_int_eq(bill.days, 2);
    ck_assert_int_eq(bill_parts(&bill, &tariff).daily_micro, 2 * 116 * CENT);
}
END_TEST

START_TEST(test_a_midnight_that_comes_twice_begins_one_day)
{
    struct zone zone = zone_of_rule("AAA0BBB,J60,J305/0:30");
    struct bill bill = {0};
    for (int64_t s = utc_s(2026, 10, 30, 23, 0); s < utc_s(2026, 11, 2, 0, 0); s += HALF_HOUR)
        ck_assert(bill_add(&bill, &flat, &zone, (struct wall){s * MS_PER_S},
                           (struct wall){(s + HALF_HOUR) * MS_PER_S}, 1, 0, 0));
    ck_assert_int_eq(bill.days, 2); /* 31 October and 1 November */
}
END_TEST

/* ---- demand --------------------------------------------------------------------------- */

START_TEST(test_demand_is_the_mean_of_a_window)
{
    struct tariff tariff = demand_only(10 * 100 * CENT, TARIFF_PER_MONTH);
    struct bill bill = {0};
    /* 6 kW for ten minutes of the half hour, 1.5 kW for the rest: 1.5 kWh, so 3 kW. */
    for (int minute = 0; minute < 30; minute++)
        add(&bill, &tariff, at(0, 12, minute), MINUTE,
            (struct energy){minute < 10 ? 100 * WH : 25 * WH, 0, 50 * KWH});
    ck_assert_int_eq(bill_parts(&bill, &tariff).demand_micro, 30 * 100 * CENT);
    tariff.demand[0].window_ms = 15 * MS_PER_MIN;
    bill = (struct bill){0};
    /* In the first quarter 1 kWh + 0.125 kWh, so 4.5 kW. */
    for (int minute = 0; minute < 30; minute++)
        add(&bill, &tariff, at(0, 12, minute), MINUTE,
            (struct energy){minute < 10 ? 100 * WH : 25 * WH, 0, 50 * KWH});
    ck_assert_int_eq(bill_parts(&bill, &tariff).demand_micro, 45 * 100 * CENT);
}
END_TEST

START_TEST(test_windows_keep_to_the_clock)
{
    struct tariff tariff = demand_only(100 * CENT, TARIFF_PER_MONTH);
    struct bill bill = {0};
    /* Half an hour of 4 kW, but in two windows: 2 kW in each. */
    add(&bill, &tariff, at(0, 12, 15), 900, (struct energy){KWH, 0, 0});
    add(&bill, &tariff, at(0, 12, 30), 900, (struct energy){KWH, 0, 0});
    ck_assert_int_eq(bill_parts(&bill, &tariff).demand_micro, 2 * 100 * CENT);
}
END_TEST

/* The first begins half a second late; its window ends at 12:30 all the same. */
START_TEST(test_windows_keep_to_the_clock_whatever_part_of_a_second_a_step_begins_at)
{
    struct tariff tariff = demand_only(100 * CENT, TARIFF_PER_MONTH);
    struct bill bill = {0};
    int64_t from_ms = at(0, 12, 15) * MS_PER_S + 500, edge_ms = at(0, 12, 30) * MS_PER_S;
    ck_assert(bill_add(&bill, &tariff, &zone_utc, (struct wall){from_ms}, (struct wall){edge_ms},
                       KWH, 0, 0));
    add(&bill, &tariff, at(0, 12, 30), 900, (struct energy){KWH, 0, 0});
    ck_assert_int_eq(bill_parts(&bill, &tariff).demand_micro, 2 * 100 * CENT);
}
END_TEST

START_TEST(test_a_step_longer_than_the_window_counts_its_own_mean)
{
    struct tariff tariff = demand_only(100 * CENT, TARIFF_PER_MONTH);
    struct bill bill = {0};
    add(&bill, &tariff, at(0, 12, 0), 3600, (struct energy){3 * KWH, 0, 0});
    ck_assert_int_eq(bill_parts(&bill, &tariff).demand_micro, 3 * 100 * CENT);
    /* 2 mWh in 45 min are 2.67 mW, of which the nearest is 3. */
    tariff.demand[0].price_micro = 1000000000;
    bill = (struct bill){0};
    add(&bill, &tariff, at(0, 12, 0), 2700, (struct energy){2, 0, 0});
    ck_assert_int_eq(bill_parts(&bill, &tariff).demand_micro, 3000);
}
END_TEST

START_TEST(test_each_month_has_its_own_highest)
{
    struct tariff tariff = demand_only(1000 * CENT, TARIFF_PER_MONTH);
    struct bill bill = {0};
    add(&bill, &tariff, utc_s(2026, 1, 3, 9, 0), HALF_HOUR, (struct energy){2 * KWH, 0, 0});
    add(&bill, &tariff, utc_s(2026, 1, 20, 9, 0), HALF_HOUR, (struct energy){1 * KWH, 0, 0});
    add(&bill, &tariff, utc_s(2026, 1, 31, 23, 30), HALF_HOUR, (struct energy){500 * WH, 0, 0});
    ck_assert_int_eq(bill_parts(&bill, &tariff).demand_micro, 4 * 1000 * CENT);
    add(&bill, &tariff, utc_s(2026, 2, 1, 0, 0), HALF_HOUR, (struct energy){500 * WH, 0, 0});
    add(&bill, &tariff, utc_s(2026, 2, 9, 9, 0), HALF_HOUR, (struct energy){1500 * WH, 0, 0});
    ck_assert_int_eq(bill_parts(&bill, &tariff).demand_micro, (4 + 3) * 1000 * CENT);
    add(&bill, &tariff, utc_s(2027, 2, 9, 9, 0), HALF_HOUR, (struct energy){500 * WH, 0, 0});
    ck_assert_int_eq(bill_parts(&bill, &tariff).demand_micro, (4 + 3 + 1) * 1000 * CENT);
}
END_TEST

START_TEST(test_demand_by_the_day_is_paid_for_each_day_of_the_month)
{
    struct tariff tariff = demand_only(20 * CENT, TARIFF_PER_DAY);
    struct bill bill = {0};
    for (int day = 0; day < 31 + 28; day++)
        add(&bill, &tariff, utc_s(2026, 1, 1, 18, 0) + day * INT64_C(86400), HALF_HOUR,
            (struct energy){day == 10   ? 2500 * WH
                            : day == 40 ? 1750 * WH
                                        : WH,
                            0, 0});
    /* 5 kW x 31 days x 0.20 + 3.5 kW x 28 days x 0.20 = 31 + 19.60 */
    ck_assert_int_eq(bill_parts(&bill, &tariff).demand_micro, 5060 * CENT);
}
END_TEST

START_TEST(test_demand_outside_its_hours_and_season_is_free)
{
    struct tariff tariff = demand_only(1000 * CENT, TARIFF_PER_MONTH);
    struct bill bill = {0};
    tariff.demand[0].hours = (struct hours){.count = 1, .span = {{15 * 3600, 21 * 3600, 0x1f}}};
    tariff.demand[0].first_month = 11;
    tariff.demand[0].last_month = 3;
    add(&bill, &tariff, at(0, 14, 30), HALF_HOUR, (struct energy){3 * KWH, 0, 0});
    add(&bill, &tariff, at(0, 15, 0), HALF_HOUR, (struct energy){1 * KWH, 0, 0});
    add(&bill, &tariff, at(0, 21, 0), HALF_HOUR, (struct energy){3 * KWH, 0, 0});
    add(&bill, &tariff, at(3, 16, 0), HALF_HOUR, (struct energy){3 * KWH, 0, 0}); /* Saturday */
    add(&bill, &tariff, utc_s(2026, 7, 15, 16, 0), HALF_HOUR, (struct energy){3 * KWH, 0, 0});
    ck_assert_int_eq(bill_parts(&bill, &tariff).demand_micro, 2 * 1000 * CENT);
}
END_TEST

/* Hours that begin within a window: what was used before them is not in its mean. */
START_TEST(test_only_the_part_of_a_window_within_the_hours_counts)
{
    struct tariff tariff = demand_only(100 * CENT, TARIFF_PER_MONTH);
    struct bill bill = {0};
    tariff.demand[0].hours = (struct hours){.count = 1, .span = {{53100, 20 * 3600, WEEKDAYS_ALL}}};
    add(&bill, &tariff, at(0, 14, 30), 900, (struct energy){KWH, 0, 0});
    add(&bill, &tariff, at(0, 14, 45), 900, (struct energy){KWH, 0, 0});
    ck_assert_int_eq(bill_parts(&bill, &tariff).demand_micro, 2 * 100 * CENT);
}
END_TEST

START_TEST(test_two_demand_charges_add_up)
{
    struct tariff tariff = demand_only(100 * CENT, TARIFF_PER_MONTH);
    struct bill bill = {0};
    tariff.demand_count = 2;
    tariff.demand[1] = (struct tariff_demand){
        .price_micro = 10 * CENT,
        .window_ms = MS_PER_HOUR,
        .per = TARIFF_PER_DAY,
    };
    add(&bill, &tariff, at(0, 14, 0), HALF_HOUR, (struct energy){3 * KWH, 0, 0});
    add(&bill, &tariff, at(0, 14, 30), HALF_HOUR, (struct energy){1 * KWH, 0, 0});
    add(&bill, &tariff, at(1, 14, 0), HALF_HOUR, (struct energy){1 * KWH, 0, 0});
    /* 6 kW x 1.00, and 4 kW x 2 days x 0.10 */
    ck_assert_int_eq(bill_parts(&bill, &tariff).demand_micro, 680 * CENT);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_a_day_with_everything,
        test_a_step_lies_in_the_band_of_its_beginning,
        test_who_is_paid_to_use_energy_gets_money_back,
        test_the_smallest_steps_add_up,
        test_a_part_is_rounded_to_the_nearest_millionth,
        test_a_year_of_100_kw_at_the_highest_price_fits,
        test_what_no_band_covers_is_free_but_counted,
        test_steps_that_cannot_be_are_refused_and_change_nothing,
        test_days_of_23_and_25_hours_are_days,
        test_days_without_data_are_not_charged,
        test_a_midnight_that_comes_twice_begins_one_day,
        test_demand_is_the_mean_of_a_window,
        test_windows_keep_to_the_clock,
        test_windows_keep_to_the_clock_whatever_part_of_a_second_a_step_begins_at,
        test_a_step_longer_than_the_window_counts_its_own_mean,
        test_each_month_has_its_own_highest,
        test_demand_by_the_day_is_paid_for_each_day_of_the_month,
        test_demand_outside_its_hours_and_season_is_free,
        test_only_the_part_of_a_window_within_the_hours_counts,
        test_two_demand_charges_add_up,
    };
    return suite_run("bill", tests, COUNT_OF(tests));
}
