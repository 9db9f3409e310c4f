/* test_output.c - orders, confirmations, retries and fail states, against a
 * board and a broker that live in this file and obey as told. */
#include "output/output.h"

#include <check.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { ADDRESSES = 8, POSTED_MAX = 64, JOB_BASE = 4096 };

/* How the board treats a write. */
enum manner { OBEYS, LIES, REFUSES, SILENT, HALVES };

struct world {
    struct outputs *outputs;
    struct mono now;
    enum manner manner;
    uint16_t value[ADDRESSES];
    struct bus_job posted[POSTED_MAX]; /* not yet answered, in order */
    size_t posted_count;
    struct bus_job written[POSTED_MAX]; /* every write, in order */
    size_t written_count, reads;
    bool broker, full;
    char topic[64], payload[64];
    size_t published;
};

static bool post(void *context, uint8_t bus_index, const struct bus_job *job)
{
    struct world *world = context;
    ck_assert_uint_eq(bus_index, 3);
    ck_assert_uint_lt(world->posted_count, POSTED_MAX);
    ck_assert_int_ge(job->id, JOB_BASE);
    ck_assert_int_lt(job->id, JOB_BASE + 65536);
    if (world->full) {
        return false;
    }
    world->posted[world->posted_count++] = *job;
    return true;
}

static bool publish(void *context, const char *topic, const char *payload)
{
    struct world *world = context;
    if (!world->broker) {
        return false;
    }
    world->published++;
    snprintf(world->topic, sizeof world->topic, "%s", topic);
    snprintf(world->payload, sizeof world->payload, "%s", payload);
    return true;
}

static struct output_settings a_coil(void)
{
    return (struct output_settings){.kind = OUTPUT_COIL,
                                    .bus = "relays",
                                    .bus_index = 3,
                                    .unit = 5,
                                    .address = {2},
                                    .contactors = 1,
                                    .read_back = true};
}

static struct output_settings a_topic(const char *state_topic)
{
    struct output_settings settings = {.kind = OUTPUT_TOPIC,
                                       .contactors = 1,
                                       .topic = "plug/set",
                                       .on_payload = "ON",
                                       .off_payload = "OFF"};
    snprintf(settings.state_topic, sizeof settings.state_topic, "%s", state_topic);
    return settings;
}

static struct world *world_new(struct output_settings settings)
{
    struct trouble trouble = {.text = ""};
    struct world *world = calloc(1, sizeof *world);
    const struct output_doors doors = {.context = world, .post = post, .publish = publish};
    world->now.ms = 5000;
    world->broker = true;
    world->outputs = outputs_new(&settings, 1, JOB_BASE, &doors, &trouble);
    ck_assert_msg(world->outputs != NULL, "%s", trouble.text);
    return world;
}

static void world_free(struct world *world)
{
    outputs_free(world->outputs);
    free(world);
}

static void obey(struct world *world, const struct bus_job *job)
{
    uint16_t value = job->value[0];
    if (world->manner == OBEYS) {
        world->value[job->address] = value;
    } else if (world->manner == HALVES) {
        world->value[job->address] = value / 2;
    }
}

static struct bus_answer answer_to(struct world *world, const struct bus_job *job)
{
    bool write = job->kind == BUS_WRITE_COIL || job->kind == BUS_WRITE_REGISTERS;
    struct bus_answer answer = {.id = job->id, .kind = job->kind, .now = job->now, .count = 1};
    if (world->manner == SILENT) {
        answer.outcome = BUS_TIMEOUT;
        strcpy(answer.detail, "unit 5 is silent");
    } else if (world->manner == REFUSES) {
        answer.outcome = BUS_EXCEPTION;
        strcpy(answer.detail, "unit 5 says no");
    } else if (write) {
        obey(world, job);
    }
    world->reads += !write;
    if (write) {
        world->written[world->written_count++ % POSTED_MAX] = *job;
    }
    answer.value[0] = world->value[job->address];
    return answer;
}

