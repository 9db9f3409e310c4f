/* test_tariff.c - prices by moment, against a price list made minute by minute from
 * the C library's clock. */
#include "tariff/bill.h"

#include "../core/suite.h"
#include "../core/zones.h"

enum { CENT = 10000 };

/* A flat price, an evening peak on working days, and a cheap noon from October to
 * March (a season that goes over New Year). */
static struct tariff usual(void)
{
    return (struct tariff){
        .count = 3,
        .band = {{.price_micro = 30 * CENT},
                 {.price_micro = 45 * CENT,
                  .hours = {.count = 1, .span = {{15 * 3600, 21 * 3600, 0x1f}}}},
                 {.price_micro = -2 * CENT,
                  .hours = {.count = 1, .span = {{10 * 3600, 16 * 3600, WEEKDAYS_ALL}}},
                  .first_month = 10,
                  .last_month = 3}},
        .feed_in_micro = 5 * CENT,
    };
}

static int32_t price_on(const struct tariff *tariff, uint8_t month, uint8_t day, int hour)
{
    struct local local = {.day = days_of_date((struct date){2026, month, day}),
                          .second = hour * 3600};
    return tariff_price(tariff, &local);
}

static int32_t feed_in_on(const struct tariff *tariff, uint8_t month, uint8_t day, int hour)
{
    struct local local = {.day = days_of_date((struct date){2026, month, day}),
                          .second = hour * 3600};
    return tariff_feed_in(tariff, &local);
}

START_TEST(test_the_last_band_that_holds_gives_the_price)
{
    struct tariff tariff = usual();
    ck_assert_int_eq(price_on(&tariff, 1, 16, 9), 30 * CENT);
    ck_assert_int_eq(price_on(&tariff, 1, 16, 15), -2 * CENT); /* Friday: peak, but cheap noon */
    ck_assert_int_eq(price_on(&tariff, 1, 16, 16), 45 * CENT);
    ck_assert_int_eq(price_on(&tariff, 1, 17, 16), 30 * CENT); /* Saturday */
    ck_assert_int_eq(price_on(&tariff, 7, 17, 12), 30 * CENT); /* July: no cheap noon */
    ck_assert_int_eq(price_on(&tariff, 7, 17, 15), 45 * CENT);
    ck_assert_int_eq(price_on(&tariff, 3, 31, 12), -2 * CENT);
    ck_assert_int_eq(price_on(&tariff, 4, 1, 12), 30 * CENT);
}
END_TEST

START_TEST(test_without_bands_there_is_no_price_and_no_change)
{
    struct tariff tariff = {.count = 0};
    ck_assert_int_eq(price_on(&tariff, 1, 1, 12), 0);
    struct wall limit = {86400000};
    ck_assert_int_eq(tariff_next_change(&tariff, &zone_utc, (struct wall){0}, limit).ms, limit.ms);
}
END_TEST

START_TEST(test_where_no_band_holds_energy_costs_nothing)
{
    struct tariff tariff = usual();
    tariff.band[0].hours = (struct hours){.count = 1, .span = {{0, 3600, WEEKDAYS_ALL}}};
    ck_assert_int_eq(price_on(&tariff, 7, 18, 12), 0);
}
END_TEST

START_TEST(test_feed_in_has_its_own_exceptions)
{
    struct tariff tariff = usual();
    tariff.feed_in_count = 2;
    tariff.feed_in_band[0] =
        (struct tariff_band){.price_micro = -2 * CENT,
                             .hours = {.count = 1, .span = {{10 * 3600, 15 * 3600, WEEKDAYS_ALL}}}};
    tariff.feed_in_band[1] =
        (struct tariff_band){.price_micro = 12 * CENT,
                             .hours = {.count = 1, .span = {{17 * 3600, 20 * 3600, 0x1f}}},
                             .first_month = 7,
                             .last_month = 7};
    ck_assert_int_eq(feed_in_on(&tariff, 7, 17, 9), 5 * CENT);
    ck_assert_int_eq(feed_in_on(&tariff, 7, 17, 10), -2 * CENT);
    ck_assert_int_eq(feed_in_on(&tariff, 7, 17, 15), 5 * CENT);
    ck_assert_int_eq(feed_in_on(&tariff, 7, 17, 17), 12 * CENT); /* a Friday in July */
    ck_assert_int_eq(feed_in_on(&tariff, 7, 18, 17), 5 * CENT);
    ck_assert_int_eq(feed_in_on(&tariff, 8, 14, 17), 5 * CENT);
}
END_TEST

