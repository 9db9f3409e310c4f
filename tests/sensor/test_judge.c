/* test_judge.c - what a tank cannot have said. */
#include "sensor/judge.h"

#include "../core/suite.h"

enum { POWER_ON_MC = 85000 };

static struct sensor_memory memory;
static struct mono now;

static void begin(void)
{
    memory = (struct sensor_memory){.read = false};
    now = (struct mono){1000};
}

static enum sensor_fault after(int64_t ms, int32_t mc)
{
    now = mono_after(now, ms);
    return sensor_judge(&memory, POWER_ON_MC, mc, now);
}

START_TEST(test_what_no_tank_has_is_not_taken)
{
    begin();
    ck_assert_int_eq(after(0, -127000), SENSOR_OUT_OF_RANGE);
    ck_assert_int_eq(after(0, -10001), SENSOR_OUT_OF_RANGE);
    ck_assert_int_eq(after(0, 110001), SENSOR_OUT_OF_RANGE);
    ck_assert(!memory.read);
    ck_assert_int_eq(after(0, -10000), SENSOR_WELL);
    begin();
    ck_assert_int_eq(after(0, 110000), SENSOR_WELL);
}
END_TEST

START_TEST(test_85_at_power_on_is_no_temperature_but_a_tank_that_comes_to_it_has_one)
{
    begin();
    ck_assert_int_eq(after(0, 85000), SENSOR_POWER_ON);
    ck_assert_int_eq(after(1000, 60000), SENSOR_WELL);
    ck_assert_int_eq(after(60000, 85000), SENSOR_POWER_ON);
    ck_assert_int_eq(memory.mc, 60000);
    ck_assert_int_eq(after(60000, 84000), SENSOR_WELL);
    ck_assert_int_eq(after(60000, 85000), SENSOR_WELL);
    begin();
    ck_assert_int_eq(sensor_judge(&memory, 0, 85000, now), SENSOR_WELL); /* another part */
}
END_TEST

START_TEST(test_a_leap_is_not_taken_and_one_that_stays_is)
{
    begin();
    ck_assert_int_eq(after(0, 60000), SENSOR_WELL);
    ck_assert_int_eq(after(1000, 20000), SENSOR_LEAPS);
    ck_assert_int_eq(after(1000, 60000), SENSOR_WELL);
    ck_assert_int_eq(after(10000, 36000), SENSOR_WELL); /* a draw passes the probe */
    ck_assert_int_eq(after(1000, 90000), SENSOR_LEAPS);
    ck_assert_int_eq(after(40000, 90000), SENSOR_WELL);
}
END_TEST

START_TEST(test_a_hot_tank_that_stands_still_for_a_day_has_a_stuck_sensor)
{
    begin();
    ck_assert_int_eq(after(0, 60000), SENSOR_WELL);
    ck_assert_int_eq(after(24 * MS_PER_HOUR - 1, 60000), SENSOR_WELL);
    ck_assert_int_eq(after(1, 60000), SENSOR_STUCK);
    ck_assert_int_eq(after(10000, 59937), SENSOR_WELL);
}
END_TEST

START_TEST(test_a_cold_tank_may_stand_still)
{
    begin();
    ck_assert_int_eq(after(0, 18000), SENSOR_WELL);
    ck_assert_int_eq(after(72 * MS_PER_HOUR, 18000), SENSOR_WELL);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_what_no_tank_has_is_not_taken,
        test_85_at_power_on_is_no_temperature_but_a_tank_that_comes_to_it_has_one,
        test_a_leap_is_not_taken_and_one_that_stays_is,
        test_a_hot_tank_that_stands_still_for_a_day_has_a_stuck_sensor,
        test_a_cold_tank_may_stand_still,
    };
    return suite_run("judge", tests, COUNT_OF(tests));
}