/* Answers what was posted, and what that led to, until nothing is under way. */
static bool settle(struct world *world)
{
    bool news = outputs_turn(world->outputs, world->now);
    while (world->posted_count > 0) {
        struct bus_job job = world->posted[0];
        memmove(world->posted, world->posted + 1, --world->posted_count * sizeof job);
        struct bus_answer answer = answer_to(world, &job);
        news |= outputs_answer(world->outputs, &answer);
    }
    ck_assert(!outputs_busy(world->outputs));
    return news;
}

static bool pass(struct world *world, int64_t ms)
{
    world->now = mono_after(world->now, ms);
    return settle(world);
}

static bool want(struct world *world, int32_t level_w, uint8_t stage)
{
    outputs_want(world->outputs, 0, level_w, stage, world->now);
    return settle(world);
}

static void assert_state(const struct world *world, enum output_health health, int32_t level_w)
{
    struct confirmation confirmation = outputs_confirmation(world->outputs, 0);
    ck_assert_msg(confirmation.health == health, "health %d: %s", (int)confirmation.health,
                  outputs_detail(world->outputs, 0));
    ck_assert_int_eq(confirmation.level_w, level_w);
}

START_TEST(test_order_is_written_read_back_and_confirmed)
{
    struct world *world = world_new(a_coil());
    assert_state(world, OUTPUT_UNKNOWN, 0);
    outputs_want(world->outputs, 0, 3600, 1, world->now);
    ck_assert(outputs_busy(world->outputs));
    assert_state(world, OUTPUT_PENDING, 0);
    ck_assert(settle(world));
    assert_state(world, OUTPUT_CONFIRMED, 3600);
    ck_assert_uint_eq(world->written_count, 1);
    ck_assert_uint_eq(world->reads, 1);
    ck_assert_uint_eq(world->value[2], 1);
    ck_assert(!want(world, 3600, 1)); /* the same order again is none */
    ck_assert_uint_eq(world->written_count, 1);
    ck_assert(want(world, 0, 0));
    assert_state(world, OUTPUT_CONFIRMED, 0);
    ck_assert_str_eq(outputs_detail(world->outputs, 0), "");
    world_free(world);
}
END_TEST

/* After a restart the truth is asked for before anything is switched. */
START_TEST(test_probe_tells_what_is_on_without_switching)
{
    struct world *world = world_new(a_coil());
    world->value[2] = 1;
    outputs_probe(world->outputs, world->now);
    ck_assert(settle(world));
    assert_state(world, OUTPUT_CONFIRMED, 1); /* on; its power is not known here */
    ck_assert_uint_eq(world->written_count, 0);
    world_free(world);
}
END_TEST

/* Says yes and does not: once, then three more times a second apart. */
START_TEST(test_board_that_says_yes_and_does_not_is_unsafe_after_the_retries)
{
    struct world *world = world_new(a_coil());
    want(world, 3600, 1);
    world->manner = LIES;
    want(world, 0, 0);
    for (int retry = 1; retry <= 3; retry++) {
        assert_state(world, OUTPUT_PENDING, 3600);
        pass(world, 999);
        ck_assert_uint_eq(world->written_count, 1u + (unsigned)retry);
        pass(world, 1);
        ck_assert_uint_eq(world->written_count, 2u + (unsigned)retry);
    }
    assert_state(world, OUTPUT_UNSAFE, 3600); /* what is in force is what was read */
    ck_assert_str_eq(outputs_detail(world->outputs, 0),
                     "coil 2 of unit 5 on relays reads on where off was ordered");
    pass(world, 9999);
    ck_assert_uint_eq(world->written_count, 5);
    world->manner = OBEYS; /* the contact came unstuck: it is still tried */
    ck_assert(pass(world, 1));
    assert_state(world, OUTPUT_CONFIRMED, 0);
    ck_assert_str_eq(outputs_detail(world->outputs, 0), "");
    world_free(world);
}
END_TEST

