/* What was learnt comes back as it was, and a damaged record is told from a whole one. */
#include "store.h"

#include <string.h>

static struct heat_memory before, after;
static char text[2048], day[2048]; /* as much as the ledger takes */

static const struct heat_settings water = {.volume_ml = 315000,
                                           .set_mc = 65000,
                                           .hysteresis_mc = 6000,
                                           .cold_mc = 16000,
                                           .room_mc = 20000,
                                           .loss_mwh = 2660000,
                                           .usable_permille = 550,
                                           .missing_micro = 10000000};

static void fill(void)
{
    heat_begin(&water, &before);
    before.days = 5;
    before.newest = 2; /* the ring has gone round */
    before.lump_j = 123456;
    for (int s = 0; s < HEAT_SLOTS; s++) {
        before.drawn_j[s] = 1000 * s;
        before.spare_w[2][s] = (int16_t)(s % 2 ? -32000 + s : 32000 - s);
    }
}

static void save(void)
{
    struct text out = text_in(text, sizeof(text));
    heat_save(&before, &out);
    out = text_in(day, sizeof(day));
    heat_save_day(&before, 2, &out);
}

START_TEST(test_what_was_learnt_comes_back)
{
    fill();
    save();
    heat_begin(&water, &after);
    ck_assert(heat_restore(&after, text));
    ck_assert(heat_restore_day(&after, 2, day));
    ck_assert_int_eq(after.days, 5);
    ck_assert_int_eq(after.newest, 2);
    ck_assert_int_eq(after.lump_j, 123456);
    ck_assert(memcmp(after.drawn_j, before.drawn_j, sizeof(after.drawn_j)) == 0);
    ck_assert(memcmp(after.spare_w[2], before.spare_w[2], sizeof(after.spare_w[2])) == 0);
    ck_assert(!heat_knows(&after)); /* it is reckoned anew at the next tick */
}
END_TEST

/* ---- what is under way -------------------------------------------------------------- */

static struct store s;
static char now[2048];

/* A store at half past three in the afternoon of its fifth day. */
static void live_to_the_afternoon(void)
{
    store_make(&s);
    for (int k = 0; k < 4 * TICKS_PER_DAY + 186; k++) {
        store_tick_on(&s, k % 700 - 200);
        if (k % 150 == 90) {
            heat_heated(&s.memory, 3 * (int64_t)J_PER_KWH * MJ_PER_J);
            heat_full(&s.settings, &s.memory);
        }
    }
}

/* Through the three texts, as through another run of the program. */
static void go_through_text(const struct heat_settings *settings)
{
    struct text out = text_in(text, sizeof(text));
    heat_save(&s.memory, &out);
    out = text_in(now, sizeof(now));
    heat_save_now(&s.settings, &s.memory, &out);
    ck_assert(!out.full);
    heat_begin(settings, &after);
    ck_assert(heat_restore(&after, text));
    for (uint8_t place = 0; place < s.memory.days + 1; place++) {
        out = text_in(day, sizeof(day));
        heat_save_day(&s.memory, place, &out);
        ck_assert(heat_restore_day(&after, place, day));
    }
    ck_assert(heat_restore_now(settings, &after, now));
}

START_TEST(test_a_text_of_before_hot_water_was_told_apart_is_taken_and_a_bad_one_is_not)
{
    live_to_the_afternoon();
    s.memory.hot_mj = 1234567;
    go_through_text(&s.settings);
    ck_assert_int_eq(after.hot_mj, 1234567);
    char *row = strstr(now, "hot_mj=");
    memcpy(row, "hot_mj=-234567", 14);
    ck_assert(!heat_restore_now(&s.settings, &after, now));
    *row = '\0';
    ck_assert(heat_restore_now(&s.settings, &after, now));
    ck_assert_int_ge(after.hot_mj, heat_full_mj(&s.settings)); /* all that is held */
}
END_TEST

/* The clock since boot begins anew, as after a boot; so much has passed by the wall clock. */
static void tick_after_the_restart(int64_t away_ms)
{
    s.local.second += (int32_t)(away_ms / MS_PER_S);
    struct moment then = {{7000}, {s.now.wall.ms + away_ms}, true};
    heat_tick(&s.settings, &after, &s.outlook, &s.local, &then);
}

START_TEST(test_after_a_short_restart_it_goes_on_as_if_there_had_been_none)
{
    live_to_the_afternoon();
    go_through_text(&s.settings);
    tick_after_the_restart(HEAT_TICK_MS);
    s.local.second -= HEAT_TICK_MS / MS_PER_S;
    store_tick_unseen(&s);
    ck_assert_int_eq(heat_held_mj(&s.settings, &after), heat_held_mj(&s.settings, &s.memory));
    ck_assert(memcmp(after.belief, s.memory.belief, sizeof(after.belief)) == 0);
    ck_assert(memcmp(after.today_w, s.memory.today_w, sizeof(after.today_w)) == 0);
    ck_assert(memcmp(after.passed_ms, s.memory.passed_ms, sizeof(after.passed_ms)) == 0);
    ck_assert(after.known);
    heat_heated(&after, J_PER_KWH * (int64_t)MJ_PER_J);
    heat_heated(&s.memory, J_PER_KWH * (int64_t)MJ_PER_J);
    heat_full(&s.settings, &after); /* and learns the same from the same opening */
    heat_full(&s.settings, &s.memory);
    ck_assert(memcmp(after.drawn_j, s.memory.drawn_j, sizeof(after.drawn_j)) == 0);
}
END_TEST

