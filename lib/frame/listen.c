/* listen.c - from frames to exchanges, and when not to believe one.
 *
 * On a line that others use, three things can put a value to the wrong register: a
 * request taken for an answer, an answer that was lost together with the next
 * question, and an answer that comes late, after the next question. The first is
 * for find.c. Against the second, an answer is believed only where it follows its
 * question with at most a few stray bytes between (drivers that switch direction
 * leave one or two), too few to hide two frames. Against the third there is the list
 * of what is owed: a unit answers in the order in which it was asked, so an answer
 * that fits something owed may be that one's, and all that was asked after it is
 * owed still. The list of a unit empties when an answer fits only a newer question,
 * or when the unit was left in peace for so long that nothing more can come.
 *
 * Noise is itself a question, perhaps: where the line was silent behind it for as long as a
 * master waits, or an answer shows that one is missing, every unit owes one that was not
 * heard. What can only be a hit answer (its length, its header, in its time, and nothing is
 * owed) leaves no debt: otherwise noise alone would make everything after it doubtful. */
#include "frame/listen.h"

#include <string.h>

#include "frame/find.h"

enum {
    STRAY_BYTES = 3,  /* an exception has 5, a request and an answer 13 */
    OWED_BY_UNIT = 6, /* no master goes on for longer with answers that are so far behind */
    READ_BYTES = 5,   /* the PDU of a read: function, address, quantity */
    EXCEPTION_BYTES = 5,
    MISSING_BYTES = 2,      /* that a hit answer may lack */
    HIDDEN_US = 100000,     /* noise for longer than this may have been a master that gave up */
    PEACE_US = 500000,      /* a unit that has answered and was not asked again for so long is
                               done: no master waits much longer for an answer */
    TOO_LATE_US = 10000000, /* bytes may have been lost without a trace meanwhile */
    OVERTAKEN_US = 30000,   /* adapters keep bytes for 16 ms; no master gives up within 30 */
};

void listen_begin(struct listener *listener, listen_fn *told, void *context)
{
    memset(listener, 0, sizeof *listener);
    listener->told = told;
    listener->context = context;
}

/* ---- telling -------------------------------------------------------------------------- */

static void tell(struct listener *listener, const struct heard *heard)
{
    listener->counts.kind[heard->kind]++;
    listener->told(listener->context, heard);
}

static void tell_question(struct listener *listener, enum heard_kind kind)
{
    const struct listen_question *question = &listener->question;
    tell(listener, &(struct heard){.kind = kind,
                                   .unit = question->unit,
                                   .request = question->pdu,
                                   .request_length = question->length,
                                   .asked_us = question->at_us});
}

static void tell_answer(struct listener *listener, enum heard_kind kind, const uint8_t pdu[],
                        size_t length, int64_t at_us)
{
    const struct listen_question *question = &listener->question;
    tell(listener, &(struct heard){.kind = kind,
                                   .unit = question->unit,
                                   .request = question->pdu,
                                   .request_length = question->length,
                                   .asked_us = question->at_us,
                                   .answer = pdu,
                                   .answer_length = length,
                                   .answered_us = at_us});
}

/* ---- the answer that is kept back ------------------------------------------------------- */

static void release(struct listener *listener, bool doubtful)
{
    if (!listener->held)
        return;
    listener->held = false;
    enum heard_kind kind = doubtful                              ? HEARD_DOUBTFUL
                           : listener->answer[0] & EXCEPTION_BIT ? HEARD_REFUSED
                                                                 : HEARD_ANSWERED;
    tell_answer(listener, kind, listener->answer, listener->answer_length, listener->answered_us);
}

static bool may_hide_question(const struct listen_question *question)
{
    return question->noise > STRAY_BYTES;
}

/* The same of the noise for which nothing is owed yet. */
static bool may_hide_another(const struct listen_question *question)
{
    return question->noise - question->noise_booked > STRAY_BYTES;
}

/* Of a unit that is known to answer twice, noise may have been the second answer. */
static bool second_may_be_hidden(const struct listener *listener)
{
    return may_hide_question(&listener->question) && listener->unit[listener->question.unit].twice;
}

/* ---- what is owed -------------------------------------------------------------------------- */

static bool fits(const struct listen_owed *owed, uint8_t unit, const uint8_t pdu[], size_t length)
{
    return owed->unit == unit &&
           (owed->pdu[0] == 0 || frame_answers(owed->pdu, sizeof owed->pdu, pdu, length));
}