START_TEST(test_silent_or_refusing_board_has_failed_after_the_retries_and_is_tried_on)
{
    static const enum manner manners[] = {SILENT, REFUSES};
    for (int i = 0; i < 2; i++) {
        struct world *world = world_new(a_coil());
        world->manner = manners[i];
        want(world, 3600, 1);
        pass(world, 1000);
        pass(world, 1000);
        assert_state(world, OUTPUT_PENDING, 0);
        ck_assert(pass(world, 1000));
        assert_state(world, OUTPUT_FAILED, 0);
        ck_assert_str_eq(outputs_detail(world->outputs, 0),
                         i ? "coil 2 of unit 5 on relays: unit 5 says no"
                           : "coil 2 of unit 5 on relays: unit 5 is silent");
        ck_assert_uint_eq(world->written_count, 4);
        for (int slow = 1; slow <= 5; slow++) {
            ck_assert(!pass(world, 10000));
            ck_assert_uint_eq(world->written_count, 4u + (unsigned)slow);
        }
        world->manner = OBEYS;
        ck_assert(pass(world, 10000));
        assert_state(world, OUTPUT_CONFIRMED, 3600);
        world_free(world);
    }
}
END_TEST

START_TEST(test_board_switched_by_another_hand_is_set_right_and_that_is_said)
{
    struct world *world = world_new(a_coil());
    want(world, 3600, 1);
    world->value[2] = 0; /* a finger on the board's own button, or a reset */
    ck_assert(!pass(world, 9999));
    ck_assert(pass(world, 1));
    assert_state(world, OUTPUT_CONFIRMED, 3600);
    ck_assert_uint_eq(world->value[2], 1);
    ck_assert_str_eq(
        outputs_detail(world->outputs, 0),
        "coil 2 of unit 5 on relays was changed by another hand or a reset: set right again");
    pass(world, 10000);
    ck_assert_str_eq(outputs_detail(world->outputs, 0), "");
    world_free(world);
}
END_TEST

/* Boards with a communication time-out let go when nobody speaks to them. */
START_TEST(test_settled_output_is_read_every_ten_seconds_and_rewritten_every_forty)
{
    struct world *world = world_new(a_coil());
    want(world, 3600, 1);
    for (int s = 0; s < 120; s++) {
        ck_assert(!pass(world, 1000));
    }
    ck_assert_uint_eq(world->written_count, 1 + 3);
    ck_assert_uint_eq(world->reads, 1 + 12);
    world_free(world);
}
END_TEST

START_TEST(test_output_that_cannot_be_read_is_confirmed_by_its_acknowledgement)
{
    struct output_settings blind = a_coil();
    blind.read_back = false;
    struct world *world = world_new(blind);
    want(world, 3600, 1);
    assert_state(world, OUTPUT_CONFIRMED, 3600);
    ck_assert_uint_eq(world->reads, 0);
    world->manner = SILENT;
    for (int s = 0; s < 40; s++) {
        pass(world, 1000);
    }
    assert_state(world, OUTPUT_FAILED, 3600);
    world_free(world);
}
END_TEST

START_TEST(test_order_that_changes_while_an_answer_is_outstanding_goes_next)
{
    struct world *world = world_new(a_coil());
    outputs_want(world->outputs, 0, 3600, 1, world->now);
    outputs_turn(world->outputs, world->now);
    ck_assert_uint_eq(world->posted_count, 1);
    outputs_want(world->outputs, 0, 0, 0, world->now);
    outputs_turn(world->outputs, world->now);
    ck_assert_uint_eq(world->posted_count, 1); /* one at a time */
    settle(world);
    assert_state(world, OUTPUT_CONFIRMED, 0);
    ck_assert_uint_eq(world->written_count, 2);
    ck_assert_uint_eq(world->value[2], 0);
    world_free(world);
}
END_TEST

