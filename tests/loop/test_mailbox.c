/* test_mailbox.c - post between threads: in order, bounded, never missed. */
#include "loop/mailbox.h"

#include <check.h>
#include <poll.h>
#include <pthread.h>
#include <stdlib.h>

static bool readable(const struct mailbox *box)
{
    struct pollfd flag = {.fd = mailbox_fd(box), .events = POLLIN};
    return poll(&flag, 1, 0) == 1;
}

START_TEST(test_post_comes_out_in_the_order_it_went_in)
{
    struct mailbox *box = mailbox_new(3, sizeof(int));
    int taken;
    for (int round = 0; round < 5; round++) { /* the ring wraps */
        for (int i = 0; i < 3; i++) {
            int item = round * 10 + i;
            ck_assert(mailbox_put(box, &item));
        }
        for (int i = 0; i < 3; i++) {
            ck_assert(mailbox_take(box, &taken));
            ck_assert_int_eq(taken, round * 10 + i);
        }
    }
    ck_assert(!mailbox_take(box, &taken));
    mailbox_free(box);
}
END_TEST

START_TEST(test_descriptor_is_readable_exactly_while_there_is_post)
{
    struct mailbox *box = mailbox_new(4, sizeof(int));
    int item = 1;
    ck_assert(!readable(box));
    mailbox_put(box, &item);
    mailbox_put(box, &item);
    ck_assert(readable(box));
    mailbox_take(box, &item);
    ck_assert(readable(box));
    mailbox_take(box, &item);
    ck_assert(!readable(box));
    mailbox_free(box);
}
END_TEST

static bool same_tens(const void *waiting, const void *item)
{
    return *(const int *)waiting / 10 == *(const int *)item / 10;
}

START_TEST(test_last_word_on_a_matter_takes_the_place_of_the_one_that_waits)
{
    static const int put[] = {10, 20, 11, 12, 21}, wanted[] = {12, 21};
    struct mailbox *box = mailbox_new(2, sizeof(int));
    int taken;
    for (size_t i = 0; i < sizeof(put) / sizeof(put[0]); i++) {
        ck_assert(mailbox_put_last(box, &put[i], same_tens));
    }
    ck_assert(!mailbox_put_last(box, &(int){30}, same_tens)); /* another matter, and no room */
    for (size_t i = 0; i < 2; i++) {
        ck_assert(mailbox_take(box, &taken));
        ck_assert_int_eq(taken, wanted[i]);
    }
    ck_assert(!mailbox_take(box, &taken));
    mailbox_free(box);
}
END_TEST

START_TEST(test_full_box_refuses_and_keeps_what_it_has)
{
    struct mailbox *box = mailbox_new(2, sizeof(int));
    for (int item = 1; item <= 5; item++) {
        ck_assert(mailbox_put(box, &item) == (item <= 2));
    }
    int taken;
    ck_assert(mailbox_take(box, &taken));
    ck_assert_int_eq(taken, 1);
    ck_assert(mailbox_take(box, &taken));
    ck_assert_int_eq(taken, 2);
    mailbox_free(box);
}
END_TEST

enum { SENDERS = 3, ITEMS = 5000 };

struct sender {
    struct mailbox *box;
    int number;
};

static void *send_all(void *argument)
{
    const struct sender *sender = argument;
    for (int i = 0; i < ITEMS; i++) {
        int item = sender->number * ITEMS + i;
        while (!mailbox_put(sender->box, &item)) {
            sched_yield();
        }
    }
    return NULL;
}

START_TEST(test_nothing_is_lost_or_reordered_between_threads)
{
    struct mailbox *box = mailbox_new(16, sizeof(int));
    struct sender sender[SENDERS];
    pthread_t thread[SENDERS];
    for (int i = 0; i < SENDERS; i++) {
        sender[i] = (struct sender){.box = box, .number = i};
        pthread_create(&thread[i], NULL, send_all, &sender[i]);
    }
    int next[SENDERS] = {0};
    for (int received = 0; received < SENDERS * ITEMS;) {
        int item;
        mailbox_wait(box);
        while (mailbox_take(box, &item)) {
            ck_assert_int_eq(item % ITEMS, next[item / ITEMS]++);
            received++;
        }
    }
    for (int i = 0; i < SENDERS; i++) {
        pthread_join(thread[i], NULL);
        ck_assert_int_eq(next[i], ITEMS);
    }
    ck_assert(!readable(box));
    mailbox_free(box);
}
END_TEST

START_TEST(test_box_beyond_all_memory_is_refused)
{
    ck_assert_ptr_null(mailbox_new(SIZE_MAX / 2, 8));
}
END_TEST

int main(void)
{
    TCase *cases = tcase_create("mailbox");
    tcase_add_test(cases, test_post_comes_out_in_the_order_it_went_in);
    tcase_add_test(cases, test_descriptor_is_readable_exactly_while_there_is_post);
    tcase_add_test(cases, test_last_word_on_a_matter_takes_the_place_of_the_one_that_waits);
    tcase_add_test(cases, test_full_box_refuses_and_keeps_what_it_has);
    tcase_add_test(cases, test_nothing_is_lost_or_reordered_between_threads);
    tcase_add_test(cases, test_box_beyond_all_memory_is_refused);
    Suite *suite = suite_create("mailbox");
    suite_add_tcase(suite, cases);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
