/* test_lines.c - inputs on GPIO lines. */
#include <gpiod.h>
#include <string.h>

#include "../core/suite.h"
#include "chip.h"
#include "input/input.h"

static struct input_bank *bank;
static struct mono now;

static struct input_settings line(uint32_t offset)
{
    struct input_settings settings = {.kind = INPUT_LINE,
                                      .role = INPUT_BUTTON,
                                      .line = offset,
                                      .chip = "gpiochip0",
                                      .pull = INPUT_PULL_UP,
                                      .active_low = true,
                                      .every_ms = 50,
                                      .debounce_ms = 100};
    return settings;
}

static void pass(int64_t ms)
{
    for (int64_t end = now.ms + ms; now.ms < end; now.ms += 50)
        input_bank_ask(bank, now);
}

static void begin(const struct input_settings *settings)
{
    memset(&chip, 0, sizeof chip);
    for (int k = 0; k < CHIP_LINES; k++)
        chip.level[k] = 1;
    now = (struct mono){1000};
    bank = input_bank_new(settings, 1, 0, &(struct input_doors){.post = NULL}, now);
}

START_TEST(test_a_button_to_ground_is_pressed)
{
    struct input_settings settings = line(3);
    begin(&settings);
    pass(500);
    ck_assert(input_bank_view(bank, 0, now).known);
    ck_assert(!input_bank_view(bank, 0, now).closed);
    chip.level[3] = 0;
    pass(500);
    ck_assert(input_bank_pressed(bank, 0));
    ck_assert_int_eq(chip.flags[3], GPIOD_LINE_REQUEST_FLAG_BIAS_PULL_UP);
    ck_assert(chip.requested[3] && !chip.as_output);
    input_bank_free(bank);
    ck_assert_int_eq(chip.open, 0);
}
END_TEST

START_TEST(test_a_line_that_cannot_be_read_is_unknown_and_comes_back)
{
    struct input_settings settings = line(3);
    begin(&settings);
    pass(500);
    chip.level[3] = -1;
    pass(11000);
    struct input_view view = input_bank_view(bank, 0, now);
    ck_assert(!view.known);
    ck_assert_int_eq(view.trouble, INPUT_UNREAD);
    ck_assert_ptr_nonnull(strstr(view.detail, "line 3 of gpiochip0: cannot be read"));
    chip.level[3] = 0;
    pass(500);
    ck_assert(input_bank_view(bank, 0, now).known);
    ck_assert(!input_bank_pressed(bank, 0));
    input_bank_free(bank);
}
END_TEST

START_TEST(test_a_chip_or_a_line_that_is_not_there_says_so)
{
    struct input_settings no_chip = line(3), no_line = line(CHIP_LINES);
    strcpy(no_chip.chip, "gpiochip7");
    begin(&no_chip);
    pass(11000);
    ck_assert_ptr_nonnull(
        strstr(input_bank_view(bank, 0, now).detail, "the chip cannot be opened"));
    input_bank_free(bank);
    begin(&no_line);
    pass(11000);
    ck_assert_ptr_nonnull(strstr(input_bank_view(bank, 0, now).detail, "no such line"));
    ck_assert_int_eq(chip.open, 0);
    input_bank_free(bank);
}
END_TEST

START_TEST(test_a_line_stays_open_in_another_bank)
{
    struct input_settings settings = line(2);
    begin(&settings);
    pass(500);
    struct input_bank *before = bank;
    bank = input_bank_new(&settings, 1, 64, &(struct input_doors){.post = NULL}, now);
    input_bank_take_over(bank, 0, before, 0);
    input_bank_free(before);
    ck_assert_int_eq(chip.open, 1);
    pass(500);
    ck_assert_int_eq(chip.open, 1);
    input_bank_free(bank);
    ck_assert_int_eq(chip.open, 0);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_a_button_to_ground_is_pressed,
        test_a_line_that_cannot_be_read_is_unknown_and_comes_back,
        test_a_chip_or_a_line_that_is_not_there_says_so,
        test_a_line_stays_open_in_another_bank,
    };
    return suite_run("lines", tests, COUNT_OF(tests));
}