/* The answer to a job of before must not confirm the one of now. */
START_TEST(test_answers_that_are_not_awaited_change_nothing)
{
    struct world *world = world_new(a_coil());
    outputs_want(world->outputs, 0, 3600, 1, world->now);
    outputs_turn(world->outputs, world->now);
    uint32_t id = world->posted[0].id;
    static const int32_t offsets[] = {-4096, -1, 1, 256, 255 * 256, 65536, 1000000};
    for (size_t i = 0; i < sizeof offsets / sizeof offsets[0]; i++) {
        struct bus_answer stray = {.id = id + (uint32_t)offsets[i], .kind = BUS_WRITE_COIL};
        ck_assert(!outputs_answer(world->outputs, &stray));
        assert_state(world, OUTPUT_PENDING, 0);
    }
    settle(world);
    struct bus_answer again = {.id = id, .kind = BUS_WRITE_COIL, .outcome = BUS_TIMEOUT};
    ck_assert(!outputs_answer(world->outputs, &again));
    assert_state(world, OUTPUT_CONFIRMED, 3600);
    world_free(world);
}
END_TEST

START_TEST(test_answer_that_never_comes_does_not_hold_the_output_for_ever)
{
    struct world *world = world_new(a_coil());
    outputs_want(world->outputs, 0, 3600, 1, world->now);
    outputs_turn(world->outputs, world->now);
    world->posted_count = 0; /* the bus was taken down with the job in it */
    world->now = mono_after(world->now, 60000);
    settle(world);
    pass(world, 1000);
    assert_state(world, OUTPUT_CONFIRMED, 3600);
    world_free(world);
}
END_TEST

START_TEST(test_full_bus_is_tried_again)
{
    struct world *world = world_new(a_coil());
    world->full = true;
    want(world, 3600, 1);
    assert_state(world, OUTPUT_PENDING, 0);
    world->full = false;
    pass(world, 1000);
    assert_state(world, OUTPUT_CONFIRMED, 3600);
    world_free(world);
}
END_TEST

static struct output_settings three_contactors(void)
{
    struct output_settings settings = a_coil();
    settings.contactors = 3;
    settings.address[0] = 4;
    settings.address[1] = 1;
    settings.address[2] = 6;
    return settings;
}

START_TEST(test_stages_close_from_first_to_last_and_open_from_last_to_first)
{
    struct world *world = world_new(three_contactors());
    want(world, 2400, 2);
    ck_assert_uint_eq(world->value[4], 1);
    ck_assert_uint_eq(world->value[1], 1);
    ck_assert_uint_eq(world->value[6], 0);
    assert_state(world, OUTPUT_CONFIRMED, 2400);
    want(world, 3600, 3);
    ck_assert_uint_eq(world->value[6], 1);
    world->written_count = 0;
    want(world, 0, 0);
    ck_assert_uint_eq(world->written_count, 3);
    ck_assert_uint_eq(world->written[0].address, 6);
    ck_assert_uint_eq(world->written[1].address, 1);
    ck_assert_uint_eq(world->written[2].address, 4);
    world->written_count = 0;
    want(world, 3600, 3);
    ck_assert_uint_eq(world->written[0].address, 4);
    ck_assert_uint_eq(world->written[1].address, 1);
    ck_assert_uint_eq(world->written[2].address, 6);
    world_free(world);
}
END_TEST

START_TEST(test_staged_load_is_as_well_as_its_worst_contactor)
{
    struct world *world = world_new(three_contactors());
    want(world, 3600, 3);
    world->manner = LIES;
    want(world, 1200, 1);
    for (int i = 0; i < 3; i++) {
        pass(world, 1000);
    }
    assert_state(world, OUTPUT_UNSAFE, 3600); /* three still closed */
    world_free(world);
}
END_TEST

START_TEST(test_normally_closed_contact_opens_to_switch_on)
{
    struct output_settings settings = a_coil();
    settings.normally_closed = true;
    struct world *world = world_new(settings);
    world->value[2] = 1;
    want(world, 3600, 1);
    ck_assert_uint_eq(world->value[2], 0);
    assert_state(world, OUTPUT_CONFIRMED, 3600);
    want(world, 0, 0);
    ck_assert_uint_eq(world->value[2], 1);
    assert_state(world, OUTPUT_CONFIRMED, 0);
    world_free(world);
}
END_TEST

