/* What can be true, and what cannot. */
#include <check.h>

#include "meter/plausible.h"

enum { SECOND = 1000, MINUTE = 60 * SECOND };

static struct plausible_limits limits;
static struct plausible_memory memory;
static struct mono now;

static void begin(void)
{
    limits = (struct plausible_limits){
        .needs_power = true, .power_mw = 40000000, .stuck_ms = 10 * MINUTE};
    memory = (struct plausible_memory){0};
    now = (struct mono){5000000};
}

static void set(struct meter_sample *sample, enum meter_quantity quantity, int64_t value)
{
    sample->has |= UINT32_C(1) << quantity;
    sample->value[quantity] = value;
}

static struct meter_sample power(int64_t mw)
{
    struct meter_sample sample = {0};
    set(&sample, METER_POWER, mw);
    return sample;
}

static struct meter_sample phases(int64_t total, int64_t l1, int64_t l2, int64_t l3)
{
    struct meter_sample sample = power(total);
    set(&sample, METER_POWER_L1, l1);
    set(&sample, METER_POWER_L2, l2);
    set(&sample, METER_POWER_L3, l3);
    return sample;
}

static struct meter_sample with(enum meter_quantity quantity, int64_t value)
{
    struct meter_sample sample = power(1000000);
    set(&sample, quantity, value);
    return sample;
}

/* One sample later, by a second. */
static enum implausible next(const struct meter_sample *sample)
{
    now = mono_after(now, SECOND);
    return plausible_check(&limits, &memory, sample, now);
}

static void assert_fault(struct meter_sample sample, enum implausible fault)
{
    ck_assert_int_eq(next(&sample), fault);
}

START_TEST(test_ordinary_sample_is_believed)
{
    struct meter_sample sample = phases(-1500000, 280000, -2000000, 220000);
    set(&sample, METER_VOLTAGE_L1, 230100);
    set(&sample, METER_VOLTAGE_L2, 253000);
    set(&sample, METER_VOLTAGE_L3, 216000);
    set(&sample, METER_FREQUENCY, 49980);
    set(&sample, METER_IMPORT_ENERGY, 7654321000);
    set(&sample, METER_EXPORT_ENERGY, 1234567000);
    assert_fault(sample, PLAUSIBLE);
}
END_TEST

START_TEST(test_sample_without_power_is_not)
{
    struct meter_sample sample = {0};
    set(&sample, METER_VOLTAGE_L1, 230100);
    assert_fault(sample, IMPLAUSIBLE_NO_POWER);
}
END_TEST

static struct meter_sample temperature(int64_t mc)
{
    struct meter_sample sample = {0};
    set(&sample, METER_TEMPERATURE, mc);
    return sample;
}

START_TEST(test_thermometer_needs_a_temperature_and_no_power)
{
    limits.needs_power = false;
    limits.needs_temperature = true;
    assert_fault(temperature(61500), PLAUSIBLE);
    assert_fault(power(1000000), IMPLAUSIBLE_NO_TEMPERATURE);
}
END_TEST

/* A sensor that is cut or shorted reads one end of its range. */
START_TEST(test_temperature_that_no_tank_has_is_not)
{
    limits.needs_power = false;
    assert_fault(temperature(-20000), PLAUSIBLE);
    assert_fault(temperature(-20001), IMPLAUSIBLE_TEMPERATURE);
    assert_fault(temperature(130000), PLAUSIBLE);
    assert_fault(temperature(850000), IMPLAUSIBLE_TEMPERATURE);
}
END_TEST

START_TEST(test_power_beyond_the_supply_either_way_is_not)
{
    assert_fault(power(40000000), PLAUSIBLE);
    assert_fault(power(40000001), IMPLAUSIBLE_BEYOND_SUPPLY);
    assert_fault(power(-40000000), PLAUSIBLE);
    assert_fault(power(-40000001), IMPLAUSIBLE_BEYOND_SUPPLY);
    assert_fault(phases(0, 50000000, -50000000, 0), IMPLAUSIBLE_BEYOND_SUPPLY);
    limits.power_mw = 0;
    assert_fault(power(99000000), PLAUSIBLE);
}
END_TEST

START_TEST(test_phases_that_miss_the_total_are_not_three_samples_on_end)
{
    struct meter_sample parted = phases(3000000, 100000, 200000, 300000);
    assert_fault(parted, PLAUSIBLE); /* something was switched between two blocks */
    assert_fault(parted, PLAUSIBLE);
    assert_fault(parted, IMPLAUSIBLE_PHASES);
    assert_fault(parted, IMPLAUSIBLE_PHASES);
    assert_fault(phases(600000, 100000, 200000, 300000), PLAUSIBLE);
    assert_fault(parted, PLAUSIBLE);
}
END_TEST

