/* pass.c - passing questions on, and telling what was read.
 *
 * The worker knows nothing of who listens: it has a tap, which may lead into a
 * mailbox. The tap's mutex is held only while a plain value is put into that box;
 * whoever takes the box away takes the same mutex, and may then free it. */
#include "bus/pass.h"

#include <string.h>
#include <time.h>

#include "bus/pass_tap.h"
#include "loop/clock.h"

bool pass_tap_begin(struct pass_tap *tap)
{
    *tap = (struct pass_tap){.questions = mailbox_new(1, sizeof(struct pass_question))};
    pthread_mutex_init(&tap->mutex, NULL);
    return tap->questions != NULL;
}

void pass_tap_end(struct pass_tap *tap)
{
    mailbox_free(tap->questions);
    pthread_mutex_destroy(&tap->mutex);
}

void pass_tap_lead(struct pass_tap *tap, struct mailbox *news, uint8_t number)
{
    pthread_mutex_lock(&tap->mutex);
    tap->news = news;
    tap->number = number;
    pthread_mutex_unlock(&tap->mutex);
}

/* Whether nothing is left to do with it: it is in the box, or nobody wants it. */
static bool tell(struct pass_tap *tap, struct pass_news *news)
{
    pthread_mutex_lock(&tap->mutex);
    news->bus = tap->number;
    bool done = !tap->news || mailbox_put(tap->news, news);
    pthread_mutex_unlock(&tap->mutex);
    return done;
}

static bool is_heard(struct pass_tap *tap)
{
    pthread_mutex_lock(&tap->mutex);
    bool heard = tap->news != NULL;
    pthread_mutex_unlock(&tap->mutex);
    return heard;
}

void pass_block(struct pass_tap *tap, uint8_t unit, const struct meter_block *block,
                const uint16_t value[])
{
    if (!tap || !is_heard(tap))
        return;
    struct pass_news news = {
        .kind = PASS_BLOCK, .unit = unit, .at_us = clock_monotonic_us(), .read = {.block = *block}};
    memcpy(news.read.value, value, block->count * sizeof(value[0]));
    tell(tap, &news);
}

/* Somebody waits for it: should the box be full, so does it, until nobody does. */
static void tell_answer(struct pass_tap *tap, struct pass_news *news, const atomic_bool *ending)
{
    const struct timespec pause = {.tv_nsec = 1000000};
    while (!tell(tap, news) && !atomic_load(ending))
        nanosleep(&pause, NULL);
}

void pass_ask(struct pass_tap *tap, struct line *line, struct mono now, const atomic_bool *ending)
{
    struct pass_question question;
    if (!mailbox_take(tap->questions, &question))
        return;
    struct pass_news news = {
        .kind = PASS_ANSWER, .unit = question.unit, .answer = {.id = question.id}};
    struct exchange exchange = {.unit = question.unit,
                                .function = (enum frame_function)question.pdu[0],
                                .pdu = question.pdu,
                                .pdu_length = question.length,
                                .answer = news.answer.pdu};
    line_exchange(line, &exchange, now);
    news.at_us = clock_monotonic_us();
    news.answer.outcome = exchange.outcome;
    news.answer.length = (uint8_t)exchange.answer_length;
    tell_answer(tap, &news, ending);
}
