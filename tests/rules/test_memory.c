/* test_memory.c - what is remembered: over restarts and reloads, in whatever state it comes
 * back, and by whatever clock it was written. */
#include "bench_house.h"
#include "core/kept.h"
#include "terms/order.h"

#include <stdio.h>
#include <string.h>

enum { HOUR = 3600, MINUTE = 60, DAY = 24 * HOUR, NOON = 12 * HOUR, NOTE = 4096 };

static struct bench b;
static char note[NOTE], site_note[NOTE];

/* ---- restart and reload ---- */

static void save(void)
{
    struct text into = text_in(note, sizeof note);
    rules_load_save(&b.settings, &b.memory, HEATER, &into);
    ck_assert(!into.full);
    into = text_in(site_note, sizeof site_note);
    rules_site_save(&b.memory, &into);
    ck_assert(!into.full);
}

static bool restore(int64_t away_ms, struct text *told)
{
    bool was_on;
    b.now.mono.ms = 60 * MS_PER_S;
    b.now.wall.ms += away_ms;
    rules_begin(&b.settings, &b.memory, b.loads, b.now, 1);
    rules_site_restore(&b.memory, site_note, told);
    bool whole =
        rules_load_restore(&b.settings, &b.memory, HEATER, note, b.now, away_ms, &was_on, told);
    b.loads[HEATER].health = OUTPUT_CONFIRMED;
    b.loads[HEATER].confirmed_once = true;
    return whole;
}

enum way { RESTART, RELOAD };

/* The settings are as `before` no longer: by either way. */
static void change(enum way way, const struct load_settings *before)
{
    struct load_settings after = b.load[HEATER];
    b.load[HEATER] = *before;
    save();
    b.load[HEATER] = after;
    if (way == RESTART)
        restore(0, NULL);
    else
        rules_load_migrate(&b.settings, &b.memory, HEATER, before, b.now, NULL);
    b.memory.calendar_from = b.memory.calendar_until = (struct wall){0};
}

static struct floor_settings weekly(uint16_t every_days)
{
    return (struct floor_settings){.measure = FLOOR_SATISFIED,
                                   .every_days = every_days,
                                   .by_s = 17 * HOUR,
                                   .reserve_ms = 30 * MS_PER_MIN,
                                   .amount = 4 * MS_PER_HOUR};
}

START_TEST(test_every_days_made_shorter_holds_from_now_on)
{
    bench_make(&b, 1);
    bench_floor(&b, weekly(28));
    bench_begin(&b, NOON);
    bench_pass(&b, HOUR);
    struct load_settings before = b.load[HEATER];
    b.load[HEATER].floor[0].every_days = 7;
    change(_i == 0 ? RESTART : RELOAD, &before);
    bench_pass(&b, 5);
    int64_t left_ms = b.loads[HEATER].floor[0].deadline_ms - b.now.wall.ms;
    ck_assert_int_gt(left_ms, 0);
    ck_assert_int_le(left_ms, 8 * (int64_t)MS_PER_DAY);
}
END_TEST

START_TEST(test_a_floor_that_asks_for_more_is_no_longer_met)
{
    bench_make(&b, 1);
    bench_floor(&b, bench_hours_by(1, 23 * HOUR));
    b.rest_w = -4000;
    bench_begin(&b, NOON);
    bench_pass(&b, 2 * HOUR);
    ck_assert(b.loads[HEATER].floor[0].met);
    b.rest_w = 500;
    bench_pass(&b, HOUR);
    int64_t done = b.loads[HEATER].floor[0].done;
    struct load_settings before = b.load[HEATER];
    b.load[HEATER].floor[0].amount = 4 * MS_PER_HOUR;
    change(_i == 0 ? RESTART : RELOAD, &before);
    ck_assert_int_eq(b.loads[HEATER].floor[0].done, done);
    ck_assert(!b.loads[HEATER].floor[0].met);
    bench_pass(&b, 9 * HOUR - 10);
    ck_assert_int_eq(b.events[EVENT_FLOOR_MISSED], 0);
    ck_assert_int_eq(b.events[EVENT_FLOOR_MET], 2);
}
END_TEST

