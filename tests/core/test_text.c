/* test_text.c - text that never runs over, the word that was meant, and troubles. */
#include "core/text.h"

#include <string.h>

#include "core/trouble.h"
#include "suite.h"

START_TEST(test_text_is_added_in_order)
{
    char buffer[32];
    struct text text = text_in(buffer, sizeof(buffer));
    ck_assert_str_eq(buffer, "");
    text_add(&text, "%d of ", 3);
    text_add(&text, "%s", "four");
    ck_assert_str_eq(buffer, "3 of four");
    ck_assert_uint_eq(text.used, strlen(buffer));
    ck_assert(!text.full);
}
END_TEST

START_TEST(test_full_text_is_cut_ended_and_takes_no_more)
{
    char buffer[8];
    struct text text = text_in(buffer, 6);
    memset(buffer + 6, '#', 2);
    text_add(&text, "1234");
    ck_assert(!text.full);
    text_add(&text, "56789");
    ck_assert(text.full);
    ck_assert_str_eq(buffer, "12345");
    text_add(&text, "x");
    ck_assert_str_eq(buffer, "12345");
    ck_assert_int_eq(buffer[6], '#');
}
END_TEST

START_TEST(test_text_that_just_fits_is_not_full)
{
    char buffer[6];
    struct text text = text_in(buffer, sizeof(buffer));
    text_add(&text, "12345");
    ck_assert(!text.full);
    text_add(&text, "%s", "");
    ck_assert(!text.full);
    ck_assert_str_eq(buffer, "12345");
}
END_TEST

START_TEST(test_a_buffer_of_nothing_is_full_from_the_start)
{
    char buffer[1] = "#";
    struct text text = text_in(buffer, 0);
    text_add(&text, "x");
    ck_assert(text.full);
    ck_assert_int_eq(buffer[0], '#');
    text = text_in(buffer, 1);
    text_add(&text, "x");
    ck_assert(text.full);
    ck_assert_str_eq(buffer, "");
}
END_TEST

START_TEST(test_cuts_fall_between_characters)
{
    static const char whole[] = "a°€\xf0\x9f\x98\x80z"; /* 1, 2, 3, 4 and 1 bytes */
    static const size_t ends[] = {0, 1, 1, 3, 3, 3, 6, 6, 6, 6, 10, 11};
    for (size_t room = 0; room < COUNT_OF(ends); room++) {
        char buffer[32];
        struct text text = text_in(buffer, room + 1);
        text_add(&text, "%s", whole);
        ck_assert_uint_eq(strlen(buffer), ends[room]);
        ck_assert_uint_eq(text.used, ends[room]);
    }
}
END_TEST

START_TEST(test_quoted_text_is_short_and_harmless)
{
    char buffer[TEXT_SHORT_SIZE], text[300];
    ck_assert_str_eq(text_shorten(buffer, "17:00"), "17:00");
    ck_assert_str_eq(text_shorten(buffer, "a\nb\x1b[2J\x7f"), "a?b?[2J?");
    ck_assert_str_eq(text_shorten(buffer, "a\xc2\x9b"
                                          "2J\x9b\xc2\xa0°"),
                     "a?2J?\xc2\xa0°");
    ck_assert_str_eq(text_shorten(buffer, "\xc0\x80 \xed\xa0\x80 \xe2\x82"), "?? ??? ??");
    memset(text, 'x', 299);
    text[299] = '\0';
    text_shorten(buffer, text);
    ck_assert_uint_eq(strlen(buffer), TEXT_SHORT_SIZE - 1);
    ck_assert_str_eq(buffer + TEXT_SHORT_SIZE - 5, "x...");
    text[TEXT_SHORT_SIZE - 1] = '\0';
    ck_assert_str_eq(text_shorten(buffer, text), text); /* just fits */
    memcpy(text + TEXT_SHORT_SIZE - 5, "°°°", sizeof("°°°"));
    text_shorten(buffer, text);
    ck_assert_str_eq(buffer + TEXT_SHORT_SIZE - 6, "x...");
}
END_TEST

