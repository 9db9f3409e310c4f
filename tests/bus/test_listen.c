/* test_listen.c - a bus that is only listened to, while two independent processes talk
 * on it: pymodbus asks and pymodbus answers (tests/peers/peer_overheard.py). */
#include <check.h>
#include <errno.h>
#include <pty.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "bus/pass.h"
#include "bus/rig.h"
#include "bus/serial_port.h"
#include "frame/line.h"

enum { BLOCKS_A_ROUND = 4 };

struct listening {
    struct rig rig;
    struct mailbox *news;
    uint8_t meter;
};

static struct listening listening_start(const char *piece, uint8_t unit)
{
    struct trouble trouble = {.text = ""};
    struct listening l = {.rig = {.now = {1000000}}};
    l.rig.peer = peer_start("peer_overheard.py", piece);
    struct bus_settings settings = rig_settings("rtu", l.rig.peer.name);
    settings.mode = BUS_LISTEN;
    l.rig.answers = mailbox_new(128, sizeof(struct bus_answer));
    l.news = mailbox_new(64, sizeof(struct pass_news));
    l.rig.bus = bus_new(&settings, l.rig.answers, &trouble);
    ck_assert_msg(l.rig.bus != NULL, "%s", trouble.text);
    bus_pass_tell(l.rig.bus, l.news, 0);
    l.meter = bus_add_meter(l.rig.bus, unit, rig_map(), SUNSPEC_EITHER);
    return l;
}

static void listening_stop(struct listening *l)
{
    bus_pass_tell(l->rig.bus, NULL, 0);
    rig_stop(&l->rig);
    mailbox_free(l->news);
}

/* Until so many blocks have come by. */
static void await_blocks(struct listening *l, int count)
{
    struct pass_news news;
    for (int i = 0; i < count; i++) {
        mailbox_wait(l->news);
        ck_assert(mailbox_take(l->news, &news));
        ck_assert_int_eq(news.kind, PASS_BLOCK);
        ck_assert_uint_eq(news.unit, RIG_UNIT);
    }
}

static void play_rounds(struct listening *l, int count)
{
    for (int i = 0; i < count; i++) {
        peer_order(&l->rig.peer, "round");
        await_blocks(l, BLOCKS_A_ROUND);
    }
}

static struct bus_answer ask_meter(struct listening *l)
{
    return rig_ask(&l->rig, (struct bus_job){.kind = BUS_READ_METER, .meter = l->meter});
}

/* Until the port is open: before that there is nobody to hear. */
static void await_open(struct listening *l)
{
    struct bus_answer answer;
    do
        answer = ask_meter(l);
    while (answer.outcome == BUS_DOWN);
    ck_assert_int_eq(answer.outcome, BUS_UNHEARD);
}

static void assert_values(const struct bus_answer *answer)
{
    ck_assert_msg(answer->outcome == BUS_OK, "%s: %s", bus_outcome_text(answer->outcome),
                  answer->detail);
    ck_assert_int_eq(answer->sample.value[METER_VOLTAGE_L1], 230200);
    ck_assert_int_eq(answer->sample.value[METER_POWER], -1500000);
    ck_assert_int_eq(answer->sample.value[METER_IMPORT_ENERGY], 1234500000);
    ck_assert_int_ge(answer->age_ms, 0);
}

START_TEST(test_readings_come_from_what_others_say_in_pieces_of_any_size)
{
    static const char *const pieces[] = {"1", "3", "64", "512"};
    struct listening l = listening_start(pieces[_i], RIG_UNIT);
    await_open(&l);
    play_rounds(&l, 2);
    struct bus_answer answer = ask_meter(&l);
    assert_values(&answer);
    answer = ask_meter(&l);
    ck_assert_msg(answer.outcome == BUS_UNHEARD, "the same sample must not come twice");
    listening_stop(&l);
}
END_TEST

START_TEST(test_noise_before_a_round_does_not_hide_it)
{
    struct listening l = listening_start("64", RIG_UNIT);
    await_open(&l);
    play_rounds(&l, 1);
    peer_order(&l.rig.peer, "say 55aa00ff1103006b0003ffff11040400");
    play_rounds(&l, 1);
    struct bus_answer answer = ask_meter(&l);
    assert_values(&answer);
    struct bus_quality quality;
    bus_quality(l.rig.bus, &quality);
    ck_assert_uint_eq(quality.noise_bytes, 16);
    ck_assert_uint_eq(quality.unit[0].answered, 2 * BLOCKS_A_ROUND);
    ck_assert_uint_eq(quality.unit[0].timeouts, 0);
    listening_stop(&l);
}
END_TEST