/* What a kWh through the controlled supply is billed at. */
static int64_t controlled_price_at(const struct tariff *tariff, int hour)
{
    struct bill bill = {0};
    int64_t from_ms = hour * INT64_C(3600) * MS_PER_S;
    ck_assert(bill_add(&bill, tariff, &zone_utc, (struct wall){from_ms},
                       (struct wall){from_ms + MS_PER_MIN}, 0, 0, 1000000));
    return bill_parts(&bill, tariff).controlled_micro;
}

START_TEST(test_a_controlled_supply_has_its_own_hours_and_prices)
{
    struct tariff tariff = usual();
    struct local at_3 = {.day = 0, .second = 3 * 3600}, at_12 = {.day = 0, .second = 12 * 3600};
    const struct hours *powered = &tariff.controlled.hours;
    ck_assert_int_eq(controlled_price_at(&tariff, 3), 0);
    tariff.controlled = (struct tariff_controlled){
        .there = true,
        .hours = {.count = 1, .span = {{22 * 3600, 6 * 3600, WEEKDAYS_ALL}}},
        .count = 2,
        .band = {{.price_micro = 18 * CENT},
                 {.price_micro = 15 * CENT,
                  .hours = {.count = 1, .span = {{0, 5 * 3600, WEEKDAYS_ALL}}}}}};
    ck_assert(hours_open(powered, &at_3));
    ck_assert(!hours_open(powered, &at_12));
    ck_assert_int_eq(controlled_price_at(&tariff, 3), 15 * CENT);
    ck_assert_int_eq(controlled_price_at(&tariff, 12), 18 * CENT);
}
END_TEST

START_TEST(test_a_flat_price_never_changes)
{
    struct tariff tariff = usual();
    tariff.count = 1;
    struct wall limit = {utc_s(2036, 1, 1, 0, 0) * 1000};
    struct wall from = {utc_s(2026, 1, 1, 0, 0) * 1000};
    ck_assert_int_eq(tariff_next_change(&tariff, &zone_utc, from, limit).ms, limit.ms);
}
END_TEST

START_TEST(test_a_band_of_the_same_price_is_no_change)
{
    struct tariff tariff = usual();
    tariff.count = 2;
    tariff.band[1].price_micro = tariff.band[0].price_micro;
    struct wall from = {0}, limit = {3 * (int64_t)MS_PER_DAY};
    ck_assert_int_eq(tariff_next_change(&tariff, &zone_utc, from, limit).ms, limit.ms);
}
END_TEST

START_TEST(test_seasons_of_one_price_give_the_limit_however_far)
{
    struct tariff tariff = usual();
    for (int i = 0; i < tariff.count; i++)
        tariff.band[i].price_micro = 30 * CENT;
    struct wall limit = {INT64_MAX / 2};
    ck_assert_int_eq(tariff_next_change(&tariff, &zone_utc, (struct wall){0}, limit).ms, limit.ms);
}
END_TEST