/* 5 % of what flows in all phases and 100 W. */
START_TEST(test_phases_may_miss_the_total_a_little)
{
    for (int i = 0; i < 5; i++)
        assert_fault(phases(200000 + i, 2000000, -2000000, 0), PLAUSIBLE);
    for (int i = 0; i < 2; i++)
        assert_fault(phases(300100 + i, 2000000, -2000000, 0), PLAUSIBLE);
    assert_fault(phases(300103, 2000000, -2000000, 0), IMPLAUSIBLE_PHASES);
}
END_TEST

START_TEST(test_one_phase_of_three_is_not_compared)
{
    struct meter_sample sample = power(3000000);
    set(&sample, METER_POWER_L1, 100000);
    for (int i = 0; i < 5; i++)
        assert_fault(sample, PLAUSIBLE);
}
END_TEST

START_TEST(test_split_phase_is_compared)
{
    struct meter_sample sample = power(3000000);
    set(&sample, METER_POWER_L1, 100000);
    set(&sample, METER_POWER_L2, 100000);
    for (int i = 0; i < 2; i++)
        assert_fault(sample, PLAUSIBLE);
    assert_fault(sample, IMPLAUSIBLE_PHASES);
}
END_TEST

START_TEST(test_voltage_that_no_supply_has_is_not)
{
    assert_fault(with(METER_VOLTAGE_L1, 100000), PLAUSIBLE);
    assert_fault(with(METER_VOLTAGE_L1, 400000), PLAUSIBLE); /* a lost neutral is real */
    assert_fault(with(METER_VOLTAGE_L1, 23010), IMPLAUSIBLE_VOLTAGE);
    assert_fault(with(METER_VOLTAGE_L1, 2301000), IMPLAUSIBLE_VOLTAGE);
    assert_fault(with(METER_VOLTAGE_L1, -230000), IMPLAUSIBLE_VOLTAGE);
    assert_fault(with(METER_VOLTAGE_L1, 0), IMPLAUSIBLE_VOLTAGE);
}
END_TEST

START_TEST(test_phases_that_are_not_wired_may_show_no_voltage)
{
    struct meter_sample sample = with(METER_VOLTAGE_L1, 230100);
    set(&sample, METER_VOLTAGE_L2, 0);
    set(&sample, METER_VOLTAGE_L3, 12000); /* induced */
    assert_fault(sample, PLAUSIBLE);
}
END_TEST

/* Behind some dongles 50 Hz comes as 500: that is the scale of one register, and the power
 * beside it is as good as before. Whatever is graver is told first. */
START_TEST(test_a_frequency_that_cannot_be_does_not_lose_the_power)
{
    struct meter_sample tenfold = with(METER_FREQUENCY, 500000), beyond = power(50000000);
    ck_assert(is_good(next(&tenfold)));
    set(&beyond, METER_FREQUENCY, 500000);
    assert_fault(beyond, IMPLAUSIBLE_BEYOND_SUPPLY);
    begin();
    assert_fault(tenfold, IMPLAUSIBLE_FREQUENCY);
    for (int k = 0; k < limits.stuck_ms / SECOND - 1; k++)
        assert_fault(tenfold, IMPLAUSIBLE_FREQUENCY);
    assert_fault(tenfold, IMPLAUSIBLE_STUCK);
    ck_assert(!is_good(IMPLAUSIBLE_STUCK));
}
END_TEST

START_TEST(test_frequency_that_no_supply_has_is_not)
{
    assert_fault(with(METER_FREQUENCY, 50000), PLAUSIBLE);
    assert_fault(with(METER_FREQUENCY, 60020), PLAUSIBLE);
    assert_fault(with(METER_FREQUENCY, 46500), PLAUSIBLE); /* a generator */
    assert_fault(with(METER_FREQUENCY, 499), IMPLAUSIBLE_FREQUENCY);
    assert_fault(with(METER_FREQUENCY, 500000), IMPLAUSIBLE_FREQUENCY);
}
END_TEST

START_TEST(test_counter_that_fell_is_noted_once)
{
    assert_fault(with(METER_IMPORT_ENERGY, 7654321000), PLAUSIBLE);
    assert_fault(with(METER_IMPORT_ENERGY, 7654320000), IMPLAUSIBLE_ENERGY_FELL);
    assert_fault(with(METER_IMPORT_ENERGY, 7654320000), PLAUSIBLE);
    assert_fault(with(METER_IMPORT_ENERGY, 7654321000), PLAUSIBLE);
}
END_TEST

