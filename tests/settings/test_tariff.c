/* test_tariff.c - a tariff as people write it, what comes of it, and what is wrong with it. */
#include <string.h>

#include "../core/suite.h"
#include "rig.h"

#define EXPECT(rows) expect_mistakes((rows), COUNT_OF(rows))

/* Stands in place of the small house's own. */
#define OWN                                                                                        \
    "tariff:\n  import:\n    - {price: 0.30 /kWh}\n    - {price: 0.20 /kWh, hours: "               \
    "\"22:00-07:00\"}\n"

static const char many_parts[] =
    "tariff:\n"
    "  daily: 1.10 /day\n"
    "  feed_in: 0.05 /kWh\n"
    "  feed_in_bands:\n"
    "    - {price: -0.02 /kWh, hours: \"10:00-15:00\", months: oct-mar}\n"
    "    - {price: 0.12 /kWh, hours: \"mon-fri 17:00-20:00\"}\n"
    "  import:\n"
    "    - {price: 0.30 /kWh}\n"
    "    - {price: 0 /kWh, hours: [\"sat,sun 11:00-14:00\"], months: jul}\n"
    "    - {price: -0.01 /kWh, months: nov-feb}\n"
    "  demand:\n"
    "    - {price: 12.50 /kW, hours: \"mon-fri 15:00-21:00\", months: nov-mar}\n"
    "    - {price: 0.20 /kW, per: day, window: 15 min}\n"
    "  controlled:\n"
    "    hours: [\"22:00-06:00\", \"sat,sun 12:00-14:00\"]\n"
    "    daily: 0.06 /day\n"
    "    import:\n"
    "      - {price: 0.18 /kWh}\n"
    "      - {price: 0.15 /kWh, hours: \"00:00-05:00\"}\n";

static struct settings *load_many_parts(void)
{
    char *text = edited(small_house, OWN, many_parts);
    struct settings *settings = load_good(text);
    free(text);
    return settings;
}

START_TEST(test_a_tariff_becomes_what_its_file_says)
{
    struct settings *settings = load_many_parts();
    const struct tariff *tariff = &settings->rules.tariff;
    ck_assert_int_eq(tariff->daily_micro, 1100000);
    ck_assert_int_eq(tariff->feed_in_micro, 50000);
    ck_assert_uint_eq(tariff->count, 3);
    ck_assert_int_eq(tariff->band[1].price_micro, 0);
    ck_assert_uint_eq(tariff->band[1].first_month, 7);
    ck_assert_uint_eq(tariff->band[1].last_month, 7);
    ck_assert_int_eq(tariff->band[2].price_micro, -10000);
    ck_assert_uint_eq(tariff->feed_in_count, 2);
    ck_assert_int_eq(tariff->feed_in_band[0].price_micro, -20000);
    ck_assert_uint_eq(tariff->feed_in_band[0].first_month, 10);
    ck_assert_uint_eq(tariff->feed_in_band[0].last_month, 3);
    ck_assert_uint_eq(tariff->feed_in_band[1].hours.span[0].weekdays, 0x1f);
    ck_assert_uint_eq(tariff->demand_count, 2);
    ck_assert_int_eq(tariff->demand[0].price_micro, 12500000);
    ck_assert_int_eq(tariff->demand[0].window_ms, 30 * MS_PER_MIN);
    ck_assert_uint_eq(tariff->demand[0].per, TARIFF_PER_MONTH);
    ck_assert_uint_eq(tariff->demand[0].first_month, 11);
    ck_assert_int_eq(tariff->demand[1].window_ms, 15 * MS_PER_MIN);
    ck_assert_uint_eq(tariff->demand[1].per, TARIFF_PER_DAY);
    ck_assert(tariff->controlled.there);
    ck_assert_int_eq(tariff->controlled.daily_micro, 60000);
    ck_assert_uint_eq(tariff->controlled.hours.count, 2);
    ck_assert_uint_eq(tariff->controlled.count, 2);
    ck_assert_int_eq(tariff->controlled.band[1].price_micro, 150000);
    settings_free(settings);
}
END_TEST