static bool is_read(const uint8_t pdu[], size_t length)
{
    return length == READ_BYTES && pdu[0] >= READ_COILS && pdu[0] <= READ_INPUT;
}

/* A unit that has never answered will hardly begin with a late answer. */
static bool anything_is_owed(const struct listener *listener)
{
    for (uint8_t i = 0; i < listener->owed_count; i++)
        if (listener->unit[listener->owed[i].unit].seen)
            return true;
    return false;
}

static void forget_owed(struct listener *listener, uint8_t unit, uint8_t below)
{
    uint8_t kept = 0;
    for (uint8_t i = 0; i < listener->owed_count; i++)
        if (listener->owed[i].unit != unit || i >= below)
            listener->owed[kept++] = listener->owed[i];
    listener->owed_count = kept;
}

static void forget_oldest(struct listener *listener, uint8_t unit)
{
    uint8_t at = 0;
    while (at < listener->owed_count && listener->owed[at].unit != unit)
        at++;
    listener->owed_count--;
    memmove(listener->owed + at, listener->owed + at + 1,
            (size_t)(listener->owed_count - at) * sizeof *listener->owed);
}

static uint8_t owed_by(const struct listener *listener, uint8_t unit)
{
    uint8_t count = 0;
    for (uint8_t i = 0; i < listener->owed_count; i++)
        if (listener->owed[i].unit == unit)
            count++;
    return count;
}

/* Where there is no room the oldest goes, of this unit or of the list; those that stay keep the
 * unit in doubt. */
static void owe_pdu(struct listener *listener, uint8_t unit, const uint8_t pdu[static READ_BYTES])
{
    if (owed_by(listener, unit) == OWED_BY_UNIT)
        forget_oldest(listener, unit);
    else if (listener->owed_count == LISTEN_OWED_MAX)
        forget_oldest(listener, listener->owed[0].unit);
    struct listen_owed *owed = &listener->owed[listener->owed_count++];
    owed->unit = unit;
    memcpy(owed->pdu, pdu, sizeof owed->pdu);
}

/* Only reads: no value hangs on the others. */
static void owe(struct listener *listener, const struct listen_question *question)
{
    if (is_read(question->pdu, question->length))
        owe_pdu(listener, question->unit, question->pdu);
}

/* A question that was lost in noise. */
static void owe_unheard(struct listener *listener, uint8_t unit)
{
    listener->unit[unit].was_answer = false;
    const uint8_t unheard[READ_BYTES] = {0};
    owe_pdu(listener, unit, unheard);
}

/* To whom it was is not known. Units that have not answered yet are met anew, so that those
 * that aren't there don't fill the list. */
static void owe_unheard_of_all(struct listener *listener)
{
    struct listen_question *question = &listener->question;
    question->noise_booked = question->noise;
    question->paused = false;
    listener->missed = true;
    for (unsigned unit = 1; unit < LISTEN_UNITS; unit++)
        if (listener->unit[unit].seen)
            owe_unheard(listener, (uint8_t)unit);
        else
            listener->unit[unit].met = false;
}

static void meet(struct listener *listener, uint8_t unit)
{
    if (!listener->unit[unit].met && listener->missed)
        owe_unheard(listener, unit);
    listener->unit[unit].met = true;
}

/* What an answer settles: the oldest question of the unit that it fits, and all before
 * it. Returns whether there was one; *another: one that asks for something else. */
static bool settle_owed(struct listener *listener, uint8_t unit, const uint8_t pdu[], size_t length,
                        bool *another)
{
    uint8_t oldest = LISTEN_OWED_MAX;
    *another = false;
    for (uint8_t i = 0; i < listener->owed_count; i++) {
        const struct listen_owed *owed = &listener->owed[i];
        if (!fits(owed, unit, pdu, length))
            continue;
        oldest = oldest == LISTEN_OWED_MAX ? i : oldest;
        *another |= !listener->question.open ||
                    memcmp(owed->pdu, listener->question.pdu, sizeof owed->pdu) != 0;
    }
    bool any = oldest != LISTEN_OWED_MAX;
    forget_owed(listener, unit, any ? (uint8_t)(oldest + 1) : LISTEN_OWED_MAX);
    return any;
}

/* ---- questions --------------------------------------------------------------------------- */

/* Was what came instead of an answer once one, and nothing else besides? While anything is
 * owed it may have been that one's, and late it may have been the next question. */