static const char *const keys[] = {"power", "priority",    "phases", "minimum on", "minimum off",
                                   "hours", "quiet hours", "floor",  "by"};

static const char *nearest(const char *word)
{
    return text_nearest(word, keys, COUNT_OF(keys));
}

START_TEST(test_the_word_that_was_meant_is_found)
{
    ck_assert_str_eq(nearest("power"), "power");
    ck_assert_str_eq(nearest("pwoer"), "power");  /* swapped */
    ck_assert_str_eq(nearest("powr"), "power");   /* left out */
    ck_assert_str_eq(nearest("powerr"), "power"); /* too many */
    ck_assert_str_eq(nearest("Pover"), "power");  /* another one */
    ck_assert_str_eq(nearest("prioritty"), "priority");
    ck_assert_str_eq(nearest("minimum_on"), "minimum on");
    ck_assert_str_eq(nearest("minimun off"), "minimum off");
    ck_assert_str_eq(nearest("hour"), "hours");
}
END_TEST

START_TEST(test_of_two_words_equally_near_the_first_is_meant)
{
    static const char *const words[] = {"minimum on", "minimum of", "minimum in"};
    ck_assert_str_eq(text_nearest("minimum an", words, 3), "minimum on");
    ck_assert_str_eq(text_nearest("minimum in", words, 3), "minimum in");
}
END_TEST

START_TEST(test_a_word_that_is_like_nothing_finds_nothing)
{
    char long_word[5000];
    memset(long_word, 'p', sizeof(long_word) - 1);
    long_word[sizeof(long_word) - 1] = '\0';
    ck_assert_ptr_null(nearest("banana"));
    ck_assert_ptr_null(nearest("x"));
    ck_assert_ptr_null(nearest(""));
    ck_assert_ptr_null(nearest(long_word));
    ck_assert_ptr_null(text_nearest("power", keys, 0));
}
END_TEST

START_TEST(test_trouble_holds_place_and_text_and_is_false)
{
    struct trouble trouble;
    ck_assert(!trouble_set(&trouble, "house.yaml:3:5", "%d is too many", 9));
    ck_assert_str_eq(trouble.place, "house.yaml:3:5");
    ck_assert_str_eq(trouble.text, "9 is too many");
}
END_TEST

START_TEST(test_trouble_may_be_made_of_itself)
{
    struct trouble trouble;
    trouble_set(&trouble, "here", "too hot");
    trouble_set(&trouble, trouble.place, "load \"heater\": %s", trouble.text);
    ck_assert_str_eq(trouble.place, "here");
    ck_assert_str_eq(trouble.text, "load \"heater\": too hot");
}
END_TEST

START_TEST(test_trouble_without_end_is_cut)
{
    char text[2000];
    struct trouble trouble;
    memset(text, 'x', sizeof(text) - 1);
    text[sizeof(text) - 1] = '\0';
    trouble_set(&trouble, text, "%s", text);
    ck_assert_uint_eq(strlen(trouble.place), TROUBLE_PLACE_MAX - 1);
    ck_assert_uint_eq(strlen(trouble.text), TROUBLE_TEXT_MAX - 1);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_text_is_added_in_order,
        test_full_text_is_cut_ended_and_takes_no_more,
        test_text_that_just_fits_is_not_full,
        test_a_buffer_of_nothing_is_full_from_the_start,
        test_cuts_fall_between_characters,
        test_quoted_text_is_short_and_harmless,
        test_the_word_that_was_meant_is_found,
        test_of_two_words_equally_near_the_first_is_meant,
        test_a_word_that_is_like_nothing_finds_nothing,
        test_trouble_holds_place_and_text_and_is_false,
        test_trouble_may_be_made_of_itself,
        test_trouble_without_end_is_cut,
    };
    return suite_run("text", tests, COUNT_OF(tests));
}