START_TEST(test_a_floor_written_before_another_leaves_that_one_what_it_has)
{
    bench_make(&b, 1);
    bench_floor(&b, bench_hours_by(3, 17 * HOUR));
    b.rest_w = -4000;
    bench_begin(&b, NOON);
    bench_pass(&b, HOUR);
    struct floor_memory was = b.loads[HEATER].floor[0];
    struct load_settings before = b.load[HEATER];
    b.load[HEATER].floor[1] = b.load[HEATER].floor[0];
    b.load[HEATER].floor[0] = weekly(7);
    b.load[HEATER].floor_count = 2;
    change(_i == 0 ? RESTART : RELOAD, &before);
    ck_assert(!b.loads[HEATER].floor[0].begun);
    ck_assert_int_eq(b.loads[HEATER].floor[1].done, was.done);
    ck_assert_int_eq(b.loads[HEATER].floor[1].deadline_ms, was.deadline_ms);
}
END_TEST

START_TEST(test_another_element_is_taken_by_its_nameplate)
{
    bench_make(&b, 1);
    bench_begin(&b, NOON);
    b.loads[HEATER].draw.view.power_w = 3300;
    b.loads[HEATER].draw.view.power_measured = true;
    struct load_settings before = b.load[HEATER];
    change(_i == 0 ? RESTART : RELOAD, &before);
    ck_assert_int_eq(b.loads[HEATER].draw.view.power_w, 3300);
    before = b.load[HEATER];
    b.load[HEATER].power_w = 2400;
    change(_i == 0 ? RESTART : RELOAD, &before);
    ck_assert_int_eq(b.loads[HEATER].draw.view.power_w, 2400);
    ck_assert(!b.loads[HEATER].draw.view.power_measured);
}
END_TEST

START_TEST(test_a_load_moved_to_another_phase_is_not_compared_with_what_that_took_before)
{
    bench_make(&b, 1);
    b.settings.phase_count = 3;
    bench_begin(&b, NOON);
    bench_pass(&b, MINUTE);
    ck_assert(b.loads[HEATER].draw.has_level);
    struct load_settings before = b.load[HEATER];
    b.load[HEATER].phases = 2;
    rules_load_migrate(&b.settings, &b.memory, HEATER, &before, b.now, NULL);
    ck_assert(!b.loads[HEATER].draw.has_level && !b.loads[HEATER].draw.has_before);
    bench_pass(&b, 1);
    ck_assert(b.loads[HEATER].draw.has_level && !b.loads[HEATER].draw.has_had);
}
END_TEST

START_TEST(test_a_staged_load_of_fewer_stages_goes_on_with_those)
{
    bench_make(&b, 1);
    struct load_settings *load = &b.load[HEATER];
    load->kind = LOAD_STAGED;
    load->stages = 3;
    load->power_w = 3600;
    for (int k = 0; k < 3; k++)
        load->stage_w[k] = 1200;
    b.rest_w = -6000;
    bench_begin(&b, NOON);
    bench_pass(&b, HOUR);
    ck_assert_int_eq(b.loads[HEATER].stage, 3);
    struct load_settings before = *load;
    load->stages = 2;
    load->power_w = 2400;
    rules_load_migrate(&b.settings, &b.memory, HEATER, &before, b.now, NULL);
    ck_assert_int_eq(b.loads[HEATER].stage, 2);
    ck_assert_int_eq(b.loads[HEATER].level_w, 2400);
}
END_TEST

START_TEST(test_starts_per_hour_count_across_a_restart)
{
    bench_make(&b, 1);
    b.load[HEATER].starts_per_hour = 1;
    b.rest_w = -4000;
    bench_begin(&b, NOON);
    bench_pass(&b, 20 * MINUTE);
    ck_assert_int_eq(b.loads[HEATER].start_count, 1);
    int64_t ago_ms = b.now.mono.ms - b.loads[HEATER].start[0].ms;
    save();
    restore(MS_PER_MIN, NULL);
    int64_t waited = bench_until(&b, HEATER, true, 2 * HOUR);
    ck_assert_int_ge(waited, HOUR - MINUTE - ago_ms / MS_PER_S);
}
END_TEST

