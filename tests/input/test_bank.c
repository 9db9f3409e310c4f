/* test_bank.c - when inputs are read, with whom, and what is known of them. The bus is the
 * test's own. */
#include "input/input.h"

#include <string.h>

#include "../core/suite.h"

enum { INPUTS_MAX = 8, JOBS_MAX = 32, BASE = 0x30000, EVERY_MS = 250, UNIT = 10 };

static struct input_settings set[INPUTS_MAX];
static struct input_bank *bank;
static struct bus_job jobs[JOBS_MAX];
static int job_count;
static bool levels[64], refused[64]; /* by address */
static enum bus_outcome outcome;
static struct mono now;

static bool post(void *context, uint8_t bus_index, const struct bus_job *job)
{
    (void)context;
    (void)bus_index;
    ck_assert_int_lt(job_count, JOBS_MAX);
    jobs[job_count++] = *job;
    return true;
}

static const struct input_doors doors = {.post = post};

static void at(int index, uint8_t role, uint16_t address)
{
    set[index] = (struct input_settings){
        .role = role, .unit = UNIT, .address = address, .every_ms = EVERY_MS, .debounce_ms = 100};
}

static void begin(uint16_t count)
{
    memset(levels, 0, sizeof levels);
    memset(refused, 0, sizeof refused);
    outcome = BUS_OK;
    job_count = 0;
    now = (struct mono){5000};
    bank = input_bank_new(set, count, BASE, &doors, now);
    ck_assert_ptr_nonnull(bank);
}

static struct bus_answer answer_of(const struct bus_job *job)
{
    struct bus_answer answer = {.id = job->id, .outcome = outcome, .now = job->now};
    for (uint16_t k = 0; k < job->count && outcome == BUS_OK; k++) {
        answer.value[k] = levels[job->address + k];
        if (refused[job->address + k])
            answer.outcome = BUS_EXCEPTION;
    }
    answer.count = answer.outcome == BUS_OK ? job->count : 0;
    strcpy(answer.detail, answer.outcome == BUS_OK ? "" : "the unit said no");
    return answer;
}

/* Asks, answers, and lets time pass; how many questions that took. */
static int round_of(int64_t ms)
{
    int asked = 0;
    for (int64_t end = now.ms + ms; now.ms < end; now.ms += EVERY_MS) {
        input_bank_ask(bank, now);
        asked += job_count;
        for (int k = 0; k < job_count; k++) {
            struct bus_answer answer = answer_of(&jobs[k]);
            input_bank_answer(bank, &answer);
        }
        job_count = 0;
    }
    return asked;
}

static struct input_view view(uint16_t index)
{
    return input_bank_view(bank, index, now);
}

START_TEST(test_inputs_of_one_board_come_with_one_question)
{
    static const uint16_t places[] = {5, 3, 9, 30, 4};
    for (int k = 0; k < 5; k++)
        at(k, INPUT_CONTACT, places[k]);
    begin(5);
    levels[9] = levels[4] = true;
    ck_assert_int_eq(round_of(EVERY_MS), 2);
    ck_assert_int_eq(round_of(4 * EVERY_MS), 8);
    static const bool closed[] = {false, false, true, false, true};
    for (uint16_t k = 0; k < 5; k++) {
        ck_assert(view(k).known);
        ck_assert_int_eq(view(k).closed, closed[k]);
    }
    input_bank_free(bank);
}
END_TEST

START_TEST(test_an_address_that_is_refused_costs_its_own_input_alone)
{
    for (int k = 0; k < 3; k++)
        at(k, INPUT_CONTACT, (uint16_t)k);
    begin(3);
    refused[2] = levels[1] = true;
    round_of(EVERY_MS);
    round_of(12000);
    ck_assert(view(0).known && view(1).known && view(1).closed);
    ck_assert(!view(2).known);
    ck_assert_int_eq(view(2).trouble, INPUT_UNREAD);
    ck_assert_str_eq(view(2).detail, "the unit said no");
    input_bank_free(bank);
}
END_TEST

START_TEST(test_a_press_is_taken_once_and_needs_a_known_open)
{
    at(0, INPUT_BUTTON, 0);
    begin(1);
    levels[0] = true; /* pressed as it starts */
    round_of(2000);
    ck_assert(view(0).known && view(0).closed);
    ck_assert(!input_bank_pressed(bank, 0));
    levels[0] = false;
    round_of(2000);
    levels[0] = true;
    round_of(2000);
    ck_assert(input_bank_pressed(bank, 0));
    ck_assert(!input_bank_pressed(bank, 0));
    input_bank_free(bank);
}
END_TEST

