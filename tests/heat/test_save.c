/* What was learnt comes back as it was, and a damaged record is told from a whole one. */
#include "store.h"

#include <string.h>

static struct heat_memory before, after;
static char text[4096], day[4096];

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

START_TEST(test_a_record_cut_short_anywhere_is_refused)
{
    fill();
    save();
    for (size_t length = 0; length + 1 < strlen(text); length++) {
        char part[4096];
        memcpy(part, text, length);
        part[length] = '\0';
        heat_begin(&water, &after);
        ck_assert_msg(!heat_restore(&after, part), "cut at %zu", length);
        ck_assert_int_eq(after.days, 0);
    }
    for (size_t length = 0; length + 1 < strlen(day); length++) {
        char part[4096];
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
    const TTest *const tests[] = {test_what_was_learnt_comes_back,
                                  test_a_record_cut_short_anywhere_is_refused,
                                  test_numbers_out_of_all_reason_are_refused};
    return suite_run("save", tests, COUNT_OF(tests));
}