START_TEST(test_nothing_is_ever_sent_on_a_bus_that_is_listened_to)
{
    struct listening l = listening_start("64", RIG_UNIT);
    await_open(&l);
    const struct bus_job jobs[] = {rig_set_coil(5, true), rig_coil(5), rig_holding(5, 1),
                                   rig_set_register(5, 1)};
    for (size_t i = 0; i < sizeof jobs / sizeof jobs[0]; i++)
        ck_assert_int_eq(rig_ask(&l.rig, jobs[i]).outcome, BUS_LISTENING);
    ck_assert(bus_pass_post(
        l.rig.bus, &(struct pass_question){.unit = RIG_UNIT, .length = 5, .pdu = {3, 0, 0, 0, 1}}));
    struct pass_news news;
    mailbox_wait(l.news);
    ck_assert(mailbox_take(l.news, &news));
    ck_assert_int_eq(news.answer.outcome, BUS_LISTENING);
    play_rounds(&l, 1);
    ck_assert_int_eq(peer_asked_count(&l.rig.peer), 0);
    listening_stop(&l);
}
END_TEST

static int listen_to(const struct bus_settings *settings, struct trouble *trouble)
{
    return serial_open(settings->port, settings->baud, settings->parity, settings->stop_bits,
                       SERIAL_LISTEN, settings->name, trouble);
}

START_TEST(test_port_that_is_listened_to_cannot_be_written_to)
{
    struct trouble trouble;
    struct peer peer = peer_start("peer_overheard.py", "64");
    struct bus_settings settings = rig_settings("rtu", peer.name);
    int fd = listen_to(&settings, &trouble);
    ck_assert_msg(fd >= 0, "%s", trouble.text);
    ck_assert_int_eq(write(fd, "x", 1), -1);
    ck_assert_int_eq(errno, EBADF);
    ck_assert_msg(listen_to(&settings, &trouble) < 0, "one listener a port");
    serial_close(fd);
    peer_stop(&peer);
}
END_TEST

START_TEST(test_unit_that_nobody_asks_is_said_to_be_so)
{
    struct listening l = listening_start("64", RIG_UNIT + 1);
    await_open(&l);
    play_rounds(&l, 1);
    struct bus_answer answer = ask_meter(&l);
    ck_assert_int_eq(answer.outcome, BUS_UNHEARD);
    ck_assert_str_eq(answer.detail, "no master has polled unit 18 yet");
    listening_stop(&l);
}
END_TEST

START_TEST(test_adapter_that_is_pulled_out_is_said_to_be_gone)
{
    struct listening l = listening_start("64", RIG_UNIT);
    struct bus_answer answer;
    await_open(&l);
    peer_stop(&l.rig.peer); /* and with it the other end of the tap */
    do
        answer = ask_meter(&l);
    while (answer.outcome == BUS_UNHEARD);
    ck_assert_int_eq(answer.outcome, BUS_DOWN);
    ck_assert_msg(strstr(answer.detail, "unplugged") || strstr(answer.detail, "No such"), "%s",
                  answer.detail);
    bus_free(l.rig.bus);
    mailbox_free(l.rig.answers);
    mailbox_free(l.news);
}
END_TEST

/* As fast as the machine carries bytes, which is faster than any line: 500 rounds of four
 * questions, while jobs are answered besides. */