/* As the first version wrote it. */
START_TEST(test_a_note_of_the_first_version_goes_on)
{
    bool was_on;
    char old[NOTE], wrong[200];
    struct text told = text_in(wrong, sizeof wrong);
    bench_make(&b, 1);
    bench_floor(&b, bench_hours_by(3, 17 * HOUR));
    bench_begin(&b, NOON);
    int64_t five = b.now.wall.ms / MS_PER_HOUR * MS_PER_HOUR + 5 * (int64_t)MS_PER_HOUR;
    snprintf(old, sizeof old,
             "on=1\nhand=2\nhand_left_ms=-1\nhand_level_w=0\ninhibited=1\ndisabled=0\nsatisfied=0\n"
             "retry_left_ms=0\non_today_ms=7200000\ntotal_spare_mj=360000\ntotal_grid_mj=10\n"
             "total_on_ms=1000\ntotal_draw_ms=900\ntotal_starts=3\ntoday_spare_mj=0\n"
             "power_w=3300\npower_measured=1\nfloor0.measure=0\nfloor0.begun=1\nfloor0.met=0\n"
             "floor0.elapsed=0\nfloor0.extended=0\nfloor0.start_ms=%lld\nfloor0.deadline_ms=%lld\n"
             "floor0.done=5400000\n",
             (long long)(five - MS_PER_DAY), (long long)five);
    ck_assert(rules_load_restore(&b.settings, &b.memory, HEATER, old, b.now, 0, &was_on, &told));
    ck_assert_str_eq(wrong, "");
    ck_assert(was_on);
    const struct load_memory *heater = &b.loads[HEATER];
    ck_assert_int_eq(heater->hand, HAND_OFF);
    ck_assert(heater->inhibited);
    ck_assert_int_eq(heater->total.spare_mj, 360000);
    ck_assert_int_eq(heater->draw.view.power_w, 3300);
    ck_assert_int_eq(heater->floor[0].deadline_ms, five);
    ck_assert_int_eq(heater->floor[0].done, 5400000);
    rules_begin(&b.settings, &b.memory, b.loads, b.now, 1);
    ck_assert(rules_site_restore(
        &b.memory, "today=-9223372036854775808\nholiday_back_ms=0\nall_inhibited=1\n", &told));
    ck_assert(b.memory.all_inhibited);
    ck_assert_int_eq(b.memory.today, RULES_NO_DAY);
}
END_TEST

START_TEST(test_minimum_off_begins_when_a_silent_output_first_reads_off)
{
    bench_make(&b, 1);
    b.rest_w = -4000;
    bench_begin_cold(&b, NOON);
    b.at[HEATER].answer_in = 7 * MINUTE; /* longer than minimum off, and it may be on until then */
    bench_pass(&b, 7 * MINUTE);
    ck_assert_int_ge(bench_until(&b, HEATER, true, HOUR), 5 * MINUTE);
}
END_TEST

/* ---- bounds ---- */

static bool read_old(const char *lines, struct text *told)
{
    bool was_on;
    rules_begin(&b.settings, &b.memory, b.loads, b.now, 1);
    return rules_load_restore(&b.settings, &b.memory, HEATER, lines, b.now, 0, &was_on, told);
}

START_TEST(test_no_sum_that_is_read_back_can_overflow)
{
    char wrong[400];
    struct text told = text_in(wrong, sizeof wrong);
    bench_make(&b, 1);
    bench_begin(&b, NOON);
    read_old("total_spare_mj=9223372036854775807\ntotal_grid_mj=-5\ntotal_on_ms=nan\n"
             "total_starts=99999999999999999999\non_today_ms=9223372036854775807\n"
             "opened_ago_ms=-9223372036854775808\nretry_left_ms=9223372036854775807\n"
             "hand_left_ms=9223372036854775807\nhand_level_w=2147483648\npower_w=-1\n",
             &told);
    const struct load_memory *heater = &b.loads[HEATER];
    ck_assert_int_eq(heater->total.spare_mj, 0);
    ck_assert_int_eq(heater->total.grid_mj, 0);
    ck_assert_int_eq(heater->total.on_ms, 0);
    ck_assert_int_eq(heater->total.starts, 0);
    ck_assert_int_le(heater->on_today_ms, 25 * (int64_t)MS_PER_HOUR);
    ck_assert_int_eq(heater->hand_level_w, 0);
    ck_assert_int_eq(heater->draw.view.power_w, b.load[HEATER].power_w);
    ck_assert_ptr_nonnull(strstr(wrong, "total_spare_mj"));
    ck_assert_ptr_nonnull(strstr(wrong, "opened_ago_ms"));
}
END_TEST

