/* test_listen.c - a line that others use, heard in pieces and through noise.
 *
 * Frames are those of Modbus over Serial Line V1.02 and the Application Protocol
 * V1.1b3; what adapters and meters do wrong is common practice, no source. Property
 * tests print their seed; SLUICE_SEED repeats one. */
#include "frame/listen.h"

#include <check.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "hex.h"
#include "line.h"

/* ---- what was told, as a line of words ---------------------------------------------------- */

struct words {
    char text[2048];
    size_t used;
};

static void note(void *context, const struct heard *heard)
{
    static const char *const kinds[] = {"answered", "refused", "unanswered", "garbled",
                                        "doubtful", "stray",   "broadcast"};
    struct words *words = context;
    words->used +=
        (size_t)snprintf(words->text + words->used, sizeof words->text - words->used, "%s%s %u",
                         words->used ? ", " : "", kinds[heard->kind], heard->unit);
    if (heard->request_length == 5)
        words->used += (size_t)snprintf(words->text + words->used, sizeof words->text - words->used,
                                        ":%04x", heard->request[1] << 8 | heard->request[2]);
}

struct ear {
    struct listener listener;
    struct words words;
    int64_t now_us;
};

static struct ear *ear_new(void)
{
    struct ear *ear = calloc(1, sizeof *ear);
    listen_begin(&ear->listener, note, &ear->words);
    return ear;
}

static void say_bytes(struct ear *ear, const uint8_t bytes[], size_t length)
{
    ear->now_us += 20000;
    listen_feed(&ear->listener, bytes, length, ear->now_us);
}

static void say(struct ear *ear, const char *hex)
{
    uint8_t bytes[300];
    say_bytes(ear, bytes, bytes_of_hex(hex, bytes));
}

static const struct line_question first = {1, 3, 0x0010, 2}, second = {1, 3, 0x0020, 2},
                                  third = {1, 3, 0x0030, 2}, longer = {1, 3, 0x0040, 4},
                                  other_unit = {2, 3, 0x0010, 2};

static void ask(struct ear *ear, const struct line_question *question)
{
    uint8_t frame[FRAME_RTU_MAX];
    say_bytes(ear, frame, line_ask(question, frame));
}

static void answer(struct ear *ear, const struct line_question *question)
{
    uint8_t frame[FRAME_RTU_MAX];
    say_bytes(ear, frame, line_answer(question, frame));
}

static void quiet(struct ear *ear)
{
    ear->now_us += LISTEN_QUIET_US;
    listen_quiet(&ear->listener);
}

static void assert_heard(struct ear *ear, const char *words)
{
    quiet(ear);
    ck_assert_str_eq(ear->words.text, words);
    free(ear);
}

/* ---- exchanges as they should be ------------------------------------------------------------ */

/* Application Protocol V1.1b3, 6.3: registers 108-110 hold 555, 0, 100; CRCs computed
 * by Serial Line V1.02, 6.2.2. */
START_TEST(test_question_and_answer_of_the_standard_belong_together)
{
    struct ear *ear = ear_new();
    say(ear, "11 03 00 6b 00 03 76 87");
    say(ear, "11 03 06 02 2b 00 00 00 64 c8 ba");
    assert_heard(ear, "answered 17:006b");
}
END_TEST

START_TEST(test_refusal_belongs_to_its_question)
{
    struct ear *ear = ear_new();
    say(ear, "11 03 00 6b 00 03 76 87");
    say(ear, "11 83 02 c1 34");
    assert_heard(ear, "refused 17:006b");
}
END_TEST

/* A write's answer repeats the request (6.5): the order of things tells them apart. */
START_TEST(test_write_and_its_equal_answer_are_one_exchange)
{
    struct ear *ear = ear_new();
    for (int i = 0; i < 4; i++)
        say(ear, "11 05 00 ac ff 00 4e 8b");
    assert_heard(ear, "answered 17:00ac, answered 17:00ac");
}
END_TEST