/* The value after it fits the one before: that one is noted no more. */
START_TEST(test_total_misread_once_is_noted_once)
{
    assert_fault(with(METER_IMPORT_ENERGY, 7654321000), PLAUSIBLE);
    assert_fault(with(METER_IMPORT_ENERGY, 12), IMPLAUSIBLE_ENERGY_FELL);
    assert_fault(with(METER_IMPORT_ENERGY, 7654321001), PLAUSIBLE);
    assert_fault(with(METER_IMPORT_ENERGY, 99999321001), IMPLAUSIBLE_ENERGY_FELL);
    assert_fault(with(METER_IMPORT_ENERGY, 7654321002), PLAUSIBLE);
}
END_TEST

START_TEST(test_counter_is_compared_over_samples_that_lack_it)
{
    assert_fault(with(METER_EXPORT_ENERGY, 2000), PLAUSIBLE);
    assert_fault(power(900000), PLAUSIBLE);
    assert_fault(with(METER_EXPORT_ENERGY, 1000), IMPLAUSIBLE_ENERGY_FELL);
}
END_TEST

/* 40 kW for 1 h is 40 kWh; counters may step by as much as 1 kWh. */
START_TEST(test_counter_that_rose_faster_than_the_supply_can_carry_is_noted)
{
    assert_fault(with(METER_IMPORT_ENERGY, 0), PLAUSIBLE);
    assert_fault(with(METER_IMPORT_ENERGY, 1000000), PLAUSIBLE);
    assert_fault(with(METER_IMPORT_ENERGY, 9000000), IMPLAUSIBLE_ENERGY_FELL);
    now = mono_after(now, MS_PER_HOUR);
    assert_fault(with(METER_IMPORT_ENERGY, 49000000), PLAUSIBLE);
    now = mono_after(now, MS_PER_HOUR);
    assert_fault(with(METER_IMPORT_ENERGY, 100000000), IMPLAUSIBLE_ENERGY_FELL);
    limits.power_mw = 0;
    assert_fault(with(METER_IMPORT_ENERGY, 900000000), PLAUSIBLE);
}
END_TEST

/* ---- a meter that stands still ----------------------------------------------------- */

static enum implausible repeat(struct meter_sample sample, int seconds)
{
    enum implausible fault = PLAUSIBLE;
    for (int i = 0; i < seconds; i++)
        fault = next(&sample);
    return fault;
}

START_TEST(test_meter_that_repeats_itself_for_ten_minutes_is_stuck)
{
    struct meter_sample sample = with(METER_VOLTAGE_L1, 230100);
    ck_assert_int_eq(repeat(sample, 600), PLAUSIBLE);
    ck_assert_int_eq(repeat(sample, 1), IMPLAUSIBLE_STUCK);
    ck_assert_int_eq(repeat(sample, 100), IMPLAUSIBLE_STUCK);
    sample.value[METER_VOLTAGE_L1]++;
    ck_assert_int_eq(repeat(sample, 1), PLAUSIBLE);
}
END_TEST

START_TEST(test_meter_whose_voltage_alone_moves_is_alive)
{
    for (int i = 0; i < 1000; i++)
        assert_fault(with(METER_VOLTAGE_L1, 230000 + 100 * (i / 500)), PLAUSIBLE);
}
END_TEST

START_TEST(test_meter_whose_energy_alone_moves_is_alive)
{
    for (int minute = 0; minute < 30; minute++) {
        ck_assert_int_eq(repeat(power(280000), 59), PLAUSIBLE);
        assert_fault(with(METER_IMPORT_ENERGY, 1000000000 + 5000 * minute), PLAUSIBLE);
    }
}
END_TEST

START_TEST(test_totals_that_come_and_go_unchanged_are_no_sign_of_life)
{
    struct meter_sample total = power(280000);
    set(&total, METER_IMPORT_ENERGY, 1000000000);
    ck_assert_int_eq(repeat(total, 1), PLAUSIBLE);
    ck_assert_int_eq(repeat(power(280000), 300), PLAUSIBLE);
    ck_assert_int_eq(repeat(total, 1), PLAUSIBLE);
    ck_assert_int_eq(repeat(power(280000), 300), IMPLAUSIBLE_STUCK);
}
END_TEST

START_TEST(test_export_that_never_moves_is_stuck_even_where_nothing_else_is_shown)
{
    ck_assert_int_eq(repeat(power(-1500000), 601), IMPLAUSIBLE_STUCK);
}
END_TEST

START_TEST(test_meter_that_shows_only_power_may_show_nothing_all_night)
{
    ck_assert_int_eq(repeat(power(0), 3600), PLAUSIBLE);
}
END_TEST