START_TEST(test_after_a_long_restart_the_day_goes_on_and_the_store_is_forgotten)
{
    live_to_the_afternoon();
    int16_t noon_w = s.memory.today_w[NOON_SLOT];
    go_through_text(&s.settings);
    tick_after_the_restart(3 * MS_PER_HOUR);
    ck_assert(!after.known);
    ck_assert_int_eq(after.belief[HEAT_LEVELS / 2], BELIEF_WHOLE);
    ck_assert_int_eq(after.today_w[NOON_SLOT], noon_w);
    ck_assert_int_eq(after.today_w[NOON_SLOT + 10], HEAT_NOT_KNOWN); /* while it was away */
}
END_TEST

START_TEST(test_after_a_wall_clock_that_ran_backwards_the_store_is_forgotten)
{
    live_to_the_afternoon();
    go_through_text(&s.settings);
    tick_after_the_restart(-MS_PER_MIN);
    ck_assert(!after.known);
    ck_assert_int_eq(after.belief[HEAT_LEVELS / 2], BELIEF_WHOLE);
}
END_TEST

START_TEST(test_another_tank_takes_the_day_and_not_how_full_it_was)
{
    live_to_the_afternoon();
    struct heat_settings other = s.settings;
    other.volume_ml = 160000;
    go_through_text(&other);
    ck_assert(!after.known);
    ck_assert_int_eq(after.belief[HEAT_LEVELS / 2], BELIEF_WHOLE);
    ck_assert_int_eq(after.today_w[NOON_SLOT], s.memory.today_w[NOON_SLOT]);
}
END_TEST

/* The largest tank, the longest silence, the widest numbers: the text still has its place. */
START_TEST(test_the_longest_text_fits_the_ledger)
{
    live_to_the_afternoon();
    for (int k = 0; k < HEAT_SLOTS; k++) {
        s.memory.today_w[k] = -32000;
        s.memory.passed_ms[k] = PASSED_MOST_MS;
        s.memory.drawn_j[k] = 100 * J_PER_KWH;
    }
    go_through_text(&s.settings);
    ck_assert_uint_lt(strlen(now) + 1, sizeof(now));
    ck_assert_uint_lt(strlen(text) + 1, sizeof(text));
}
END_TEST

/* What is just taken must not break the sums that it goes into: the sanitizers see to that. */
START_TEST(test_the_widest_numbers_that_are_taken_stay_within_the_sums)
{
    const int64_t most_mj = 1000000 * (int64_t)J_PER_KWH * MJ_PER_J;
    for (int sign = -1; sign <= 1; sign += 2) {
        live_to_the_afternoon();
        for (int k = 0; k < HEAT_SLOTS; k++) {
            s.memory.passed_ms[k] = PASSED_MOST_MS;
            s.memory.drawn_j[k] = 100 * J_PER_KWH;
        }
        s.memory.known = true;
        s.memory.known_mj = s.memory.in_mj = s.memory.shown_mj = most_mj;
        s.memory.lost_mj = sign * most_mj;
        s.memory.shift_mj = sign * most_mj;
        s.memory.spread_j = SPREAD_MOST_J;
        s.memory.lump_j = 100 * J_PER_KWH;
        s.memory.missed_j = sign * MISSED_MOST_J;
        s.memory.expected_j = 100 * (int64_t)J_PER_KWH;
        s.memory.slot_sum_mj = sign * most_mj;
        go_through_text(&s.settings);
        s.memory = after;
        ck_assert(!heat_overflows(&s.settings, &s.memory));
        for (int k = 0; k < 3 * TICKS_PER_DAY; k++) {
            store_tick_on(&s, sign * 32000);
            if (k % 100 == 50)
                heat_found(&s.settings, &s.memory, k % 200 == 50);
            if (k % 100 == 99)
                heat_full(&s.settings, &s.memory);
        }
        ck_assert_int_le(heat_held_mj(&s.settings, &s.memory), 2 * heat_full_mj(&s.settings));
    }
}
END_TEST

/* ---- damage ---------------------------------------------------------------------------- */

static void must_be_sound(uint64_t seed)
{
    int64_t sum = 0;
    for (int g = 0; g < HEAT_LEVELS; g++) {
        ck_assert_msg(after.belief[g] >= 0, "seed %" PRIu64, seed);
        sum += after.belief[g];
    }
    ck_assert_msg(sum == BELIEF_WHOLE, "seed %" PRIu64 ": %" PRId64, seed, sum);
    for (int k = 0; k < HEAT_SLOTS; k++)
        ck_assert_msg(after.drawn_j[k] >= 0, "seed %" PRIu64, seed);
}