START_TEST(test_an_inhibit_that_is_neither_yes_nor_no_is_one)
{
    bench_make(&b, 1);
    bench_begin(&b, NOON);
    read_old("inhibited=255\ndisabled=2\nsatisfied=2\n", NULL);
    ck_assert_int_eq(b.loads[HEATER].inhibited, 1);
    ck_assert_int_eq(b.loads[HEATER].disabled, 1);
    ck_assert_int_eq(b.loads[HEATER].draw.satisfied, 0);
}
END_TEST

START_TEST(test_over_an_absence_of_unknown_length_nothing_that_ages_is_believed)
{
    static const char note_of[] = "hand=1\nhand_left_ms=3600000\nsatisfied=1\noff_shown=1\n"
                                  "supposed=1\ninhibited=1\n";
    bool was_on;
    bench_make(&b, 1);
    bench_begin(&b, NOON);
    const struct load_memory *heater = &b.loads[HEATER];
    for (int64_t away_ms = 0; away_ms >= -1; away_ms--) {
        bool known = away_ms == 0;
        rules_begin(&b.settings, &b.memory, b.loads, b.now, 1);
        rules_load_restore(&b.settings, &b.memory, HEATER, note_of, b.now, away_ms, &was_on, NULL);
        ck_assert_int_eq(heater->hand, known ? HAND_ON : HAND_AUTO);
        ck_assert_int_eq(heater->draw.satisfied, known);
        ck_assert_int_eq(heater->draw.view.off_shown, known);
        ck_assert_int_eq(heater->draw.view.supposed, known);
        ck_assert(heater->inhibited); /* a person's safety order does not age */
    }
    rules_load_restore(&b.settings, &b.memory, HEATER, "hand=2\nhand_left_ms=-1\n", b.now, -1,
                       &was_on, NULL);
    ck_assert_int_eq(heater->hand, HAND_OFF);
}
END_TEST

START_TEST(test_a_run_by_hand_read_back_is_no_longer_than_one_ordered)
{
    bench_make(&b, 1);
    bench_begin(&b, NOON);
    read_old("hand=1\nhand_left_ms=86400000\n", NULL);
    ck_assert_int_eq(b.loads[HEATER].hand, HAND_ON);
    read_old("hand=1\nhand_left_ms=86400001\n", NULL);
    ck_assert_int_eq(b.loads[HEATER].hand, HAND_AUTO);
    read_old("hand=1\nhand_left_ms=-1\n", NULL);
    ck_assert_int_eq(b.loads[HEATER].hand, HAND_AUTO);
    read_old("hand=2\nhand_left_ms=-1\n", NULL);
    ck_assert_int_eq(b.loads[HEATER].hand, HAND_OFF);
}
END_TEST

START_TEST(test_a_holiday_read_back_ends_within_a_year)
{
    char text[80];
    bench_make(&b, 1);
    bench_begin(&b, NOON);
    for (int far = 0; far < 2; far++) {
        int64_t back =
            b.now.wall.ms + ORDER_LONGEST_HOLIDAY_MS - MS_PER_HOUR + far * 10 * MS_PER_DAY;
        snprintf(text, sizeof text, "holiday_back_ms=%lld\n", (long long)back);
        rules_begin(&b.settings, &b.memory, b.loads, b.now, 1);
        rules_site_restore(&b.memory, text, NULL);
        /* a clock that is not set can't tell */
        b.now.wall_trusted = false;
        b.now.wall.ms -= 400 * (int64_t)MS_PER_DAY;
        bench_pass(&b, 5);
        ck_assert_int_eq(b.memory.holiday_back.ms, back);
        b.now.wall_trusted = true;
        b.now.wall.ms += 400 * (int64_t)MS_PER_DAY;
        bench_pass(&b, 5);
        ck_assert_int_eq(b.memory.holiday_back.ms, far ? 0 : back);
    }
}
END_TEST

START_TEST(test_a_deadline_read_back_is_no_later_than_the_next_regular_one)
{
    char text[300];
    bench_make(&b, 1);
    bench_floor(&b, bench_hours_by(2, 17 * HOUR));
    bench_begin(&b, NOON);
    int64_t five = b.now.wall.ms / MS_PER_HOUR * MS_PER_HOUR + 5 * (int64_t)MS_PER_HOUR;
    for (int days = 0; days < 400; days += 1 + days / 3) {
        b.now.wall.ms = five - 5 * (int64_t)MS_PER_HOUR;
        snprintf(text, sizeof text,
                 "floor0.measure=0\nfloor0.begun=1\nfloor0.met=%d\nfloor0.start_ms=%lld\n"
                 "floor0.deadline_ms=%lld\n",
                 days > 0, (long long)(five + (days - 1) * (int64_t)MS_PER_DAY),
                 (long long)(five + days * (int64_t)MS_PER_DAY));
        read_old(text, NULL);
        bench_pass(&b, 2);
        ck_assert_int_eq(b.loads[HEATER].floor[0].deadline_ms, five);
        ck_assert(!b.loads[HEATER].floor[0].met);
    }
}
END_TEST

