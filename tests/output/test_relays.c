/* test_relays.c - outputs through a real bus to boards that are real processes:
 * python3-pymodbus, jsmodbus, and a rogue that says no, says yes and does not, or
 * is silent. Only the moments are the test's own. */
#include "bus/rig.h"
#include "output/output.h"

#include <check.h>
#include <stdlib.h>
#include <string.h>

enum { JOB_BASE = 1 << 16, SILENCE_S = 60 /* until it counts as failed */, STEP_S = 6 };

struct site {
    struct rig rig;
    struct outputs *outputs;
};

static bool post(void *context, uint8_t bus_index, const struct bus_job *job)
{
    (void)bus_index;
    const struct site *site = context;
    return bus_post(site->rig.bus, job);
}

static bool publish(void *context, const char *topic, const char *payload)
{
    (void)context;
    ck_abort_msg("nothing is published here: %s %s", topic, payload);
    return false;
}

static struct output_settings two_contactors(void)
{
    return (struct output_settings){.kind = OUTPUT_COIL,
                                    .bus = "relays",
                                    .unit = RIG_UNIT,
                                    .address = {60, 61},
                                    .contactors = 2,
                                    .read_back = true};
}

static struct output_settings set_point(void)
{
    return (struct output_settings){.kind = OUTPUT_REGISTER,
                                    .bus = "relays",
                                    .unit = RIG_UNIT,
                                    .address = {210},
                                    .contactors = 1,
                                    .read_back = true,
                                    .scale_w = 10};
}

static struct site *site_new(const char *program, const char *wire, struct output_settings settings)
{
    struct trouble trouble = {.text = ""};
    struct site *site = calloc(1, sizeof *site);
    const struct output_doors doors = {.context = site, .post = post, .publish = publish};
    site->rig = rig_start(program, wire);
    site->outputs = outputs_new(&settings, 1, JOB_BASE, &doors, &trouble);
    ck_assert_msg(site->outputs != NULL, "%s", trouble.text);
    return site;
}

static void site_free(struct site *site)
{
    outputs_free(site->outputs);
    rig_stop(&site->rig);
    free(site);
}

/* One turn of a loop: what is due, and the answers until none is awaited. */
static void turn(struct site *site)
{
    outputs_turn(site->outputs, site->rig.now);
    while (outputs_busy(site->outputs)) {
        struct bus_answer answer;
        mailbox_wait(site->rig.answers);
        while (mailbox_take(site->rig.answers, &answer)) {
            outputs_answer(site->outputs, &answer);
        }
    }
}

static void pass(struct site *site, int64_t ms)
{
    site->rig.now = mono_after(site->rig.now, ms);
    turn(site);
}

static void want(struct site *site, int32_t level_w, uint8_t stage)
{
    outputs_want(site->outputs, 0, level_w, stage, site->rig.now);
    turn(site);
}

static void assert_state(const struct site *site, enum output_health health, int32_t level_w)
{
    struct confirmation confirmation = outputs_confirmation(site->outputs, 0);
    ck_assert_msg(confirmation.health == health, "health %d: %s", (int)confirmation.health,
                  outputs_detail(site->outputs, 0));
    ck_assert_int_eq(confirmation.level_w, level_w);
}

static uint16_t coil(struct site *site, uint16_t address)
{
    struct bus_answer answer = rig_ask(&site->rig, rig_coil(address));
    ck_assert_msg(answer.outcome == BUS_OK, "%s", answer.detail);
    return answer.value[0];
}

static const struct {
    const char *program, *wire;
} boards[] = {
    {"peer_pymodbus.py", "tcp"},
    {"peer_pymodbus.py", "rtu"},
    {"peer_jsmodbus.js", "tcp"},
    {"peer_rogue.py", "pty"},
};
enum { BOARDS = sizeof boards / sizeof boards[0] };

START_TEST(test_contactors_close_and_open_on_every_board)
{
    struct site *site = site_new(boards[_i].program, boards[_i].wire, two_contactors());
    outputs_probe(site->outputs, site->rig.now);
    turn(site);
    assert_state(site, OUTPUT_CONFIRMED, 0);
    want(site, 1200, 1);
    assert_state(site, OUTPUT_CONFIRMED, 1200);
    ck_assert_uint_eq(coil(site, 60), 1);
    ck_assert_uint_eq(coil(site, 61), 0);
    want(site, 2400, 2);
    assert_state(site, OUTPUT_CONFIRMED, 2400);
    ck_assert_uint_eq(coil(site, 61), 1);
    outputs_fail_state(site->outputs, site->rig.now);
    turn(site);
    assert_state(site, OUTPUT_CONFIRMED, 0);
    ck_assert_uint_eq(coil(site, 60), 0);
    ck_assert_uint_eq(coil(site, 61), 0);
    site_free(site);
}
END_TEST