START_TEST(test_a_season_begins_at_local_midnight)
{
    struct tariff tariff = {
        .count = 2,
        .band = {{.price_micro = 30 * CENT},
                 {.price_micro = 20 * CENT, .first_month = 10, .last_month = 3}}};
    struct zone zone = zone_of_system("Australia/Sydney");
    struct wall from = {utc_s(2026, 7, 1, 0, 0) * 1000}, limit = {utc_s(2027, 7, 1, 0, 0) * 1000};
    struct wall change = tariff_next_change(&tariff, &zone, from, limit);
    ck_assert_int_eq(change.ms / 1000, utc_s(2026, 9, 30, 14, 0)); /* 1 October, UTC+10 */
    change = tariff_next_change(&tariff, &zone, change, limit);
    ck_assert_int_eq(change.ms / 1000, utc_s(2027, 3, 31, 13, 0)); /* 1 April, UTC+11 */
}
END_TEST

/* ---- against a price list -------------------------------------------------------- */

enum { DAYS_SEEN = 8, MINUTES_SEEN = DAYS_SEEN * 1440 };

static bool in_season_plainly(const struct tariff_band *band, int month)
{
    if (band->first_month == 0)
        return true;
    for (int m = band->first_month;; m = m % 12 + 1) {
        if (m == month)
            return true;
        if (m == band->last_month)
            return false;
    }
}

static bool in_hours_plainly(const struct hours *hours, struct local local)
{
    bool open = hours->count == 0;
    for (int i = 0; i < hours->count; i++)
        for (int32_t ago = 0; ago <= 1; ago++) {
            const struct hours_span *span = &hours->span[i];
            int32_t length = span->to_s - span->from_s + (span->to_s <= span->from_s) * 86400;
            int32_t since = local.second + ago * 86400 - span->from_s;
            open |=
                (span->weekdays >> (local.day - ago + 3) % 7 & 1) && since >= 0 && since < length;
        }
    return open;
}

static int32_t price_plainly(const struct tariff_band band[], int count, int32_t price_micro,
                             int64_t wall_s)
{
    struct local local = library_local(wall_s);
    time_t date_s = (time_t)local.day * 86400;
    struct tm date;
    gmtime_r(&date_s, &date);
    for (int i = 0; i < count; i++)
        if (in_season_plainly(&band[i], date.tm_mon + 1) && in_hours_plainly(&band[i].hours, local))
            price_micro = band[i].price_micro;
    return price_micro;
}

struct prices {
    int32_t import_micro, feed_in_micro;
};

static struct prices prices_plainly(const struct tariff *tariff, int64_t wall_s)
{
    return (struct prices){
        price_plainly(tariff->band, tariff->count, 0, wall_s),
        price_plainly(tariff->feed_in_band, tariff->feed_in_count, tariff->feed_in_micro, wall_s),
    };
}

static bool same(struct prices a, struct prices b)
{
    return a.import_micro == b.import_micro && a.feed_in_micro == b.feed_in_micro;
}

static void random_bands(struct tariff_band bands[], int count, uint64_t *seed)
{
    for (int i = 0; i < count; i++) {
        struct tariff_band *band = &bands[i];
        band->price_micro = (int32_t)seeded_between(seed, -2, 4) * 10 * CENT;
        band->hours.count = (uint8_t)seeded_between(seed, 0, 2);
        for (int k = 0; k < band->hours.count; k++)
            band->hours.span[k] = (struct hours_span){
                .from_s = (int32_t)seeded_between(seed, 0, 95) * 900,
                .to_s = (int32_t)seeded_between(seed, 0, 96) * 900,
                .weekdays = (uint8_t)seeded_between(seed, 0, 127),
            };
        if (seeded_between(seed, 0, 1) == 0) {
            band->first_month = (uint8_t)seeded_between(seed, 1, 12);
            band->last_month = (uint8_t)seeded_between(seed, 1, 12);
        }
    }
}

static struct tariff random_tariff(uint64_t *seed)
{
    struct tariff tariff = {
        .count = (uint8_t)seeded_between(seed, 1, 5),
        .feed_in_micro = 5 * CENT,
        .feed_in_count = (uint8_t)(seeded_between(seed, 0, 1) * seeded_between(seed, 1, 3)),
    };
    random_bands(tariff.band, tariff.count, seed);
    random_bands(tariff.feed_in_band, tariff.feed_in_count, seed);
    return tariff;
}

