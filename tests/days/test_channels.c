/* test_channels.c - values put into channels in whatever order files have them. */
#include "days/channels.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "../core/suite.h"

enum { FIRST_S = 1768312800, STEP_S = 1800 };

static struct days_channels channels;

static struct days_channel *opened(const char *name, enum days_role role, int file)
{
    struct days_channel like = {
        .role = role, .unit = DAYS_KWH, .step_s = STEP_S, .begin = {file, 1}};
    snprintf(like.name, sizeof(like.name), "%s", name);
    return days_channel_open(&channels, &like);
}

static enum days_put put(struct days_channel *channel, int slot, float value, int file, size_t line)
{
    struct wall at = {(FIRST_S + (int64_t)slot * STEP_S) * MS_PER_S};
    return days_channel_put(channel, at, value, (struct days_place){file, line});
}

static void expect_ramp(const struct days_channel *channel, int from, int to)
{
    ck_assert_int_eq(channel->first.ms, (FIRST_S + (int64_t)from * STEP_S) * MS_PER_S);
    ck_assert_uint_eq(channel->count, (size_t)(to - from));
    for (int k = from; k < to; k++)
        ck_assert_float_eq(channel->value[k - from], (float)k);
}

START_TEST(test_oldest_and_newest_first_give_the_same)
{
    struct days_channel *up = opened("up", DAYS_IMPORT, 0);
    struct days_channel *down = opened("down", DAYS_EXPORT, 0);
    for (int k = 0; k < 20000; k++) {
        ck_assert_int_eq(put(up, k, (float)k, 0, 2 + (size_t)k), DAYS_PUT);
        ck_assert_int_eq(put(down, 19999 - k, (float)(19999 - k), 0, 2 + (size_t)k), DAYS_PUT);
    }
    expect_ramp(up, 0, 20000);
    expect_ramp(down, 0, 20000);
    ck_assert_uint_eq(up->run_count, 1);
    ck_assert_uint_eq(down->run_count, 1);
    ck_assert_uint_eq(days_channel_place(up, 700).line, 702);
    ck_assert_uint_eq(days_channel_place(down, 19999).line, 2);
    ck_assert_uint_eq(days_channel_place(down, 0).line, 20001);
    days_channels_free(&channels);
}
END_TEST

/* A line has a day of 48; days come in any order. */
START_TEST(test_days_in_any_order_find_their_places)
{
    struct days_channel *channel = opened("E1", DAYS_IMPORT, 0);
    uint64_t seed = 3;
    int day[40];
    for (int k = 0; k < 40; k++) {
        int other = (int)seeded_between(&seed, 0, k);
        day[k] = day[other];
        day[other] = k;
    }
    for (int k = 0; k < 40; k++)
        for (int slot = 0; slot < 48; slot++)
            ck_assert_int_eq(
                put(channel, day[k] * 48 + slot, (float)(day[k] * 48 + slot), 0, (size_t)(k + 3)),
                DAYS_PUT);
    expect_ramp(channel, 0, 40 * 48);
    for (int k = 0; k < 40; k++) {
        ck_assert_uint_eq(days_channel_place(channel, (size_t)day[k] * 48).line, (size_t)(k + 3));
        ck_assert_uint_eq(days_channel_place(channel, (size_t)day[k] * 48 + 47).line,
                          (size_t)(k + 3));
    }
    days_channels_free(&channels);
}
END_TEST

START_TEST(test_what_lies_between_is_missing_and_has_no_line)
{
    struct days_channel *channel = opened("E1", DAYS_IMPORT, 0);
    put(channel, 5, 50, 0, 8);
    put(channel, 8, 80, 0, 9);
    put(channel, 9, NAN, 0, 10);
    put(channel, 2, 20, 0, 11);
    ck_assert_uint_eq(channel->count, 8);
    ck_assert_float_eq(channel->value[0], 20);
    ck_assert(isnan(channel->value[1]) && isnan(channel->value[2]) && isnan(channel->value[4]));
    ck_assert(isnan(channel->value[7]));
    ck_assert_uint_eq(days_channel_place(channel, 4).line, 0);
    ck_assert_uint_eq(days_channel_place(channel, 7).line, 10);
    ck_assert_uint_eq(days_channel_place(channel, 0).line, 11);
    days_channels_free(&channels);
}
END_TEST

START_TEST(test_a_value_comes_once_but_files_may_overlap)
{
    struct days_channel *channel = opened("E1", DAYS_IMPORT, 0);
    put(channel, 0, 1, 0, 2);
    put(channel, 1, 2, 0, 3);
    ck_assert_int_eq(put(channel, 1, 2, 0, 4), DAYS_PUT_TWICE);
    ck_assert_int_eq(put(channel, 1, 2, 1, 2), DAYS_PUT);
    ck_assert_int_eq(put(channel, 0, 3, 1, 3), DAYS_PUT_TWICE);
    ck_assert_float_eq(channel->value[0], 1);
    ck_assert_uint_eq(channel->equal_twice, 1);
    put(channel, 2, NAN, 0, 4);
    put(channel, 3, INFINITY, 0, 5);
    ck_assert_int_eq(put(channel, 2, 3, 0, 6), DAYS_PUT);
    ck_assert_int_eq(put(channel, 3, 4, 0, 7), DAYS_PUT);
    ck_assert_int_eq(put(channel, 3, NAN, 0, 8), DAYS_PUT);
    ck_assert_float_eq(channel->value[2], 3);
    ck_assert_float_eq(channel->value[3], 4);
    days_channels_free(&channels);
}
END_TEST