static bool was_hit(const struct listener *listener)
{
    const struct listen_question *question = &listener->question;
    const uint8_t *header = question->header;
    size_t whole = frame_answer_bytes(question->pdu, question->length);
    int right = (header[0] == question->unit) + (header[1] == question->pdu[0]) +
                (header[2] == (uint8_t)(whole - EXCEPTION_BYTES));
    bool refusal = question->noise == EXCEPTION_BYTES &&
                   (header[0] == question->unit || header[1] == (question->pdu[0] | EXCEPTION_BIT));
    bool answer = question->noise + MISSING_BYTES >= whole &&
                  question->noise <= whole + STRAY_BYTES && right >= 2;
    bool soon = question->noise_begun_us - question->at_us < HIDDEN_US;
    return soon && (refusal || answer) && !anything_is_owed(listener);
}

/* Noise, and then nothing for longer than a unit takes: it may have been a question,
 * to any of the units, that is owed its answer. */
static void suspect_noise(struct listener *listener, int64_t now_us)
{
    const struct listen_question *question = &listener->question;
    bool silence = question->paused || now_us - question->noise_us >= HIDDEN_US;
    if (may_hide_another(question) && silence && !(question->open && was_hit(listener)))
        owe_unheard_of_all(listener);
}

static void leave_question(struct listener *listener, int64_t now_us)
{
    struct listen_question *question = &listener->question;
    if (!question->open)
        return;
    question->open = false;
    if (was_hit(listener) || question->doubted) {
        tell_question(listener, HEARD_GARBLED);
        if (question->doubted)
            owe(listener, question);
        return;
    }
    if (question->noise == 0 && now_us - question->at_us < OVERTAKEN_US)
        listener->counts.overtaken++;
    tell_question(listener, HEARD_UNANSWERED);
    owe(listener, question);
}

static void take_request(struct listener *listener, const struct frame_content *content,
                         bool doubted, int64_t now_us)
{
    release(listener, second_may_be_hidden(listener));
    listener->repeats = false;
    uint8_t unit = content->unit;
    bool in_peace =
        listener->unit[unit].was_answer && now_us - listener->unit[unit].at_us >= PEACE_US;
    if (in_peace)
        forget_owed(listener, unit, LISTEN_OWED_MAX);
    suspect_noise(listener, now_us);
    leave_question(listener, now_us);
    if (unit != 0)
        meet(listener, unit);
    listener->unit[unit].was_answer = false;
    listener->question = (struct listen_question){.open = unit != 0,
                                                  .unit = unit,
                                                  .length = (uint8_t)content->length,
                                                  .at_us = now_us,
                                                  .doubted = doubted};
    memcpy(listener->question.pdu, content->pdu, content->length);
    if (unit == 0)
        tell_question(listener, HEARD_BROADCAST);
}

/* ---- answers -------------------------------------------------------------------------------- */

static void take_stray(struct listener *listener, const struct frame_content *content,
                       int64_t now_us)
{
    bool another, met = listener->unit[content->unit].met;
    bool late = settle_owed(listener, content->unit, content->pdu, content->length, &another);
    if ((late || !met) && may_hide_another(&listener->question))
        owe_unheard_of_all(listener); /* it was not what answers the hidden one */
    /* Its time is not noted as that of noise: an answer without a question shows that one may
     * have been missed, so what comes next is doubted at once, as if after a silence. */
    listener->question.noise += content->length;
    tell(listener, &(struct heard){.kind = HEARD_STRAY,
                                   .unit = content->unit,
                                   .answer = content->pdu,
                                   .answer_length = content->length,
                                   .answered_us = now_us});
}

/* Nothing was asked since the answer that is held: one of the two belongs to another
 * question, or a question was lost in noise. */
static void take_second(struct listener *listener, const struct frame_content *content,
                        int64_t now_us)
{
    bool near = !may_hide_question(&listener->question);
    bool own = content->unit == listener->question.unit;
    if (own && near)
        listener->unit[content->unit].twice = true;
    release(listener, own && (near || second_may_be_hidden(listener)));
    take_stray(listener, content, now_us);
}

/* The same once more, and nothing was asked between: it settles nothing. */
static bool is_repetition(struct listener *listener, const struct frame_content *content)
{
    bool repetition = listener->repeats && listener->last_unit == content->unit &&
                      listener->last_length == content->length &&
                      memcmp(listener->last, content->pdu, content->length) == 0;
    listener->repeats = true;
    listener->last_unit = content->unit;
    listener->last_length = (uint8_t)content->length;
    memcpy(listener->last, content->pdu, content->length);
    return repetition;
}