START_TEST(test_an_older_tariff_means_what_it_meant)
{
    struct settings *settings = load_good(small_house);
    const struct tariff *tariff = &settings->rules.tariff;
    ck_assert_uint_eq(tariff->count, 2);
    ck_assert_int_eq(tariff->daily_micro, 0);
    ck_assert_uint_eq(tariff->feed_in_count, 0);
    ck_assert_uint_eq(tariff->demand_count, 0);
    ck_assert(!tariff->controlled.there);
    settings_free(settings);
}
END_TEST

/* The same file twice is the same tariff, byte by byte: so it can be compared. */
START_TEST(test_a_tariff_read_twice_is_the_same)
{
    struct settings *first = load_many_parts(), *second = load_many_parts();
    ck_assert_mem_eq(&first->rules.tariff, &second->rules.tariff, sizeof(struct tariff));
    settings_free(first);
    settings_free(second);
}
END_TEST

/* ---- mistakes ---------------------------------------------------------------------------------
 */

#define CONTROLLED                                                                                 \
    "tariff:\n  controlled:\n    hours: \"22:00-06:00\"\n    import: [{price: 0.18 /kWh}]\n"

START_TEST(test_mistakes_in_feed_in_bands)
{
    static const struct mistake rows[] = {
        {"tariff:\n", "tariff:\n  feed_in_bands: 0.05 /kWh\n", "0.05",
         "a list of bands is expected here, not a single value"},
        {"tariff:\n", "tariff:\n  feed_in_bands: [{price: 0.05 /kWh}]\n", "{price: 0.05",
         "a band of feed_in_bands needs hours or months: what holds always is feed_in"},
        {"tariff:\n", "tariff:\n  feed_in_bands: [{price: 11 /kWh, months: jul}]\n", "11 ",
         "price: 11 /kWh is out of range; from -10.00 /kWh to 10.00 /kWh"},
        {"tariff:\n", "tariff:\n  feed_in_bands: [{months: jul}]\n", "{months",
         "a band needs price: Credit for a kWh exported; negative: a cost."},
        {"tariff:\n", "tariff:\n  feed_in_bands: [{price: 0 /kWh, months: july}]\n", "july",
         "months: \"july\" is not a season, such as nov-mar"},
        {"tariff:\n", "tariff:\n  feed_in_band: []\n", "feed_in_band",
         "tariff has no setting \"feed_in_band\"; do you mean \"feed_in_bands\"?"},
        {"tariff:\n", "tariff:\n  daily: -1 /day\n", "-1",
         "daily: -1 /day: a daily charge is never negative"},
        {"tariff:\n", "tariff:\n  daily: 1.10 /kWh\n", "1.10",
         "daily: 1.10 /kWh is a price of energy; expected a daily charge, such as 1.10 /day"},
    };
    EXPECT(rows);
}
END_TEST

START_TEST(test_mistakes_in_demand_charges)
{
    static const struct mistake rows[] = {
        {"tariff:\n", "tariff:\n  demand: 12.50 /kW\n", "12.50",
         "a list of demand charges is expected here, not a single value"},
        {"tariff:\n", "tariff:\n  demand: [12.50 /kW]\n", "12.50",
         "a group of settings is expected here, not a single value"},
        {"tariff:\n", "tariff:\n  demand: [{per: day}]\n", "{per",
         "a demand charge needs price: What each kW of the month's highest import costs."},
        {"tariff:\n", "tariff:\n  demand: [{price: 12.50 /kWh}]\n", "12.50",
         "price: 12.50 /kWh is a price of energy; expected a demand charge, such as 12.50 /kW"},
        {"tariff:\n", "tariff:\n  demand: [{price: 1 /kW, per: week}]\n", "week",
         "per: \"week\" is not one of the choices; write month or day"},
        {"tariff:\n", "tariff:\n  demand: [{price: 1 /kW, window: 45 min}]\n", "45",
         "window: 45 min does not divide the hour evenly"},
        {"tariff:\n", "tariff:\n  demand: [{price: 1 /kW, window: 2 h}]\n", "2 h",
         "window: 2 h is out of range; from 1 min to 1 h"},
        {"tariff:\n",
         "tariff:\n  demand: [{price: 1 /kW}, {price: 2 /kW}, {price: 3 /kW}, {price: 4 /kW},\n"
         "    {price: 5 /kW}]\n",
         "{price: 5", "a tariff has at most 4 demand charges"},
    };
    EXPECT(rows);
}
END_TEST