/* Where the price list changes, and there only, there is a next change. */
static void check_week(const struct tariff *tariff, const struct zone *zone, int64_t from_s,
                       uint64_t seed)
{
    struct wall limit = {(from_s + MINUTES_SEEN * 60) * 1000};
    struct wall change = tariff_next_change(tariff, zone, (struct wall){from_s * 1000}, limit);
    struct prices prices = prices_plainly(tariff, from_s);
    for (int64_t s = from_s; s < limit.ms / 1000; s += 60) {
        struct prices now = prices_plainly(tariff, s);
        struct local local = local_of_wall(zone, (struct wall){s * 1000});
        struct prices ours = {tariff_price(tariff, &local), tariff_feed_in(tariff, &local)};
        if (!same(ours, now))
            ck_abort_msg("seed %d: another price at %lld", (int)seed, (long long)s);
        if (!same(now, prices) != (change.ms == s * 1000))
            ck_abort_msg("seed %d: a change at %lld, or none", (int)seed, (long long)s);
        if (!same(now, prices))
            change = tariff_next_change(tariff, zone, change, limit);
        prices = now;
    }
    ck_assert_int_eq(change.ms, limit.ms);
}

START_TEST(test_changes_are_where_the_price_list_changes)
{
    for (uint64_t seed = 1; seed <= 200; seed++) {
        uint64_t s = seed;
        struct tariff tariff = random_tariff(&s);
        struct zone zone = zone_of_system(zone_names[seeded_between(&s, 0, zone_count - 1)]);
        struct wall wall = {utc_s(2026, (int)seeded_between(&s, 1, 12), 1, 0, 0) * 1000};
        if (seed % 2)
            zone_next_change(&zone, wall, &wall);
        check_week(&tariff, &zone, wall.ms / 60000 * 60 - seeded_between(&s, 0, 7200) * 60, seed);
    }
}
END_TEST

/* Midnight comes twice, and with it the month: 31 October, 1 November, for half an
 * hour 31 October again. No zone does so today; the rule could. */
START_TEST(test_a_month_that_begins_twice_changes_the_price_three_times)
{
    struct tariff tariff = {
        .count = 2,
        .band = {{.price_micro = 30 * CENT},
                 {.price_micro = 20 * CENT, .first_month = 11, .last_month = 11}}};
    struct zone zone = zone_of_rule("AAA0BBB,J60,J305/0:30");
    int64_t begin_s = utc_s(2026, 10, 30, 0, 0);
    check_week(&tariff, &zone, begin_s, 0);
    struct wall change = {begin_s * 1000}, limit = {utc_s(2026, 11, 5, 0, 0) * 1000};
    static const int minutes[] = {-60, -30, 0}; /* 0:00 summer time is 23:00 UTC */
    for (size_t i = 0; i < COUNT_OF(minutes); i++) {
        change = tariff_next_change(&tariff, &zone, change, limit);
        ck_assert_int_eq(change.ms / 1000, utc_s(2026, 11, 1, 0, 0) + minutes[i] * 60);
    }
    ck_assert_int_eq(tariff_next_change(&tariff, &zone, change, limit).ms, limit.ms);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_the_last_band_that_holds_gives_the_price,
        test_without_bands_there_is_no_price_and_no_change,
        test_where_no_band_holds_energy_costs_nothing,
        test_feed_in_has_its_own_exceptions,
        test_a_controlled_supply_has_its_own_hours_and_prices,
        test_a_flat_price_never_changes,
        test_a_band_of_the_same_price_is_no_change,
        test_seasons_of_one_price_give_the_limit_however_far,
        test_a_season_begins_at_local_midnight,
        test_changes_are_where_the_price_list_changes,
        test_a_month_that_begins_twice_changes_the_price_three_times,
    };
    return suite_run("tariff", tests, COUNT_OF(tests));
}