static struct output_settings a_charger(void)
{
    struct output_settings settings = a_coil();
    settings.kind = OUTPUT_REGISTER;
    settings.scale_ma = 1000;
    settings.watts_per_amp = 230;
    return settings;
}

START_TEST(test_set_point_is_written_in_its_counts_and_confirmed_in_watts)
{
    struct world *world = world_new(a_charger());
    want(world, 2390, 0);
    ck_assert_uint_eq(world->value[2], 10);
    assert_state(world, OUTPUT_CONFIRMED, 2300);
    ck_assert(!want(world, 2400, 0)); /* the same count: nothing to write */
    ck_assert_uint_eq(world->written_count, 1);
    want(world, 0, 0);
    assert_state(world, OUTPUT_CONFIRMED, 0);
    world_free(world);
}
END_TEST

/* A car or charger may take less than it is granted; that is the truth then. */
START_TEST(test_set_point_that_the_device_lowers_is_confirmed_as_read)
{
    struct world *world = world_new(a_charger());
    world->manner = HALVES;
    want(world, 2300, 0);
    assert_state(world, OUTPUT_CONFIRMED, 1150);
    ck_assert_str_eq(outputs_detail(world->outputs, 0),
                     "register 2 of unit 5 on relays takes only 1150 W of 2300 W");
    ck_assert(!pass(world, 10000));
    assert_state(world, OUTPUT_CONFIRMED, 1150);
    world_free(world);
}
END_TEST

START_TEST(test_set_point_that_stays_higher_than_allowed_is_unsafe)
{
    struct world *world = world_new(a_charger());
    want(world, 3680, 0);
    world->manner = LIES;
    want(world, 1380, 0);
    for (int i = 0; i < 3; i++) {
        pass(world, 1000);
    }
    assert_state(world, OUTPUT_UNSAFE, 3680);
    world_free(world);
}
END_TEST

START_TEST(test_topic_without_a_report_is_confirmed_by_being_published)
{
    struct world *world = world_new(a_topic(""));
    ck_assert(want(world, 1000, 1));
    ck_assert_str_eq(world->topic, "plug/set");
    ck_assert_str_eq(world->payload, "ON");
    assert_state(world, OUTPUT_CONFIRMED, 1000);
    world_free(world);
}
END_TEST

START_TEST(test_topic_has_failed_while_the_broker_is_away_and_is_sent_on_its_return)
{
    struct world *world = world_new(a_topic(""));
    world->broker = false;
    ck_assert(want(world, 1000, 1));
    assert_state(world, OUTPUT_FAILED, 0);
    ck_assert_str_eq(outputs_detail(world->outputs, 0), "topic plug/set: the broker is away");
    pass(world, 500);
    world->broker = true;
    ck_assert(pass(world, 500));
    assert_state(world, OUTPUT_CONFIRMED, 1000);
    ck_assert_uint_eq(world->published, 1);
    world_free(world);
}
END_TEST

static bool report(struct world *world, const char *payload)
{
    return outputs_state_message(world->outputs, "plug/state", payload, strlen(payload),
                                 world->now);
}

START_TEST(test_topic_with_a_report_waits_for_it)
{
    struct world *world = world_new(a_topic("plug/state"));
    want(world, 1000, 1);
    assert_state(world, OUTPUT_PENDING, 0);
    ck_assert(report(world, "OFF")); /* still the old state */
    assert_state(world, OUTPUT_PENDING, 0);
    ck_assert(!report(world, "perhaps"));
    ck_assert(report(world, "ON"));
    assert_state(world, OUTPUT_CONFIRMED, 1000);
    ck_assert_uint_eq(world->published, 1);
    ck_assert(!outputs_state_message(world->outputs, "other/state", "OFF", 3, world->now));
    assert_state(world, OUTPUT_CONFIRMED, 1000);
    world_free(world);
}
END_TEST