START_TEST(test_standing_still_counts_only_while_it_is_looked_at)
{
    struct meter_sample sample = with(METER_VOLTAGE_L1, 230100);
    ck_assert_int_eq(repeat(sample, 10), PLAUSIBLE);
    now = mono_after(now, MS_PER_HOUR); /* the line was down */
    ck_assert_int_eq(repeat(sample, 600), PLAUSIBLE);
    ck_assert_int_eq(repeat(sample, 2), IMPLAUSIBLE_STUCK);
}
END_TEST

START_TEST(test_standing_still_is_not_looked_for_where_not_asked)
{
    limits.stuck_ms = 0;
    ck_assert_int_eq(repeat(with(METER_VOLTAGE_L1, 230100), 3600), PLAUSIBLE);
}
END_TEST

START_TEST(test_every_fault_has_its_text)
{
    for (int fault = PLAUSIBLE; fault <= IMPLAUSIBLE_STUCK; fault++) {
        ck_assert_ptr_nonnull(implausible_text((enum implausible)fault));
        for (int other = PLAUSIBLE; other < fault; other++)
            ck_assert_str_ne(implausible_text((enum implausible)fault),
                             implausible_text((enum implausible)other));
    }
}
END_TEST

START_TEST(test_a_phase_that_is_missing_for_a_moment_makes_the_sample_one_that_is_missing)
{
    limits.whole_ms = 7 * SECOND;
    assert_fault(phases(3000000, 1000000, 1000000, 1000000), PLAUSIBLE);
    struct meter_sample part = phases(3000000, 1000000, 0, 1000000);
    part.has &= ~(UINT32_C(1) << METER_POWER_L2);
    for (int second = 1; second < 7; second++)
        assert_fault(part, IMPLAUSIBLE_NO_PHASES);
    assert_fault(power(3000000), PLAUSIBLE); /* it has become one that tells the total only */
    assert_fault(power(3000000), PLAUSIBLE);
    assert_fault(phases(3000000, 1000000, 1000000, 1000000), PLAUSIBLE);
    assert_fault(part, IMPLAUSIBLE_NO_PHASES);
}
END_TEST

int main(void)
{
    Suite *suite = suite_create("plausible");
    TCase *cases = tcase_create("plausible");
    tcase_add_checked_fixture(cases, begin, NULL);
    tcase_add_test(cases, test_ordinary_sample_is_believed);
    tcase_add_test(cases, test_sample_without_power_is_not);
    tcase_add_test(cases, test_thermometer_needs_a_temperature_and_no_power);
    tcase_add_test(cases, test_temperature_that_no_tank_has_is_not);
    tcase_add_test(cases, test_total_misread_once_is_noted_once);
    tcase_add_test(cases, test_power_beyond_the_supply_either_way_is_not);
    tcase_add_test(cases, test_phases_that_miss_the_total_are_not_three_samples_on_end);
    tcase_add_test(cases, test_phases_may_miss_the_total_a_little);
    tcase_add_test(cases,
                   test_a_phase_that_is_missing_for_a_moment_makes_the_sample_one_that_is_missing);
    tcase_add_test(cases, test_one_phase_of_three_is_not_compared);
    tcase_add_test(cases, test_split_phase_is_compared);
    tcase_add_test(cases, test_voltage_that_no_supply_has_is_not);
    tcase_add_test(cases, test_phases_that_are_not_wired_may_show_no_voltage);
    tcase_add_test(cases, test_frequency_that_no_supply_has_is_not);
    tcase_add_test(cases, test_a_frequency_that_cannot_be_does_not_lose_the_power);
    tcase_add_test(cases, test_counter_that_fell_is_noted_once);
    tcase_add_test(cases, test_counter_is_compared_over_samples_that_lack_it);
    tcase_add_test(cases, test_counter_that_rose_faster_than_the_supply_can_carry_is_noted);
    tcase_add_test(cases, test_meter_that_repeats_itself_for_ten_minutes_is_stuck);
    tcase_add_test(cases, test_meter_whose_voltage_alone_moves_is_alive);
    tcase_add_test(cases, test_meter_whose_energy_alone_moves_is_alive);
    tcase_add_test(cases, test_totals_that_come_and_go_unchanged_are_no_sign_of_life);
    tcase_add_test(cases, test_export_that_never_moves_is_stuck_even_where_nothing_else_is_shown);
    tcase_add_test(cases, test_meter_that_shows_only_power_may_show_nothing_all_night);
    tcase_add_test(cases, test_standing_still_counts_only_while_it_is_looked_at);
    tcase_add_test(cases, test_standing_still_is_not_looked_for_where_not_asked);
    tcase_add_test(cases, test_every_fault_has_its_text);
    suite_add_tcase(suite, cases);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? 1 : 0;
}