START_TEST(test_flood_of_frames_is_heard_whole_while_jobs_are_answered)
{
    static const struct line_question questions[] = {
        {RIG_UNIT, 4, 0, 20}, {RIG_UNIT, 4, 52, 2}, {RIG_UNIT, 4, 72, 2}, {9, 3, 40000, 100}};
    enum { ROUNDS = 500, QUESTIONS = sizeof questions / sizeof questions[0] };
    struct trouble trouble = {.text = ""};
    struct listening l = {.rig = {.now = {1000000}}};
    struct bus_quality quality = {.unit_count = 0};
    int ours, theirs;
    char name[128];
    uint8_t frame[FRAME_RTU_MAX];
    ck_assert_int_eq(openpty(&ours, &theirs, name, NULL, NULL), 0);
    struct bus_settings settings = rig_settings("rtu", name);
    settings.mode = BUS_LISTEN;
    l.rig.answers = mailbox_new(8, sizeof(struct bus_answer));
    l.rig.bus = bus_new(&settings, l.rig.answers, &trouble);
    l.meter = bus_add_meter(l.rig.bus, RIG_UNIT, rig_map(), SUNSPEC_EITHER);
    await_open(&l);
    for (int i = 0; i < ROUNDS * QUESTIONS; i++) {
        const struct line_question *question = &questions[i % QUESTIONS];
        size_t length = line_ask(question, frame);
        ck_assert_int_eq(write(ours, frame, length), (ssize_t)length);
        length = line_answer(question, frame);
        ck_assert_int_eq(write(ours, frame, length), (ssize_t)length);
        if (i % 50 == 0)
            ask_meter(&l);
    }
    while (quality.unit_count < 2 ||
           quality.unit[0].answered + quality.unit[1].answered < ROUNDS * QUESTIONS) {
        ask_meter(&l); /* the worker goes on hearing between two jobs */
        bus_quality(l.rig.bus, &quality);
    }
    ck_assert_uint_eq(quality.noise_bytes, 0);
    ck_assert_uint_eq(quality.doubtful, 0);
    ck_assert_uint_eq(quality.unit[0].timeouts + quality.unit[1].timeouts, 0);
    bus_free(l.rig.bus);
    mailbox_free(l.rig.answers);
    close(ours);
    close(theirs);
}
END_TEST

/* A second master on a line of ours: its questions lie in the input between polls. */
START_TEST(test_second_master_on_our_line_is_found_out)
{
    struct bus_quality quality;
    struct rig rig = rig_start("peer_rogue.py", "pty");
    ck_assert_int_eq(rig_ask(&rig, rig_holding(5, 1)).outcome, BUS_OK);
    bus_quality(rig.bus, &quality);
    ck_assert(!quality.two_masters);
    ck_assert_uint_eq(quality.foreign, 0);
    for (int i = 0; i < 4; i++) {
        peer_order(&rig.peer, "say 1103006b00037687");
        rig_ask(&rig, rig_holding(5, 1));
    }
    bus_quality(rig.bus, &quality);
    ck_assert(quality.two_masters);
    ck_assert_uint_ge(quality.foreign, 3);
    rig_stop(&rig);
}
END_TEST

START_TEST(test_what_a_polled_unit_does_is_counted)
{
    struct bus_quality quality;
    struct rig rig = rig_start("peer_rogue.py", "pty");
    peer_order(&rig.peer, "behave good exception:2 bad-crc good");
    for (int i = 0; i < 4; i++)
        rig_ask(&rig, rig_holding(5, 1));
    bus_quality(rig.bus, &quality);
    ck_assert_uint_eq(quality.unit_count, 1);
    const struct bus_unit_quality *unit = &quality.unit[0];
    ck_assert_uint_eq(unit->unit, RIG_UNIT);
    ck_assert_uint_eq(unit->asked, 4);
    ck_assert_uint_eq(unit->answered, 3);
    ck_assert_uint_eq(unit->exceptions, 1);
    ck_assert_uint_eq(unit->corrupt, 1);
    ck_assert_uint_eq(unit->retries, 1);
    ck_assert_int_gt(unit->p50_us, 0);
    ck_assert_int_ge(unit->p99_us, unit->p50_us);
    rig_stop(&rig);
}
END_TEST

int main(void)
{
    TCase *cases = tcase_create("listen");
    tcase_set_timeout(cases, 60);
    tcase_add_loop_test(cases, test_readings_come_from_what_others_say_in_pieces_of_any_size, 0, 4);
    tcase_add_test(cases, test_noise_before_a_round_does_not_hide_it);
    tcase_add_test(cases, test_nothing_is_ever_sent_on_a_bus_that_is_listened_to);
    tcase_add_test(cases, test_port_that_is_listened_to_cannot_be_written_to);
    tcase_add_test(cases, test_unit_that_nobody_asks_is_said_to_be_so);
    tcase_add_test(cases, test_adapter_that_is_pulled_out_is_said_to_be_gone);
    tcase_add_test(cases, test_flood_of_frames_is_heard_whole_while_jobs_are_answered);
    tcase_add_test(cases, test_second_master_on_our_line_is_found_out);
    tcase_add_test(cases, test_what_a_polled_unit_does_is_counted);
    Suite *suite = suite_create("listen");
    suite_add_tcase(suite, cases);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