START_TEST(test_a_silent_bus_makes_it_unknown_and_is_no_press)
{
    at(0, INPUT_BUTTON, 0);
    begin(1);
    round_of(2000);
    outcome = BUS_TIMEOUT;
    round_of(5000);
    ck_assert(view(0).known); /* a moment is borne */
    ck_assert_int_eq(view(0).trouble, INPUT_WELL);
    round_of(7000);
    ck_assert(!view(0).known && view(0).was_known);
    ck_assert_int_eq(view(0).trouble, INPUT_UNREAD);
    outcome = BUS_OK;
    levels[0] = true;
    round_of(2000);
    ck_assert(view(0).known);
    ck_assert(!input_bank_pressed(bank, 0));
    input_bank_free(bank);
}
END_TEST

START_TEST(test_a_button_that_is_held_is_one_press_and_a_trouble)
{
    at(0, INPUT_BUTTON, 0);
    at(1, INPUT_SUPPLY, 1);
    begin(2);
    round_of(2000);
    levels[0] = levels[1] = true;
    round_of(59000);
    ck_assert(input_bank_pressed(bank, 0));
    ck_assert_int_eq(view(0).trouble, INPUT_WELL);
    round_of(3000);
    ck_assert(!input_bank_pressed(bank, 0));
    ck_assert_int_eq(view(0).trouble, INPUT_HELD_CLOSED);
    ck_assert_int_eq(view(1).trouble, INPUT_WELL); /* that is what a supply does */
    levels[0] = false;
    round_of(2000);
    ck_assert_int_eq(view(0).trouble, INPUT_WELL);
    input_bank_free(bank);
}
END_TEST

START_TEST(test_a_low_level_may_be_what_counts)
{
    at(0, INPUT_CONTACT, 0);
    set[0].active_low = true;
    begin(1);
    round_of(2000);
    ck_assert(view(0).known && view(0).closed);
    input_bank_free(bank);
}
END_TEST

START_TEST(test_one_question_is_under_way_at_most)
{
    at(0, INPUT_CONTACT, 0);
    begin(1);
    for (int k = 0; k < 5; k++, now.ms += EVERY_MS)
        input_bank_ask(bank, now);
    ck_assert_int_eq(job_count, 1);
    input_bank_rewired(bank); /* its answer will not come */
    input_bank_ask(bank, now);
    ck_assert_int_eq(job_count, 2);
    input_bank_free(bank);
}
END_TEST

START_TEST(test_what_was_read_goes_on_in_another_bank)
{
    at(0, INPUT_CONTACT, 0);
    at(1, INPUT_BUTTON, 1);
    begin(2);
    levels[0] = true;
    round_of(2000);
    struct input_bank *before = bank;
    struct input_settings moved = set[0];
    set[0] = set[1];
    set[1] = moved;
    set[1].bus_index = 1;
    set[1].debounce_ms += 100;
    set[1].every_ms *= 2;
    ck_assert(input_is_same(&moved, &set[1]));
    ck_assert(!input_is_same(&set[0], &set[1]));
    bank = input_bank_new(set, 2, BASE + 64, &doors, now);
    input_bank_take_over(bank, 1, before, 0);
    input_bank_free(before);
    ck_assert(view(1).known && view(1).closed);
    ck_assert(!view(0).known);
    struct bus_answer late = {.id = BASE, .outcome = BUS_OK, .count = 1};
    input_bank_answer(bank, &late); /* the other bank's */
    ck_assert(view(1).closed);
    input_bank_free(bank);
}
END_TEST

START_TEST(test_the_rows_of_all_kinds_fit_their_table)
{
    ck_assert_uint_eq(input_source_rows.count, 1 + 4 + 3);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_inputs_of_one_board_come_with_one_question,
        test_an_address_that_is_refused_costs_its_own_input_alone,
        test_a_press_is_taken_once_and_needs_a_known_open,
        test_a_silent_bus_makes_it_unknown_and_is_no_press,
        test_a_button_that_is_held_is_one_press_and_a_trouble,
        test_a_low_level_may_be_what_counts,
        test_one_question_is_under_way_at_most,
        test_what_was_read_goes_on_in_another_bank,
        test_the_rows_of_all_kinds_fit_their_table,
    };
    return suite_run("bank", tests, COUNT_OF(tests));
}