START_TEST(test_broadcast_is_not_waited_for)
{
    struct ear *ear = ear_new();
    say(ear, "00 05 00 ac ff 00 4d ca");
    ask(ear, &first);
    answer(ear, &first);
    assert_heard(ear, "broadcast 0:00ac, answered 1:0010");
}
END_TEST

START_TEST(test_pieces_of_any_size_tell_the_same)
{
    uint8_t bytes[4 * FRAME_RTU_MAX];
    for (size_t piece = 1; piece < 60; piece++) {
        struct ear *ear = ear_new();
        size_t length = line_ask(&first, bytes);
        length += line_answer(&first, bytes + length);
        length += line_ask(&longer, bytes + length);
        length += line_answer(&longer, bytes + length);
        for (size_t at = 0; at < length; at += piece)
            say_bytes(ear, bytes + at, length - at < piece ? length - at : piece);
        assert_heard(ear, "answered 1:0010, answered 1:0040");
    }
}
END_TEST

START_TEST(test_listening_may_begin_in_the_middle_of_a_frame)
{
    uint8_t frame[FRAME_RTU_MAX];
    size_t length = line_answer(&longer, frame);
    for (size_t from = 1; from < length; from++) {
        struct ear *ear = ear_new();
        say_bytes(ear, frame + from, length - from);
        ask(ear, &first);
        answer(ear, &first);
        assert_heard(ear, "answered 1:0010");
    }
}
END_TEST

/* ---- what is not an answer ----------------------------------------------------------------------
 */

START_TEST(test_answer_without_a_question_is_a_stray)
{
    struct ear *ear = ear_new();
    answer(ear, &first);
    assert_heard(ear, "stray 1");
}
END_TEST

START_TEST(test_answer_of_another_unit_is_a_stray_and_the_question_stays_unsure)
{
    struct ear *ear = ear_new();
    ask(ear, &first);
    answer(ear, &other_unit);
    answer(ear, &first);
    assert_heard(ear, "stray 2, doubtful 1:0010");
}
END_TEST

START_TEST(test_answer_of_another_length_is_a_stray_and_leaves_doubt)
{
    struct ear *ear = ear_new();
    ask(ear, &first);
    answer(ear, &longer);
    ask(ear, &second);
    answer(ear, &second);
    assert_heard(ear, "stray 1, unanswered 1:0010, doubtful 1:0020");
}
END_TEST

START_TEST(test_late_answer_is_not_taken_for_the_next_one)
{
    struct ear *ear = ear_new();
    ask(ear, &first);
    ask(ear, &second);
    answer(ear, &first);
    answer(ear, &second);
    assert_heard(ear, "unanswered 1:0010, doubtful 1:0020, stray 1");
}
END_TEST

/* A master that took the late answer for the right one goes on like that for ever. */
START_TEST(test_a_row_of_answers_that_are_one_behind_gives_no_value)
{
    struct ear *ear = ear_new();
    ask(ear, &first);
    ask(ear, &second);
    answer(ear, &first);
    for (int i = 0; i < 3; i++) {
        ask(ear, &third);
        answer(ear, &second);
        ask(ear, &second);
        answer(ear, &third);
    }
    quiet(ear);
    ck_assert_msg(!strstr(ear->words.text, "answered 1:0030"), "%s", ear->words.text);
    ck_assert_ptr_null(strstr(ear->words.text, ", answered"));
    free(ear);
}
END_TEST

START_TEST(test_doubt_ends_with_an_answer_that_fits_only_its_question)
{
    struct ear *ear = ear_new();
    ask(ear, &first);
    ask(ear, &longer);
    answer(ear, &longer);
    ask(ear, &second);
    answer(ear, &second);
    assert_heard(ear, "unanswered 1:0010, answered 1:0040, answered 1:0020");
}
END_TEST