START_TEST(test_times_off_the_grid_or_ages_away_are_refused)
{
    struct days_channel *channel = opened("E1", DAYS_IMPORT, 0);
    put(channel, 0, 1, 0, 2);
    const struct wall between = {(FIRST_S + 600) * (int64_t)MS_PER_S};
    ck_assert_int_eq(days_channel_put(channel, between, 1, (struct days_place){0, 3}),
                     DAYS_PUT_BETWEEN);
    ck_assert_int_eq(put(channel, 1 << 28, 1, 0, 4), DAYS_PUT_TOO_FAR);
    ck_assert_int_eq(put(channel, -(1 << 28), 1, 0, 4), DAYS_PUT_TOO_FAR);
    ck_assert_uint_eq(channel->count, 1);
    days_channels_free(&channels);
}
END_TEST

/* Two short lines of a hostile file would be given years of seconds. */
START_TEST(test_over_400_days_away_is_refused_and_made_no_room_for)
{
    enum { DAY = 86400 / STEP_S };
    struct days_channel *channel = opened("E1", DAYS_IMPORT, 0);
    put(channel, 0, 1, 0, 2);
    ck_assert_int_eq(put(channel, 402 * DAY, 1, 0, 3), DAYS_PUT_TOO_FAR);
    ck_assert_int_eq(put(channel, -402 * DAY, 1, 0, 4), DAYS_PUT_TOO_FAR);
    ck_assert_uint_eq(channel->count, 1);
    ck_assert_int_eq(put(channel, 399 * DAY, 1, 0, 5), DAYS_PUT);
    ck_assert_int_eq(put(channel, -399 * DAY, 1, 0, 6), DAYS_PUT);
    ck_assert_uint_eq(channels.values, channel->count);
    days_channels_free(&channels);
}
END_TEST

START_TEST(test_all_channels_together_have_one_limit)
{
    struct days_channel *first = opened("E1", DAYS_IMPORT, 0);
    struct days_channel *second = opened("B1", DAYS_EXPORT, 0);
    put(first, 0, 1, 0, 2);
    channels.values = DAYS_VALUES_MAX - 3; /* as if others had them */
    ck_assert_int_eq(put(first, 1, 1, 0, 3), DAYS_PUT);
    ck_assert_int_eq(put(second, 0, 1, 0, 4), DAYS_PUT);
    ck_assert_int_eq(put(second, 2, 1, 0, 5), DAYS_PUT_TOO_MANY);
    ck_assert_int_eq(put(second, -1, 1, 0, 5), DAYS_PUT);
    ck_assert_int_eq(put(first, 2, 1, 0, 6), DAYS_PUT_TOO_MANY);
    ck_assert_uint_eq(first->count, 2);
    ck_assert_uint_eq(second->count, 2);
    days_channels_free(&channels);
    ck_assert_uint_eq(channels.values, 0);
}
END_TEST

/* Lines further and further apart: hardly two values are of one run. */
START_TEST(test_a_long_ragged_file_may_come_again_as_another)
{
    enum { COUNT = 1 << 18 };
    struct days_channel *channel = opened("E1", DAYS_IMPORT, 0);
    for (int file = 0; file < 2; file++)
        for (int k = 0; k < COUNT; k++)
            ck_assert_int_eq(put(channel, k, (float)k, file, 1 + (size_t)k * (size_t)k % 997),
                             DAYS_PUT);
    ck_assert_uint_gt(channel->run_count, COUNT / 2);
    ck_assert_uint_eq(channel->equal_twice, COUNT);
    ck_assert_int_eq(put(channel, 7, 7, 1, 1000), DAYS_PUT_TWICE);
    days_channels_free(&channels);
}
END_TEST

/* Files of one name and kind go on with each other; what is unknown stays apart. */
START_TEST(test_channels_are_known_by_name_kind_unit_and_step)
{
    struct days_channel *channel = opened("kWh", DAYS_IMPORT, 0);
    ck_assert_ptr_eq(opened("kWh", DAYS_IMPORT, 1), channel);
    ck_assert_ptr_ne(opened("kWh", DAYS_EXPORT, 1), channel);
    struct days_channel *unknown = opened("kWh", DAYS_UNKNOWN, 0);
    ck_assert_ptr_eq(opened("kWh", DAYS_UNKNOWN, 0), unknown);
    ck_assert_ptr_ne(opened("kWh", DAYS_UNKNOWN, 1), unknown);
    for (int k = channels.count; k < DAYS_CHANNELS_MAX; k++) {
        char name[8];
        snprintf(name, sizeof(name), "%d", k);
        ck_assert_ptr_nonnull(opened(name, DAYS_UNKNOWN, 0));
    }
    ck_assert_ptr_null(opened("one more", DAYS_UNKNOWN, 0));
    days_channels_free(&channels);
}
END_TEST

START_TEST(test_values_that_are_taken_begin_their_block)
{
    struct days_channel *channel = opened("E1", DAYS_IMPORT, 0);
    for (int k = 10; k-- > 0;)
        put(channel, k, (float)k, 0, (size_t)(20 - k));
    float *value = days_channel_take(channel);
    for (int k = 0; k < 10; k++)
        ck_assert_float_eq(value[k], (float)k);
    ck_assert_uint_eq(days_channel_place(channel, 9).line, 11);
    free(value);
    days_channels_free(&channels);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_oldest_and_newest_first_give_the_same,
        test_days_in_any_order_find_their_places,
        test_what_lies_between_is_missing_and_has_no_line,
        test_a_value_comes_once_but_files_may_overlap,
        test_times_off_the_grid_or_ages_away_are_refused,
        test_over_400_days_away_is_refused_and_made_no_room_for,
        test_all_channels_together_have_one_limit,
        test_a_long_ragged_file_may_come_again_as_another,
        test_channels_are_known_by_name_kind_unit_and_step,
        test_values_that_are_taken_begin_their_block,
    };
    return suite_run("channels of days", tests, COUNT_OF(tests));
}