static void mutate(char *victim, uint64_t *chance)
{
    static const char letters[] = "0123456789-,=\n x";
    int64_t length = (int64_t)strlen(victim);
    for (int64_t k = seeded_between(chance, 1, 4); k > 0 && length > 2; k--) {
        char *at = victim + seeded_between(chance, 0, length - 1);
        switch (seeded_between(chance, 0, 3)) {
        case 0:
            memmove(at, at + 1, strlen(at));
            length--;
            break;
        case 1: /* many digits more of the same */
            if (length + 20 < (int64_t)sizeof(now)) {
                memmove(at + 12, at, strlen(at) + 1);
                memset(at, '9', 12);
                length += 12;
            }
            break;
        default:
            *at = letters[seeded_between(chance, 0, (int64_t)sizeof(letters) - 2)];
        }
    }
}

static bool restore_all(const char *learnt, const char *under_way, const char *of_day)
{
    heat_begin(&s.settings, &after);
    return heat_restore(&after, learnt) && heat_restore_day(&after, after.newest, of_day) &&
           heat_restore_now(&s.settings, &after, under_way);
}

static void live_on(void)
{
    struct local local = s.local;
    struct moment then = s.now;
    for (int k = 0; k < 40; k++) {
        local.second += 1500; /* hours pass quickly */
        local.day += local.second / 86400;
        local.second %= 86400;
        then.mono.ms += HEAT_TICK_MS;
        then.wall.ms += HEAT_TICK_MS;
        heat_spare(&after, 1000, HEAT_TICK_MS);
        heat_tick(&s.settings, &after, &s.outlook, &local, &then);
        if (k % 13 == 12)
            heat_full(&s.settings, &after);
    }
}

/* Whatever stands in the notes: they are refused, or what goes on from them into the next day
 * stays within its numbers (the sanitizers see what does not). A sample goes on, of those taken
 * a larger one. */
START_TEST(test_notes_with_mistakes_are_refused_or_do_no_harm)
{
    int refused = 0, taken = 0;
    live_to_the_afternoon();
    go_through_text(&s.settings);
    for (uint64_t seed = 1; seed <= 1000; seed++) {
        char learnt[2048], under_way[2048], of_day[2048];
        uint64_t chance = seed;
        snprintf(learnt, sizeof(learnt), "%s", text);
        snprintf(under_way, sizeof(under_way), "%s", now);
        snprintf(of_day, sizeof(of_day), "%s", day);
        mutate(seed % 3 == 0 ? learnt : seed % 3 == 1 ? under_way : of_day, &chance);
        bool whole = restore_all(learnt, under_way, of_day);
        refused += !whole;
        taken += whole;
        must_be_sound(seed);
        uint64_t one_of = whole ? (cases_step() + 7) / 8 : cases_step();
        if ((uint64_t)(whole ? taken : refused) % one_of != 0)
            continue;
        live_on();
        must_be_sound(seed);
    }
    printf("notes with mistakes: %d refused, %d taken\n", refused, taken);
    ck_assert_int_gt(refused, 100);
    ck_assert_int_gt(taken, 100);
}
END_TEST

START_TEST(test_a_record_cut_short_anywhere_is_refused)
{
    fill();
    save();
    for (size_t length = 0; length + 1 < strlen(text); length++) {
        char part[2048];
        memcpy(part, text, length);
        part[length] = '\0';
        heat_begin(&water, &after);
        ck_assert_msg(!heat_restore(&after, part), "cut at %zu", length);
        ck_assert_int_eq(after.days, 0);
    }
    for (size_t length = 0; length + 1 < strlen(day); length++) {
        char part[2048];
        memcpy(part, day, length);
        part[length] = '\0';
        ck_assert_msg(!heat_restore_day(&after, 2, part), "day cut at %zu", length);
    }
}
END_TEST

START_TEST(test_numbers_out_of_all_reason_are_refused)
{
    heat_begin(&water, &after);
    ck_assert(!heat_restore(&after, "days=29\nnewest=0\nlump_j=1\ndrawn_j=1\n"));
    ck_assert(!heat_restore_day(&after, HEAT_DAYS, "spare_w=1\n"));
    fill();
    save();
    char *at = strstr(text, "lump_j=123456");
    memcpy(at, "lump_j=-23456", 13);
    ck_assert(!heat_restore(&after, text));
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_what_was_learnt_comes_back,
        test_a_record_cut_short_anywhere_is_refused,
        test_numbers_out_of_all_reason_are_refused,
        test_after_a_short_restart_it_goes_on_as_if_there_had_been_none,
        test_after_a_long_restart_the_day_goes_on_and_the_store_is_forgotten,
        test_after_a_wall_clock_that_ran_backwards_the_store_is_forgotten,
        test_another_tank_takes_the_day_and_not_how_full_it_was,
        test_a_text_of_before_hot_water_was_told_apart_is_taken_and_a_bad_one_is_not,
        test_the_longest_text_fits_the_ledger,
        test_the_widest_numbers_that_are_taken_stay_within_the_sums,
        test_notes_with_mistakes_are_refused_or_do_no_harm};
    return suite_run("save", tests, COUNT_OF(tests));
}