START_TEST(test_doubt_ends_when_the_unit_was_left_in_peace)
{
    struct ear *ear = ear_new();
    ask(ear, &first);
    ask(ear, &second);
    answer(ear, &second);
    ear->now_us += 600000;
    ask(ear, &third);
    answer(ear, &third);
    assert_heard(ear, "unanswered 1:0010, doubtful 1:0020, answered 1:0030");
}
END_TEST

START_TEST(test_same_question_again_may_have_either_answer)
{
    struct ear *ear = ear_new();
    ask(ear, &first);
    ask(ear, &first);
    answer(ear, &first);
    assert_heard(ear, "unanswered 1:0010, answered 1:0010");
}
END_TEST

START_TEST(test_debt_of_one_unit_does_not_touch_another)
{
    struct ear *ear = ear_new();
    ask(ear, &first);
    ask(ear, &other_unit);
    answer(ear, &other_unit);
    assert_heard(ear, "unanswered 1:0010, answered 2:0010");
}
END_TEST

START_TEST(test_answer_that_comes_twice_counts_once)
{
    struct ear *ear = ear_new();
    ask(ear, &first);
    answer(ear, &first);
    answer(ear, &first);
    ask(ear, &second);
    answer(ear, &second);
    quiet(ear);
    ck_assert_uint_eq(ear->listener.counts.twice, 1);
    assert_heard(ear, "answered 1:0010, answered 1:0020");
}
END_TEST

START_TEST(test_second_copy_after_the_next_question_gives_no_value)
{
    struct ear *ear = ear_new();
    ask(ear, &first);
    answer(ear, &first);
    ask(ear, &second);
    answer(ear, &first);
    answer(ear, &second);
    ask(ear, &third);
    assert_heard(ear, "answered 1:0010, doubtful 1:0020, stray 1");
}
END_TEST

START_TEST(test_answer_and_next_question_lost_together_give_no_value)
{
    uint8_t noise[17];
    struct ear *ear = ear_new();
    memset(noise, 0x55, sizeof noise);
    ask(ear, &first);
    say_bytes(ear, noise, sizeof noise); /* first's answer and the question for second */
    answer(ear, &second);
    assert_heard(ear, "doubtful 1:0010");
}
END_TEST

/* A driver that switches direction leaves a byte or two: common practice, no source. */
START_TEST(test_stray_bytes_between_question_and_answer_do_no_harm)
{
    struct ear *ear = ear_new();
    ask(ear, &first);
    say(ear, "00 ff");
    answer(ear, &first);
    say(ear, "00");
    ask(ear, &second);
    answer(ear, &second);
    assert_heard(ear, "answered 1:0010, answered 1:0020");
}
END_TEST

START_TEST(test_hit_answer_leaves_no_doubt_behind)
{
    uint8_t frame[FRAME_RTU_MAX];
    struct ear *ear = ear_new();
    size_t length = line_answer(&first, frame);
    frame[5] ^= 0x10;
    ask(ear, &first);
    say_bytes(ear, frame, length);
    ask(ear, &second);
    answer(ear, &second);
    assert_heard(ear, "garbled 1:0010, answered 1:0020");
}
END_TEST

/* As they were found in long runs of late answers and noise together: each time a question
 * was lost in noise, and its answer came late, after the next one. */
static void say_hit(struct ear *ear, const struct line_question *question,
                    size_t (*frame_of)(const struct line_question *, uint8_t *))
{
    uint8_t frame[FRAME_RTU_MAX];
    size_t length = frame_of(question, frame);
    frame[length - 3] ^= 0x10;
    say_bytes(ear, frame, length);
}

static void wait_in_vain(struct ear *ear)
{
    quiet(ear);
    ear->now_us += 300000;
}