START_TEST(test_a_note_that_was_changed_takes_no_floor_away)
{
    bench_make(&b, 1);
    bench_floor(&b, bench_hours_by(3, 17 * HOUR));
    bench_begin(&b, NOON);
    b.loads[HEATER].inhibited = true;
    bench_pass(&b, 5);
    save();
    char *met = strstr(note, "floor0.met=0");
    met[11] = '1';
    ck_assert(!restore(0, NULL));
    ck_assert(!b.loads[HEATER].floor[0].met);
    ck_assert(!b.loads[HEATER].inhibited); /* not known from here: the caller is told */
    bench_pass(&b, 5 * HOUR);
    ck_assert_int_eq(b.events[EVENT_FLOOR_MET], 1);
}
END_TEST

static void check_bounds(const struct load_memory *load, int64_t t)
{
    const int64_t most = INT64_MAX / 8;
    ck_assert_int_le(load->hand, HAND_OFF);
    ck_assert(load->hand != HAND_ON || load->hand_until.ms - t <= ORDER_LONGEST_ON_MS);
    const int64_t sums[] = {load->total.spare_mj, load->total.grid_mj, load->total.on_ms,
                            load->total.draw_ms,  load->total.starts,  load->today.spare_mj,
                            load->today.grid_mj,  load->on_today_ms,   load->floor[0].done};
    for (size_t k = 0; k < sizeof sums / sizeof sums[0]; k++) {
        ck_assert_int_ge(sums[k], 0);
        ck_assert_int_lt(sums[k], most);
    }
    /* as the bytes that they are */
    const bool *const flags[] = {&load->inhibited,           &load->disabled,
                                 &load->draw.satisfied,      &load->floor[0].begun,
                                 &load->floor[0].met,        &load->floor[0].elapsed,
                                 &load->draw.view.has_opened};
    for (size_t k = 0; k < sizeof flags / sizeof flags[0]; k++)
        ck_assert_uint_le(*(const uint8_t *)flags[k], 1);
    ck_assert_int_ge(load->draw.view.power_w, 1);
    ck_assert_int_le(load->draw.view.opened_at.mono.ms, t);
    ck_assert_int_le(load->start_count, RULES_STARTS_MAX);
    for (int k = 1; k < load->start_count; k++)
        ck_assert_int_le(load->start[k - 1].ms, load->start[k].ms);
}

static uint64_t chance = 20261130;

static uint64_t draw(uint64_t below)
{
    chance = chance * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
    return (chance >> 33) % below;
}

/* A digit, a byte, a cut, a line twice. */
static void harm(char *text)
{
    size_t length = strlen(text);
    if (length == 0)
        return;
    size_t at = draw(length);
    switch (draw(4)) {
    case 0:
        for (size_t k = 0; k < length && (text[at] < '0' || text[at] > '9'); k++)
            at = (at + 1) % length;
        text[at] = (char)('0' + draw(10));
        break;
    case 1:
        text[at] = (char)draw(256);
        break;
    case 2:
        text[at] = '\0';
        break;
    default:
        if (length + 40 < NOTE)
            memmove(text + at + 20, text + at, length - at + 1);
        break;
    }
}

/* Without its sum, as the first version wrote it: then every lie within its bounds is believed,
 * and still no floor is away for longer than its period. */
static void unseal(char *text)
{
    char *sum = strstr(text, "sum="), *version = strstr(text, "version=");
    if (sum)
        *sum = '\0';
    if (version)
        *version = 'x';
}