static void take_expected(struct listener *listener, const struct frame_content *content,
                          int64_t now_us)
{
    struct listen_question *question = &listener->question;
    bool another;
    bool was_owed = settle_owed(listener, content->unit, content->pdu, content->length, &another);
    if (was_owed)
        owe(listener, question);
    question->open = false;
    if (may_hide_another(question) && (was_owed || now_us - question->at_us > HIDDEN_US))
        owe_unheard_of_all(listener);
    else if (may_hide_question(question) && was_owed)
        owe_unheard(listener, content->unit); /* what noise hid is not settled: this was asked */
    bool apart =
        may_hide_question(question) || question->doubted || now_us - question->at_us > TOO_LATE_US;
    question->noise = question->noise_booked = 0;
    question->paused = false;
    if (another || apart) {
        tell_answer(listener, HEARD_DOUBTFUL, content->pdu, content->length, now_us);
        return;
    }
    listener->held = true;
    listener->answer_length = (uint8_t)content->length;
    listener->answered_us = now_us;
    memcpy(listener->answer, content->pdu, content->length);
}

static void take_answer(struct listener *listener, const struct frame_content *content,
                        int64_t now_us)
{
    const struct listen_question *question = &listener->question;
    suspect_noise(listener, now_us);
    listener->unit[content->unit].seen = true;
    listener->unit[content->unit].was_answer = true;
    listener->unit[content->unit].at_us = now_us;
    if (is_repetition(listener, content)) {
        listener->unit[content->unit].twice = true;
        listener->counts.twice++;
    } else if (listener->held)
        take_second(listener, content, now_us);
    else if (question->open && question->unit == content->unit &&
             frame_answers(question->pdu, question->length, content->pdu, content->length))
        take_expected(listener, content, now_us);
    else
        take_stray(listener, content, now_us);
}

/* ---- bytes ------------------------------------------------------------------------------- */

static void take_noise(struct listener *listener, uint8_t byte)
{
    struct listen_question *question = &listener->question;
    listener->counts.noise_bytes++;
    question->paused |=
        may_hide_another(question) && listener->oldest_us - question->noise_us >= HIDDEN_US;
    if (question->noise == 0)
        question->noise_begun_us = listener->oldest_us;
    if (question->noise < sizeof question->header)
        question->header[question->noise] = byte;
    question->noise++;
    question->noise_us = listener->oldest_us;
}

static size_t take_one(struct listener *listener, size_t at, bool ended, int64_t now_us)
{
    const struct listen_question *question = &listener->question;
    const struct frame_awaited awaited = {.unit = question->unit,
                                          .pdu = question->open ? question->pdu : NULL,
                                          .length = question->length};
    struct frame_content content;
    size_t length;
    enum frame_found found =
        frame_find(listener->bytes + at, listener->used - at, ended, &awaited, &length);
    if (found == FOUND_MORE)
        return 0;
    if (found == FOUND_NOISE) {
        take_noise(listener, listener->bytes[at]);
        return 1;
    }
    listener->counts.frames++;
    frame_rtu_check(listener->bytes + at, length, &content);
    if (found == FOUND_ANSWER)
        take_answer(listener, &content, now_us);
    else
        take_request(listener, &content, found == FOUND_EITHER, now_us);
    return length;
}

static void take_all(struct listener *listener, bool ended, int64_t now_us)
{
    size_t at = 0, taken = 1;
    while (taken > 0 && at < listener->used) {
        taken = take_one(listener, at, ended, now_us);
        at += taken;
    }
    listener->used -= at;
    memmove(listener->bytes, listener->bytes + at, listener->used);
}

void listen_feed(struct listener *listener, const uint8_t bytes[], size_t count, int64_t now_us)
{
    listener->counts.bytes += count;
    listener->newest_us = now_us;
    while (count > 0) {
        size_t room = sizeof listener->bytes - listener->used; /* a frame always fits */
        size_t part = count < room ? count : room;
        if (listener->used == 0)
            listener->oldest_us = now_us;
        memcpy(listener->bytes + listener->used, bytes, part);
        listener->used += part;
        bytes += part;
        count -= part;
        take_all(listener, false, now_us);
        if (listener->used <= part)
            listener->oldest_us = now_us;
    }
}

void listen_quiet(struct listener *listener)
{
    take_all(listener, true, listener->newest_us);
    release(listener, second_may_be_hidden(listener));
}