START_TEST(test_hit_answer_and_hit_question_in_a_row_are_not_taken_for_one_answer)
{
    struct ear *ear = ear_new();
    ask(ear, &other_unit);
    answer(ear, &other_unit);
    ask(ear, &first);
    say_hit(ear, &first, line_answer);
    say_hit(ear, &other_unit, line_ask);
    wait_in_vain(ear);
    ask(ear, &other_unit);
    answer(ear, &other_unit);
    assert_heard(ear, "answered 2:0010, unanswered 1:0010, doubtful 2:0010");
}
END_TEST

START_TEST(test_hit_question_after_a_timeout_is_not_taken_for_a_hit_answer)
{
    struct ear *ear = ear_new();
    ask(ear, &first);
    answer(ear, &first);
    ask(ear, &first);
    wait_in_vain(ear);
    say_hit(ear, &second, line_ask);
    wait_in_vain(ear);
    ask(ear, &longer);
    answer(ear, &longer);
    assert_heard(ear, "answered 1:0010, unanswered 1:0010, doubtful 1:0040");
}
END_TEST

START_TEST(test_hit_answer_may_be_a_late_one_while_anything_is_owed)
{
    struct ear *ear = ear_new();
    ask(ear, &first);
    answer(ear, &first);
    ask(ear, &first);
    wait_in_vain(ear);
    ask(ear, &other_unit);
    say_hit(ear, &first, line_answer);
    ask(ear, &other_unit);
    answer(ear, &other_unit);
    ask(ear, &second);
    answer(ear, &second);
    assert_heard(ear, "answered 1:0010, unanswered 1:0010, unanswered 2:0010, answered 2:0010, "
                      "doubtful 1:0020");
}
END_TEST

START_TEST(test_unit_that_is_first_heard_of_after_noise_may_owe_an_answer)
{
    struct ear *ear = ear_new();
    say_hit(ear, &first, line_ask);
    wait_in_vain(ear);
    ask(ear, &second);
    answer(ear, &first);
    assert_heard(ear, "doubtful 1:0020");
}
END_TEST

START_TEST(test_late_answer_does_not_settle_the_question_that_noise_hides)
{
    struct ear *ear = ear_new();
    ask(ear, &longer);
    answer(ear, &longer);
    ask(ear, &first);
    wait_in_vain(ear);
    ask(ear, &longer);
    say_hit(ear, &second, line_ask);
    answer(ear, &first); /* late; that of the hidden question is still to come */
    ask(ear, &third);
    answer(ear, &second);
    ck_assert_uint_eq(ear->listener.counts.kind[HEARD_ANSWERED], 1);
    ck_assert(!ear->listener.held);
    free(ear);
}
END_TEST

/* Noise right before a question is no question: none was waited for. */
START_TEST(test_pause_in_noise_is_forgotten_with_the_noise)
{
    struct ear *ear = ear_new();
    ask(ear, &first);
    answer(ear, &first);
    ask(ear, &second);
    say(ear, "91 13 77 ee 55");
    wait_in_vain(ear);
    say(ear, "91 13");
    answer(ear, &second);
    unsigned owed = ear->listener.owed_count;
    say(ear, "91 13 77 ee 55");
    ask(ear, &third);
    ck_assert_uint_eq(ear->listener.owed_count, owed);
    free(ear);
}
END_TEST

/* By the unit that answered either the question that was heard or the one that was not, by the
 * other the latter. */
START_TEST(test_one_noise_hides_one_question)
{
    struct ear *ear = ear_new();
    ask(ear, &other_unit);
    answer(ear, &other_unit);
    ask(ear, &first);
    answer(ear, &first);
    ask(ear, &first);
    say(ear, "91 13 77 ee 55");
    wait_in_vain(ear);
    answer(ear, &first);
    ck_assert_uint_eq(ear->listener.owed_count, 3);
    assert_heard(ear, "answered 2:0010, answered 1:0010, doubtful 1:0010");
}
END_TEST

/* What looks like a long answer is kept until it is quiet; the question behind it came
 * when it came. */