START_TEST(test_set_point_reaches_every_board_rounded_down)
{
    struct site *site = site_new(boards[_i].program, boards[_i].wire, set_point());
    want(site, 2399, 0);
    assert_state(site, OUTPUT_CONFIRMED, 2390);
    ck_assert_uint_eq(rig_ask(&site->rig, rig_holding(210, 1)).value[0], 239);
    site_free(site);
}
END_TEST

struct board_fault {
    const char *wire, *behaviour;
    enum output_health health;
    const char *words;
};

static const struct board_fault faults[] = {
    {"pty", "exception:4", OUTPUT_FAILED, "refuses: device failure"},
    {"tcp", "exception:2", OUTPUT_FAILED, "refuses: illegal data address"},
    {"pty", "silent", OUTPUT_FAILED, "does not answer"},
    {"tcp", "silent", OUTPUT_FAILED, "does not answer"},
    {"pty", "garbage", OUTPUT_FAILED, ""},
    {"pty", "echo-only", OUTPUT_FAILED, "echo off"},
    {"tcp", "close", OUTPUT_FAILED, ""},
    {"pty", "lie", OUTPUT_UNSAFE, "reads on where off was ordered"},
    {"tcp", "lie", OUTPUT_UNSAFE, "reads on where off was ordered"},
};
enum { FAULTS = sizeof faults / sizeof faults[0] };

/* On, then the board goes bad, then off is ordered. Whatever it does, off is
 * never reported before it was read; and when the board is well again it is
 * switched without anybody's help. */
START_TEST(test_bad_board_is_never_believed_and_set_right_when_it_is_well_again)
{
    const struct board_fault *fault = &faults[_i];
    struct site *site = site_new("peer_rogue.py", fault->wire, two_contactors());
    want(site, 2400, 2);
    assert_state(site, OUTPUT_CONFIRMED, 2400);
    peer_order(&site->rig.peer, "behave %s", fault->behaviour);
    want(site, 0, 0);
    for (int second = 0; second <= SILENCE_S; second += STEP_S) {
        ck_assert_int_ne(outputs_confirmation(site->outputs, 0).level_w, 0);
        pass(site, STEP_S * MS_PER_S);
    }
    assert_state(site, fault->health, 2400);
    ck_assert_msg(strstr(outputs_detail(site->outputs, 0), fault->words), "%s",
                  outputs_detail(site->outputs, 0));
    peer_order(&site->rig.peer, "behave good");
    for (int second = 0; second < 60; second++) {
        pass(site, 1000);
    }
    assert_state(site, OUTPUT_CONFIRMED, 0);
    ck_assert_uint_eq(coil(site, 60), 0);
    ck_assert_uint_eq(coil(site, 61), 0);
    site_free(site);
}
END_TEST

START_TEST(test_hand_at_the_board_is_undone_by_the_next_order)
{
    struct site *site = site_new("peer_rogue.py", "pty", two_contactors());
    want(site, 1200, 1);
    peer_order(&site->rig.peer, "coil 60 0");
    peer_order(&site->rig.peer, "coil 61 1");
    pass(site, 10000);
    ck_assert_ptr_nonnull(strstr(outputs_detail(site->outputs, 0), "something else"));
    ck_assert_uint_eq(coil(site, 60), 0);
    want(site, 1200, 1);
    assert_state(site, OUTPUT_CONFIRMED, 1200);
    ck_assert_uint_eq(coil(site, 60), 1);
    ck_assert_uint_eq(coil(site, 61), 0);
    site_free(site);
}
END_TEST

/* The adapter is pulled while a load is on, and put back. */
START_TEST(test_board_behind_a_pulled_adapter_is_switched_when_it_returns)
{
    struct site *site = site_new("peer_rogue.py", "pty", two_contactors());
    want(site, 2400, 2);
    peer_order(&site->rig.peer, "vanish");
    want(site, 0, 0);
    for (int second = 0; second <= SILENCE_S; second += STEP_S) {
        pass(site, STEP_S * MS_PER_S);
    }
    assert_state(site, OUTPUT_FAILED, 2400);
    peer_order(&site->rig.peer, "return");
    for (int second = 0; second < 30; second++) {
        pass(site, 1000);
    }
    assert_state(site, OUTPUT_CONFIRMED, 0);
    ck_assert_uint_eq(coil(site, 60), 0);
    site_free(site);
}
END_TEST

int main(void)
{
    TCase *cases = tcase_create("relays");
    tcase_set_timeout(cases, 120);
    tcase_add_loop_test(cases, test_contactors_close_and_open_on_every_board, 0, BOARDS);
    tcase_add_loop_test(cases, test_set_point_reaches_every_board_rounded_down, 0, BOARDS);
    tcase_add_loop_test(cases, test_bad_board_is_never_believed_and_set_right_when_it_is_well_again,
                        0, FAULTS);
    tcase_add_test(cases, test_hand_at_the_board_is_undone_by_the_next_order);
    tcase_add_test(cases, test_board_behind_a_pulled_adapter_is_switched_when_it_returns);
    Suite *suite = suite_create("relays");
    suite_add_tcase(suite, cases);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