START_TEST(test_device_that_never_reports_has_failed_and_one_that_contradicts_is_unsafe)
{
    for (int contradicts = 0; contradicts < 2; contradicts++) {
        struct world *world = world_new(a_topic("plug/state"));
        want(world, 1000, 1);
        for (int s = 0; s < 30; s++) {
            if (contradicts) {
                report(world, "OFF");
            }
            pass(world, 1000);
        }
        assert_state(world, contradicts ? OUTPUT_UNSAFE : OUTPUT_FAILED, 0);
        ck_assert_str_eq(outputs_detail(world->outputs, 0),
                         contradicts ? "topic plug/set reads off where on was ordered"
                                     : "topic plug/set does not say what became of the order");
        report(world, "ON");
        assert_state(world, OUTPUT_CONFIRMED, 1000);
        world_free(world);
    }
}
END_TEST

START_TEST(test_report_of_another_hand_is_answered_by_the_order_again)
{
    struct world *world = world_new(a_topic("plug/state"));
    want(world, 1000, 1);
    report(world, "ON");
    ck_assert(report(world, "OFF")); /* the plug's own button */
    ck_assert_uint_eq(world->published, 2);
    report(world, "ON");
    assert_state(world, OUTPUT_CONFIRMED, 1000);
    ck_assert_str_eq(outputs_detail(world->outputs, 0),
                     "topic plug/set was changed by another hand or a reset: set right again");
    world_free(world);
}
END_TEST

START_TEST(test_retained_report_before_any_order_is_what_is_in_force)
{
    struct world *world = world_new(a_topic("plug/state"));
    ck_assert(report(world, "ON"));
    assert_state(world, OUTPUT_CONFIRMED, 1);
    ck_assert_uint_eq(world->published, 0);
    world_free(world);
}
END_TEST

START_TEST(test_fail_state_is_off_or_on_as_set_whatever_the_contact)
{
    for (int variant = 0; variant < 4; variant++) {
        struct output_settings settings = a_coil();
        bool on = variant & 1;
        settings.fail_state = on ? OUTPUT_FAIL_ON : OUTPUT_FAIL_OFF;
        settings.normally_closed = variant & 2;
        struct world *world = world_new(settings);
        want(world, on ? 0 : 3600, !on);
        outputs_fail_state(world->outputs, world->now);
        ck_assert(outputs_busy(world->outputs));
        settle(world);
        ck_assert_uint_eq(world->value[2], on != settings.normally_closed);
        assert_state(world, OUTPUT_CONFIRMED, on ? 1 : 0);
        world_free(world);
    }
}
END_TEST

START_TEST(test_set_points_fail_to_nothing)
{
    struct output_settings settings = a_charger();
    settings.fail_state = OUTPUT_FAIL_ON;
    struct world *world = world_new(settings);
    want(world, 2300, 0);
    outputs_fail_state(world->outputs, world->now);
    settle(world);
    ck_assert_uint_eq(world->value[2], 0);
    world_free(world);
}
END_TEST

/* There is no later at the end: the tries follow at once, and then it is over. */
START_TEST(test_fail_state_at_a_dead_board_ends_without_waiting)
{
    struct world *world = world_new(a_coil());
    want(world, 3600, 1);
    world->manner = SILENT;
    world->written_count = 0;
    outputs_fail_state(world->outputs, world->now);
    settle(world); /* asserts that nothing is busy any more */
    ck_assert_uint_eq(world->written_count, 4);
    assert_state(world, OUTPUT_FAILED, 3600);
    world_free(world);
}
END_TEST

START_TEST(test_settings_that_cannot_work_are_refused)
{
    struct output_settings same = a_coil(), powerless = a_charger(), words = a_topic("");
    same.kind = OUTPUT_REGISTER;
    powerless.watts_per_amp = 0;
    strcpy(words.off_payload, "ON");
    const struct output_settings *const bad[] = {&same, &powerless, &words};
    const struct output_doors doors = {.post = post, .publish = publish};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        struct trouble trouble = {.text = ""};
        ck_assert_ptr_null(outputs_new(bad[i], 1, JOB_BASE, &doors, &trouble));
        ck_assert_str_ne(trouble.text, "");
    }
}
END_TEST