START_TEST(test_bytes_that_are_held_back_keep_their_time)
{
    struct ear *ear = ear_new();
    say(ear, "01 03 f0");
    ask(ear, &first);
    int64_t asked_us = ear->now_us;
    wait_in_vain(ear);
    ck_assert_int_eq(ear->listener.question.at_us, asked_us);
    free(ear);
}
END_TEST

START_TEST(test_two_masters_show_by_questions_that_overtake_each_other)
{
    uint8_t bytes[2 * FRAME_RTU_MAX];
    struct ear *ear = ear_new();
    for (int i = 0; i < 5; i++) {
        size_t length = line_ask(&first, bytes);
        length += line_ask(&other_unit, bytes + length);
        say_bytes(ear, bytes, length);
        answer(ear, &first);
        answer(ear, &other_unit);
    }
    quiet(ear);
    ck_assert_uint_eq(ear->listener.counts.overtaken, 5);
    ck_assert_ptr_null(strstr(ear->words.text, "answered 1:0010, answered 1"));
    free(ear);
}
END_TEST

/* A master that waits its 300 ms is one master. */
START_TEST(test_unit_that_is_not_there_does_not_make_two_masters)
{
    struct ear *ear = ear_new();
    for (int i = 0; i < 5; i++) {
        ask(ear, &other_unit);
        ear->now_us += 300000;
        ask(ear, &first);
        answer(ear, &first);
    }
    quiet(ear);
    ck_assert_uint_eq(ear->listener.counts.overtaken, 0);
    ck_assert_uint_eq(ear->listener.counts.kind[HEARD_ANSWERED], 5);
    free(ear);
}
END_TEST

/* A frame that is followed by zeros is whole for any number of them, since the CRC over
 * frame and CRC is zero (SER 6.2.2). So a request for registers at 0x0400 with a stray
 * zero behind it is also an answer of four bytes. */
START_TEST(test_bytes_that_are_request_and_answer_at_once_give_no_value)
{
    uint8_t frame[FRAME_RTU_MAX + 1];
    struct frame_content content;
    const struct line_question lookalike = {1, 3, 0x0400, 1};
    struct ear *ear = ear_new();
    size_t length = line_ask(&lookalike, frame);
    frame[length++] = 0;
    ck_assert(frame_rtu_check(frame, length, &content));
    ck_assert_uint_eq(length, 9);
    ask(ear, &first);
    say_bytes(ear, frame, length);
    answer(ear, &lookalike);
    assert_heard(ear, "unanswered 1:0010, doubtful 1:0400");
}
END_TEST

/* ---- anything at all, by chance ---------------------------------------------------------------
 */

static uint64_t seed_of(int number)
{
    const char *given = getenv("SLUICE_SEED");
    return given ? strtoull(given, NULL, 0) : (uint64_t)number + 1;
}

static uint32_t below(uint64_t *state, uint32_t limit)
{
    return (uint32_t)(line_random(state) % limit);
}

/* A master that takes whatever fits for its answer and goes on at once; units that
 * answer in the order in which they were asked, some late, some twice, some under a
 * wrong unit, some not at all. */
struct scene {
    uint64_t chance;
    struct listener listener;
    struct line_tally tally;
    int64_t now_us, free_us[3]; /* of each unit */
    struct {
        struct line_question question;
        int64_t at_us;
    } due[64];
    unsigned due_count;
    unsigned late_in, lost_in, twice_in, other_in, hit_in, burst_in; /* one in so many; 0: none */
    bool same_form; /* nothing but the address tells questions apart */
    uint64_t sent, whole;
};

static bool happens(struct scene *scene, unsigned one_in)
{
    return one_in && below(&scene->chance, one_in) == 0;
}