static void pass_a_day_without_sun(void)
{
    struct load_memory *heater = &b.loads[HEATER];
    check_bounds(heater, b.now.mono.ms);
    if (heater->inhibited || heater->disabled || heater->hand == HAND_OFF ||
        b.memory.all_inhibited || b.memory.holiday_back.ms != 0)
        return; /* people's orders: a lie there is known by the sum, or not at all */
    b.at[HEATER] = (struct bench_load){.answer_s = b.at[HEATER].answer_s};
    int64_t first_ms = 0;
    for (int minute = 0; minute < 24 * 60 * 2 && first_ms == 0; minute += 5) {
        bench_pass(&b, 5 * MINUTE);
        if (bench_on(&b, HEATER))
            first_ms = 1;
    }
    check_bounds(heater, b.now.mono.ms);
    ck_assert_msg(first_ms != 0, "no run within two days after:\n%s\n%s", note, site_note);
}

START_TEST(test_a_note_that_was_harmed_never_leads_out_of_bounds_nor_takes_a_floor_away)
{
    static char whole[NOTE], whole_site[NOTE];
    bench_make(&b, 1);
    bench_floor(&b, bench_hours_by(2, 17 * HOUR));
    b.load[HEATER].daily_max_ms = 6 * MS_PER_HOUR;
    b.load[HEATER].starts_per_hour = 3;
    b.rest_w = -4000;
    bench_begin(&b, NOON);
    bench_pass(&b, HOUR);
    b.rest_w = 500;
    bench_pass(&b, 10 * MINUTE);
    struct moment then = b.now;
    save();
    memcpy(whole, note, NOTE);
    memcpy(whole_site, site_note, NOTE);
    for (int round = 0; round < 3000; round++) {
        memcpy(note, whole, NOTE);
        memcpy(site_note, whole_site, NOTE);
        if (round % 2 == 0)
            unseal(note), unseal(site_note);
        for (uint64_t k = draw(3) + 1; k > 0; k--)
            harm(draw(5) ? note : site_note);
        b.now = then;
        restore((int64_t)draw(3) * MS_PER_MIN - MS_PER_MIN, NULL);
        check_bounds(&b.loads[HEATER], b.now.mono.ms);
        if (round % 10 < 2)
            pass_a_day_without_sun();
    }
}
END_TEST

/* ---- a clock that was wrong, and trusted ---- */

static void step_clock(int64_t days)
{
    b.now.wall.ms += days * MS_PER_DAY;
}

START_TEST(test_a_year_ahead_for_ten_minutes_costs_no_floor)
{
    static const int64_t wrong_days[] = {365, 1, -1, -365, 40};
    for (size_t k = 0; k < sizeof wrong_days / sizeof wrong_days[0]; k++) {
        bench_make(&b, 1);
        bench_floor(&b, bench_hours_by(2, 17 * HOUR));
        bench_begin(&b, NOON);
        bench_pass(&b, MINUTE);
        int64_t deadline = b.loads[HEATER].floor[0].deadline_ms;
        step_clock(wrong_days[k]);
        bench_pass(&b, 10 * MINUTE);
        step_clock(-wrong_days[k]);
        bench_pass(&b, 5);
        ck_assert_int_eq(b.loads[HEATER].floor[0].deadline_ms, deadline);
        bench_pass(&b, 5 * HOUR - 12 * MINUTE);
        ck_assert_msg(b.events[EVENT_FLOOR_MET] >= 1, "%d days", (int)wrong_days[k]);
        ck_assert_int_eq(b.events[EVENT_FLOOR_MISSED], 0);
    }
}
END_TEST

START_TEST(test_a_floor_met_before_a_leap_is_not_repeated_after_it)
{
    bench_make(&b, 1);
    bench_floor(&b, bench_hours_by(1, 17 * HOUR));
    b.rest_w = -4000;
    bench_begin(&b, NOON);
    bench_pass(&b, 2 * HOUR);
    ck_assert(b.loads[HEATER].floor[0].met);
    b.rest_w = 500;
    bench_pass(&b, 10 * MINUTE);
    int64_t drawn_ms = b.loads[HEATER].total.draw_ms;
    step_clock(365);
    bench_pass(&b, 10 * MINUTE);
    step_clock(-365);
    bench_pass(&b, 2 * HOUR + 30 * MINUTE);
    ck_assert(b.loads[HEATER].floor[0].met);
    ck_assert_int_eq(b.loads[HEATER].total.draw_ms, drawn_ms);
}
END_TEST