START_TEST(test_mistakes_in_a_controlled_supply)
{
    static const struct mistake rows[] = {
        {"tariff:\n", "tariff:\n  controlled: 0.18 /kWh\n", "0.18",
         "a group of settings is expected here, not a single value"},
        {"tariff:\n", "tariff:\n  controlled: {import: [{price: 0.18 /kWh}]}\n", "controlled",
         "controlled needs hours: When the supplier switches it on."},
        {"tariff:\n", "tariff:\n  controlled: {hours: \"22:00-06:00\"}\n", "controlled",
         "controlled needs import: a list of bands, such as [{price: 0.18 /kWh}]"},
        {"tariff:\n", "tariff:\n  controlled: {hours: \"22:00-06:00\", import: []}\n", "import: []",
         "controlled needs import: a list of bands, such as [{price: 0.18 /kWh}]"},
        {"tariff:\n",
         "tariff:\n  controlled: {hours: \"22:00-06:00\", import: [{price: 1 /kWh, months: "
         "jul}]}\n",
         "months",
         "the first band holds always, without months: those after it are the exceptions"},
        {"tariff:\n", "tariff:\n  controled: {}\n", "controled",
         "tariff has no setting \"controled\"; do you mean \"controlled\"?"},
        {"tariff:\n", CONTROLLED "    feed_in: 0.05 /kWh\n", "feed_in",
         "controlled has no setting \"feed_in\"; it belongs to \"tariff\" (line 5): indent it by 2 "
         "spaces"},
    };
    EXPECT(rows);
}
END_TEST

/* ---- what is told of it ------------------------------------------------------------------------
 */

/* The words without the line breaks. */
static char *told(const struct settings *settings)
{
    char *text = described(settings), *to = text;
    for (const char *from = text; *from; from++)
        if (*from == '\n') {
            *to++ = ' ';
            from += strspn(from + 1, " ");
        } else
            *to++ = *from;
    *to = '\0';
    return text;
}

START_TEST(test_each_part_of_a_tariff_is_told)
{
    static const char *const sentences[] = {
        "Energy imported costs 0.30 /kWh; 0.00 /kWh sat,sun 11:00-14:00 in jul; -0.01 /kWh in "
        "nov-feb.",
        "Energy exported earns 0.05 /kWh; -0.02 /kWh 10:00-15:00 in oct-mar; 0.12 /kWh "
        "mon-fri 17:00-20:00.",
        "The supply costs 1.10 /day.",
        "Each month's highest mean over 30 min mon-fri 15:00-21:00 in nov-mar costs 12.50 /kW.",
        "Each month's highest mean over 15 min costs 0.20 /kW for each of its days.",
        "The controlled supply has power 22:00-06:00 and sat,sun 12:00-14:00; it costs 0.06 /day "
        "and 0.18 /kWh; 0.15 /kWh 00:00-05:00.",
    };
    struct settings *settings = load_many_parts();
    char *text = told(settings);
    for (size_t k = 0; k < COUNT_OF(sentences); k++)
        ck_assert_msg(strstr(text, sentences[k]) != NULL, "\"%s\" is not in:\n%s", sentences[k],
                      text);
    free(text);
    settings_free(settings);
}
END_TEST

START_TEST(test_of_a_house_without_prices_nothing_is_told)
{
    char *text = edited(small_house, OWN, "");
    struct settings *settings = load_good(text);
    char *description = told(settings);
    ck_assert_ptr_null(strstr(description, "costs"));
    ck_assert_ptr_null(strstr(description, "paid for"));
    free(description);
    settings_free(settings);
    free(text);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_a_tariff_becomes_what_its_file_says, test_an_older_tariff_means_what_it_meant,
        test_a_tariff_read_twice_is_the_same,     test_mistakes_in_feed_in_bands,
        test_mistakes_in_demand_charges,          test_mistakes_in_a_controlled_supply,
        test_each_part_of_a_tariff_is_told,       test_of_a_house_without_prices_nothing_is_told,
    };
    return suite_run("settings-tariff", tests, COUNT_OF(tests));
}