/* In pieces, each byte hit with its chance; returns whether all came through. */
static bool transmit(struct scene *scene, uint8_t bytes[], size_t length)
{
    bool whole = true;
    for (size_t i = 0; i < length; i++)
        if (happens(scene, scene->hit_in)) {
            bytes[i] ^= (uint8_t)(1 + below(&scene->chance, 255));
            whole = false;
        }
    for (size_t at = 0; at < length;) {
        size_t piece = 1 + below(&scene->chance, 40);
        piece = piece > length - at ? length - at : piece;
        listen_feed(&scene->listener, bytes + at, piece, scene->now_us);
        at += piece;
    }
    scene->now_us += (int64_t)length * 96;
    return whole;
}

static void pass_time(struct scene *scene, int64_t us)
{
    scene->now_us += us;
    if (us >= LISTEN_QUIET_US)
        listen_quiet(&scene->listener);
}

static struct line_question pick(struct scene *scene)
{
    struct line_question question = {(uint8_t)(1 + below(&scene->chance, 2)), 3,
                                     (uint16_t)(16 * below(&scene->chance, 40)), 2};
    if (!scene->same_form) {
        question.function = (uint8_t)(3 + below(&scene->chance, 2));
        question.quantity = (uint16_t)(2 + 2 * below(&scene->chance, 6));
    }
    return question;
}

static void put_due(struct scene *scene, const struct line_question *question)
{
    int64_t *free_us = &scene->free_us[question->unit];
    unsigned at = scene->due_count;
    if (happens(scene, scene->lost_in) || at == 64)
        return;
    *free_us = *free_us > scene->now_us ? *free_us : scene->now_us;
    *free_us += happens(scene, scene->late_in) ? 450000 : 3000;
    for (; at > 0 && scene->due[at - 1].at_us > *free_us; at--)
        scene->due[at] = scene->due[at - 1];
    scene->due[at].question = *question;
    scene->due[at].at_us = *free_us;
    scene->due_count++;
}

/* What is due first goes onto the wire; whether it came through whole. */
static bool send_due(struct scene *scene)
{
    uint8_t frame[FRAME_RTU_MAX];
    struct line_question question = scene->due[0].question;
    if (scene->due[0].at_us > scene->now_us)
        pass_time(scene, scene->due[0].at_us - scene->now_us);
    memmove(scene->due, scene->due + 1, --scene->due_count * sizeof scene->due[0]);
    size_t length = line_answer(&question, frame);
    bool twice = happens(scene, scene->twice_in);
    if (happens(scene, scene->other_in))
        length = frame_rtu_build(frame, (uint8_t)(question.unit + 5), frame + 1, length - 3);
    bool whole = transmit(scene, frame, length);
    if (twice)
        transmit(scene, frame, length);
    return whole;
}

/* The master takes what comes first; whether that came through whole. */
static bool wait_for_answer(struct scene *scene)
{
    enum { PATIENCE_US = 300000 };
    if (scene->due_count > 0 && scene->due[0].at_us <= scene->now_us + PATIENCE_US)
        return send_due(scene);
    pass_time(scene, PATIENCE_US);
    return false;
}

static void rest(struct scene *scene, int64_t us)
{
    int64_t end_us = scene->now_us + us;
    while (scene->due_count > 0 && scene->due[0].at_us < end_us)
        send_due(scene);
    if (scene->now_us < end_us)
        pass_time(scene, end_us - scene->now_us);
}

static void exchange(struct scene *scene)
{
    uint8_t frame[FRAME_RTU_MAX];
    struct line_question question = pick(scene);
    if (happens(scene, scene->burst_in)) {
        size_t length = 1 + below(&scene->chance, 60);
        for (size_t i = 0; i < length; i++)
            frame[i] = (uint8_t)line_random(&scene->chance);
        transmit(scene, frame, length);
    }
    bool whole = transmit(scene, frame, line_ask(&question, frame));
    put_due(scene, &question);
    pass_time(scene, 2000);
    whole = wait_for_answer(scene) && whole;
    scene->sent++;
    scene->whole += whole;
    rest(scene, happens(scene, 20) ? 700000 : 2000);
}