/* No GPIO chip of this name exists on any machine; without libgpiod in the build
 * the message is another, but there is one. It must not keep the others from being
 * switched. */
START_TEST(test_missing_line_is_named_and_holds_up_no_other)
{
    enum { TURNS = 60 };
    const struct output_settings line = {.kind = OUTPUT_LINE, .chip = "no-such-chip", .line = 7};
    const struct output_doors doors = {.post = post, .publish = publish};
    struct trouble trouble = {.text = ""};
    struct outputs *outputs = outputs_new(&line, 1, JOB_BASE, &doors, &trouble);
    ck_assert_ptr_nonnull(outputs);
    outputs_want(outputs, 0, 1000, 0, (struct mono){0});
    for (int64_t k = 0; k < TURNS; k++)
        outputs_turn(outputs, (struct mono){k * MS_PER_S});
    ck_assert_int_eq(outputs_confirmation(outputs, 0).health, OUTPUT_FAILED);
    const char *detail = outputs_detail(outputs, 0);
    ck_assert_msg(strstr(detail, "line 7 of no-such-chip") != NULL, "%s", detail);
    outputs_free(outputs);
}
END_TEST

int main(void)
{
    TCase *cases = tcase_create("output");
    tcase_add_test(cases, test_order_is_written_read_back_and_confirmed);
    tcase_add_test(cases, test_probe_tells_what_is_on_without_switching);
    tcase_add_test(cases, test_board_that_says_yes_and_does_not_is_unsafe_after_the_retries);
    tcase_add_test(cases,
                   test_silent_or_refusing_board_has_failed_after_the_retries_and_is_tried_on);
    tcase_add_test(cases, test_board_switched_by_another_hand_is_set_right_and_that_is_said);
    tcase_add_test(cases, test_settled_output_is_read_every_ten_seconds_and_rewritten_every_forty);
    tcase_add_test(cases, test_output_that_cannot_be_read_is_confirmed_by_its_acknowledgement);
    tcase_add_test(cases, test_order_that_changes_while_an_answer_is_outstanding_goes_next);
    tcase_add_test(cases, test_answers_that_are_not_awaited_change_nothing);
    tcase_add_test(cases, test_answer_that_never_comes_does_not_hold_the_output_for_ever);
    tcase_add_test(cases, test_full_bus_is_tried_again);
    tcase_add_test(cases, test_stages_close_from_first_to_last_and_open_from_last_to_first);
    tcase_add_test(cases, test_staged_load_is_as_well_as_its_worst_contactor);
    tcase_add_test(cases, test_normally_closed_contact_opens_to_switch_on);
    tcase_add_test(cases, test_set_point_is_written_in_its_counts_and_confirmed_in_watts);
    tcase_add_test(cases, test_set_point_that_the_device_lowers_is_confirmed_as_read);
    tcase_add_test(cases, test_set_point_that_stays_higher_than_allowed_is_unsafe);
    tcase_add_test(cases, test_topic_without_a_report_is_confirmed_by_being_published);
    tcase_add_test(cases, test_topic_has_failed_while_the_broker_is_away_and_is_sent_on_its_return);
    tcase_add_test(cases, test_topic_with_a_report_waits_for_it);
    tcase_add_test(cases,
                   test_device_that_never_reports_has_failed_and_one_that_contradicts_is_unsafe);
    tcase_add_test(cases, test_report_of_another_hand_is_answered_by_the_order_again);
    tcase_add_test(cases, test_retained_report_before_any_order_is_what_is_in_force);
    tcase_add_test(cases, test_fail_state_is_off_or_on_as_set_whatever_the_contact);
    tcase_add_test(cases, test_set_points_fail_to_nothing);
    tcase_add_test(cases, test_fail_state_at_a_dead_board_ends_without_waiting);
    tcase_add_test(cases, test_settings_that_cannot_work_are_refused);
    tcase_add_test(cases, test_missing_line_is_named_and_holds_up_no_other);
    Suite *suite = suite_create("output");
    suite_add_tcase(suite, cases);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
