/* test_kept.c - what is remembered comes back as it was, or within its bounds. */
#include "core/kept.h"

#include <stdio.h>
#include <string.h>

#include "core/moment.h"
#include "suite.h"

struct thing {
    int64_t total;
    int32_t power_w;
    uint16_t count;
    uint8_t word;
    bool flag, order;
    struct mono seen, end;
};

#define ROW(field, ...) KEPT_ROW(struct thing, field, __VA_ARGS__)
static const struct kept_row thing_rows[] = {
    ROW(total, "total", NUMBER, 0, 1000000, BEGINS),
    ROW(power_w, "power_w", NUMBER, -500, 500, NEAREST),
    ROW(count, "count", NUMBER, 0, 1000, NEAREST),
    ROW(word, "word", NUMBER, 0, 2, BEGINS),
    ROW(flag, "flag", NUMBER, 0, 1, BEGINS),
    ROW(order, "order", NUMBER, 0, 1, GREATEST),
    ROW(seen, "seen_ago_ms", AGE, 0, 100000, BEGINS),
    ROW(end, "end_left_ms", LEFT, -1, 100000, BEGINS),
};
static const struct kept_rows rows = KEPT_ROWS(thing_rows);

static const struct thing sample = {.total = 123456,
                                    .power_w = -20,
                                    .count = 300,
                                    .word = 2,
                                    .flag = true,
                                    .seen = {4000},
                                    .end = {9000}};

static void check_same(const struct thing *a, const struct thing *b)
{
    ck_assert_int_eq(a->total, b->total);
    ck_assert_int_eq(a->power_w, b->power_w);
    ck_assert_int_eq(a->count, b->count);
    ck_assert_int_eq(a->word, b->word);
    ck_assert_int_eq(a->flag, b->flag);
    ck_assert_int_eq(a->order, b->order);
    ck_assert_int_eq(a->seen.ms, b->seen.ms);
    ck_assert_int_eq(a->end.ms, b->end.ms);
}

static const char *read_into(struct thing *thing, const char *text)
{
    static char wrong[200];
    struct text told = text_in(wrong, sizeof(wrong));
    kept_read(&rows, "", text, thing, 5000, 0, &told);
    return wrong;
}

START_TEST(test_what_is_written_comes_back)
{
    char buffer[400];
    struct text text = text_in(buffer, sizeof(buffer));
    struct thing back = {0};
    kept_write(&rows, "a.", &sample, 5000, &text);
    kept_read(&rows, "a.", buffer, &back, 5000, 0, NULL);
    check_same(&back, &sample);
}
END_TEST

START_TEST(test_times_go_on_while_nothing_was_recorded)
{
    struct thing back = {0};
    kept_read(&rows, "", "seen_ago_ms=1000\nend_left_ms=4000\n", &back, 500, 3000, NULL);
    ck_assert_int_eq(back.seen.ms, 500 - 1000 - 3000);
    ck_assert_int_eq(back.end.ms, 500 + 4000 - 3000);
    kept_read(&rows, "", "end_left_ms=4000\n", &back, 500, 90000, NULL);
    ck_assert_int_eq(back.end.ms, 500);
    kept_read(&rows, "", "end_left_ms=-1\n", &back, 500, 90000, NULL);
    ck_assert_int_eq(back.end.ms, MONO_NEVER.ms);
}
END_TEST

START_TEST(test_a_value_out_of_bounds_becomes_what_its_row_says)
{
    struct thing back = {.total = 7, .word = 1};
    const char *told = read_into(&back, "total=1000001\npower_w=501\ncount=-3\nword=3\n"
                                        "flag=2\norder=255\nseen_ago_ms=-1\n"
                                        "end_left_ms=9223372036854775807\n");
    check_same(&back, &(struct thing){.total = 7, .power_w = 500, .word = 1, .order = true});
    ck_assert_str_eq(told, "total, power_w, count, word, flag, order, seen_ago_ms, end_left_ms");
}
END_TEST

START_TEST(test_what_is_no_number_stays_as_it_began)
{
    struct thing back = {.total = 7, .power_w = 8};
    ck_assert_str_eq(read_into(&back, "total=nan\npower_w=12.5\ncount=99999999999999999999\n"),
                     "total, power_w, count");
    check_same(&back, &(struct thing){.total = 7, .power_w = 8});
    read_into(&back, "total=\npower_w=0x10");
    check_same(&back, &(struct thing){.total = 7, .power_w = 8});
}
END_TEST

START_TEST(test_a_key_is_a_whole_key)
{
    int64_t value = 0;
    const char text[] = "totals=1\nsubtotal=2\ntotal =3\nx total=4\ntotal=5\ntotal=6";
    ck_assert(kept_value(text, "total", &value));
    ck_assert_int_eq(value, 5);
    ck_assert(!kept_value(text, "tota", &value));
    ck_assert(!kept_value("", "total", &value));
}
END_TEST

START_TEST(test_what_lives_on_is_bounded_like_what_is_read)
{
    struct thing lives = sample, begun = {.word = 1};
    char wrong[200];
    struct text told = text_in(wrong, sizeof(wrong));
    kept_bound(&rows, "", &lives, &begun, 5000, &told);
    check_same(&lives, &sample);
    ck_assert_str_eq(wrong, "");
    lives.total = INT64_MAX;
    lives.power_w = INT32_MIN;
    lives.word = 200;
    lives.seen.ms = 5001; /* to come, where only what is past can be */
    kept_bound(&rows, "", &lives, &begun, 5000, &told);
    ck_assert_int_eq(lives.total, 0);
    ck_assert_int_eq(lives.power_w, -500);
    ck_assert_int_eq(lives.word, 1);
    ck_assert_int_eq(lives.seen.ms, 0);
    ck_assert_str_eq(wrong, "total, power_w, word, seen_ago_ms");
}
END_TEST

START_TEST(test_a_sum_finds_every_single_changed_byte)
{
    char whole[400], changed[400];
    struct text text = text_in(whole, sizeof(whole));
    kept_write(&rows, "", &sample, 5000, &text);
    ck_assert_int_eq(kept_check(whole), KEPT_UNSEALED);
    kept_seal(&text);
    ck_assert_int_eq(kept_check(whole), KEPT_WHOLE);
    for (size_t k = 0; k < text.used; k++)
        for (unsigned by = 1; by < 256; by++) {
            memcpy(changed, whole, sizeof(whole));
            changed[k] = (char)((unsigned char)changed[k] ^ by);
            ck_assert_int_ne(kept_check(changed), KEPT_WHOLE);
        }
    for (size_t k = 0; k < text.used; k++) {
        memcpy(changed, whole, sizeof(whole));
        changed[k] = '\0';
        ck_assert_int_ne(kept_check(changed), KEPT_WHOLE);
    }
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_what_is_written_comes_back,
        test_times_go_on_while_nothing_was_recorded,
        test_a_value_out_of_bounds_becomes_what_its_row_says,
        test_what_is_no_number_stays_as_it_began,
        test_a_key_is_a_whole_key,
        test_what_lives_on_is_bounded_like_what_is_read,
        test_a_sum_finds_every_single_changed_byte,
    };
    return suite_run("kept", tests, COUNT_OF(tests));
}