static struct scene *scene_play(struct scene settings, int number, int exchanges)
{
    struct scene *scene = malloc(sizeof *scene);
    *scene = settings;
    scene->chance = seed_of(number);
    listen_begin(&scene->listener, line_judge, &scene->tally);
    for (int i = 0; i < exchanges; i++)
        exchange(scene);
    listen_quiet(&scene->listener);
    ck_assert_msg(scene->tally.wrong == 0,
                  "SLUICE_SEED=%llu: unit %u, register %04x has a value that is not its own",
                  (unsigned long long)seed_of(number), scene->tally.first_wrong.unit,
                  scene->tally.first_wrong.address);
    return scene;
}

START_TEST(test_whatever_units_do_no_value_is_put_to_a_wrong_register)
{
    struct scene *scene = scene_play(
        (struct scene){
            .late_in = 30, .lost_in = 40, .twice_in = 50, .other_in = 60, .same_form = _i % 2 == 0},
        _i, 3000);
    ck_assert_uint_gt(scene->tally.right, 100);
    free(scene);
}
END_TEST

START_TEST(test_with_noise_besides_no_value_is_wrong_either)
{
    struct scene *scene = scene_play((struct scene){.late_in = 100,
                                                    .lost_in = 100,
                                                    .hit_in = 400,
                                                    .burst_in = 50,
                                                    .same_form = _i % 2 == 0},
                                     1000 + _i, 3000);
    ck_assert_uint_gt(scene->tally.right, 100);
    free(scene);
}
END_TEST

/* Harsher than any line that works: late answers, noise and every fault at once. Only what a
 * CRC of 16 bits lets through could be wrong, and with these seeds it lets nothing through. */
START_TEST(test_late_answers_in_noise_are_not_taken_for_others)
{
    static const struct scene harsh[] = {
        {.late_in = 30,
         .lost_in = 40,
         .twice_in = 50,
         .other_in = 60,
         .hit_in = 400,
         .burst_in = 50},
        {.late_in = 20,
         .lost_in = 20,
         .twice_in = 20,
         .other_in = 20,
         .hit_in = 200,
         .burst_in = 20},
        {.late_in = 10, .lost_in = 40, .hit_in = 400},
    };
    struct scene scene = harsh[_i % 3];
    scene.same_form = _i % 2 == 0;
    struct scene *played = scene_play(scene, _i, 3000);
    ck_assert_uint_gt(played->tally.right, 100);
    free(played);
}
END_TEST

START_TEST(test_clean_line_loses_nothing)
{
    struct scene *scene = scene_play((struct scene){.same_form = _i % 2 == 0}, 2000 + _i, 3000);
    ck_assert_uint_eq(scene->tally.right, scene->sent);
    ck_assert_uint_eq(scene->listener.counts.noise_bytes, 0);
    free(scene);
}
END_TEST

/* One byte in a thousand is hit: of the exchanges that came through whole, more than
 * 95 in a hundred give their values. */
START_TEST(test_noise_costs_little_but_what_it_hits)
{
    struct scene *scene =
        scene_play((struct scene){.hit_in = 1000, .same_form = _i % 2 == 0}, 3000 + _i, 5000);
    ck_assert_msg(scene->tally.right * 100 >= scene->whole * 95, "%llu of %llu",
                  (unsigned long long)scene->tally.right, (unsigned long long)scene->whole);
    free(scene);
}
END_TEST

START_TEST(test_bytes_by_chance_give_no_value)
{
    uint8_t bytes[4096];
    uint64_t chance = seed_of(4000 + _i);
    struct line_tally tally = {0};
    struct listener *listener = malloc(sizeof *listener);
    listen_begin(listener, line_judge, &tally);
    for (int round = 0; round < 50; round++) {
        size_t length = 1 + below(&chance, sizeof bytes);
        for (size_t i = 0; i < length; i++)
            bytes[i] = (uint8_t)line_random(&chance);
        listen_feed(listener, bytes, length, round * 1000);
        if (round % 7 == 0)
            listen_quiet(listener);
    }
    ck_assert_uint_eq(tally.right + tally.wrong, 0);
    free(listener);
}
END_TEST