START_TEST(test_a_weekly_heating_through_survives_a_year_ahead)
{
    bench_make(&b, 1);
    bench_floor(&b, weekly(7));
    b.at[HEATER].thermostat_open = false;
    bench_begin(&b, NOON);
    bench_pass(&b, MINUTE);
    int64_t deadline = b.loads[HEATER].floor[0].deadline_ms;
    step_clock(365);
    bench_pass(&b, 10 * MINUTE);
    step_clock(-365);
    bench_pass(&b, 10);
    ck_assert_int_eq(b.loads[HEATER].floor[0].deadline_ms, deadline);
    ck_assert(!b.loads[HEATER].floor[0].met);
}
END_TEST

START_TEST(test_an_opening_of_a_wrong_year_counts_for_its_own_day_only)
{
    bench_make(&b, 1);
    bench_floor(&b, bench_hours_by(2, 17 * HOUR));
    b.load[HEATER].floor[0].measure = FLOOR_SATISFIED;
    b.load[HEATER].thermostat = true;
    bench_begin(&b, NOON);
    bench_opened_before(&b, HEATER);
    b.rest_w = -6000; /* no step of its own size */
    bench_pass(&b, MINUTE);
    step_clock(365);
    bench_pass(&b, 10 * MINUTE);
    ck_assert(bench_on(&b, HEATER));
    b.at[HEATER].thermostat_open = true;
    bench_pass(&b, 5 * MINUTE);
    ck_assert(b.loads[HEATER].draw.view.has_opened);
    step_clock(-365);
    b.rest_w = 500;
    bench_pass(&b, 10);
    ck_assert(b.loads[HEATER].floor[0].met); /* it was heated, today */
    ck_assert_int_le(b.loads[HEATER].draw.view.opened_at.wall.ms, b.now.wall.ms);
    b.at[HEATER].thermostat_open = false;
    bench_pass(&b, DAY);
    ck_assert(!b.loads[HEATER].floor[0].met || b.loads[HEATER].total.draw_ms > 2 * MS_PER_HOUR);
}
END_TEST

int main(void)
{
    Suite *suite = suite_create("memory");
    TCase *tcase = tcase_create("memory");
    tcase_set_timeout(tcase, 300);
    tcase_add_loop_test(tcase, test_every_days_made_shorter_holds_from_now_on, 0, 2);
    tcase_add_loop_test(tcase, test_a_floor_that_asks_for_more_is_no_longer_met, 0, 2);
    tcase_add_loop_test(tcase, test_a_floor_written_before_another_leaves_that_one_what_it_has, 0,
                        2);
    tcase_add_loop_test(tcase, test_another_element_is_taken_by_its_nameplate, 0, 2);
    tcase_add_test(tcase,
                   test_a_load_moved_to_another_phase_is_not_compared_with_what_that_took_before);
    tcase_add_test(tcase, test_a_staged_load_of_fewer_stages_goes_on_with_those);
    tcase_add_test(tcase, test_starts_per_hour_count_across_a_restart);
    tcase_add_test(tcase, test_minimum_off_begins_when_a_silent_output_first_reads_off);
    tcase_add_test(tcase, test_a_note_of_the_first_version_goes_on);
    tcase_add_test(tcase, test_no_sum_that_is_read_back_can_overflow);
    tcase_add_test(tcase, test_an_inhibit_that_is_neither_yes_nor_no_is_one);
    tcase_add_test(tcase, test_over_an_absence_of_unknown_length_nothing_that_ages_is_believed);
    tcase_add_test(tcase, test_a_run_by_hand_read_back_is_no_longer_than_one_ordered);
    tcase_add_test(tcase, test_a_holiday_read_back_ends_within_a_year);
    tcase_add_test(tcase, test_a_deadline_read_back_is_no_later_than_the_next_regular_one);
    tcase_add_test(tcase, test_a_note_that_was_changed_takes_no_floor_away);
    tcase_add_test(tcase,
                   test_a_note_that_was_harmed_never_leads_out_of_bounds_nor_takes_a_floor_away);
    tcase_add_test(tcase, test_a_year_ahead_for_ten_minutes_costs_no_floor);
    tcase_add_test(tcase, test_a_floor_met_before_a_leap_is_not_repeated_after_it);
    tcase_add_test(tcase, test_a_weekly_heating_through_survives_a_year_ahead);
    tcase_add_test(tcase, test_an_opening_of_a_wrong_year_counts_for_its_own_day_only);
    suite_add_tcase(suite, tcase);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed == 0 ? 0 : 1;
}