int main(void)
{
    TCase *cases = tcase_create("listen");
    tcase_set_timeout(cases, 60);
    tcase_add_test(cases, test_question_and_answer_of_the_standard_belong_together);
    tcase_add_test(cases, test_refusal_belongs_to_its_question);
    tcase_add_test(cases, test_write_and_its_equal_answer_are_one_exchange);
    tcase_add_test(cases, test_broadcast_is_not_waited_for);
    tcase_add_test(cases, test_pieces_of_any_size_tell_the_same);
    tcase_add_test(cases, test_listening_may_begin_in_the_middle_of_a_frame);
    tcase_add_test(cases, test_answer_without_a_question_is_a_stray);
    tcase_add_test(cases, test_answer_of_another_unit_is_a_stray_and_the_question_stays_unsure);
    tcase_add_test(cases, test_answer_of_another_length_is_a_stray_and_leaves_doubt);
    tcase_add_test(cases, test_late_answer_is_not_taken_for_the_next_one);
    tcase_add_test(cases, test_a_row_of_answers_that_are_one_behind_gives_no_value);
    tcase_add_test(cases, test_doubt_ends_with_an_answer_that_fits_only_its_question);
    tcase_add_test(cases, test_doubt_ends_when_the_unit_was_left_in_peace);
    tcase_add_test(cases, test_same_question_again_may_have_either_answer);
    tcase_add_test(cases, test_debt_of_one_unit_does_not_touch_another);
    tcase_add_test(cases, test_answer_that_comes_twice_counts_once);
    tcase_add_test(cases, test_second_copy_after_the_next_question_gives_no_value);
    tcase_add_test(cases, test_answer_and_next_question_lost_together_give_no_value);
    tcase_add_test(cases, test_stray_bytes_between_question_and_answer_do_no_harm);
    tcase_add_test(cases, test_hit_answer_leaves_no_doubt_behind);
    tcase_add_test(cases, test_hit_answer_and_hit_question_in_a_row_are_not_taken_for_one_answer);
    tcase_add_test(cases, test_hit_question_after_a_timeout_is_not_taken_for_a_hit_answer);
    tcase_add_test(cases, test_hit_answer_may_be_a_late_one_while_anything_is_owed);
    tcase_add_test(cases, test_unit_that_is_first_heard_of_after_noise_may_owe_an_answer);
    tcase_add_test(cases, test_late_answer_does_not_settle_the_question_that_noise_hides);
    tcase_add_test(cases, test_pause_in_noise_is_forgotten_with_the_noise);
    tcase_add_test(cases, test_one_noise_hides_one_question);
    tcase_add_test(cases, test_bytes_that_are_held_back_keep_their_time);
    tcase_add_test(cases, test_two_masters_show_by_questions_that_overtake_each_other);
    tcase_add_test(cases, test_unit_that_is_not_there_does_not_make_two_masters);
    tcase_add_test(cases, test_bytes_that_are_request_and_answer_at_once_give_no_value);
    tcase_add_loop_test(cases, test_whatever_units_do_no_value_is_put_to_a_wrong_register, 0, 40);
    tcase_add_loop_test(cases, test_with_noise_besides_no_value_is_wrong_either, 0, 40);
    tcase_add_loop_test(cases, test_late_answers_in_noise_are_not_taken_for_others, 0, 240);
    tcase_add_loop_test(cases, test_clean_line_loses_nothing, 0, 4);
    tcase_add_loop_test(cases, test_noise_costs_little_but_what_it_hits, 0, 6);
    tcase_add_loop_test(cases, test_bytes_by_chance_give_no_value, 0, 20);
    Suite *suite = suite_create("listen");
    suite_add_tcase(suite, cases);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
