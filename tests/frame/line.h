/* line.h - a line with a master and units on it, of the tests' own: what goes over it,
 * and whether what a listener tells of it is true.
 *
 * A register's value follows from its unit, table and address alone, each other than
 * all the rest, so that an answer put to a wrong question shows. */
#ifndef SLUICE_TESTS_FRAME_LINE_H
#define SLUICE_TESTS_FRAME_LINE_H

#include "frame/listen.h"

struct line_question {
    uint8_t unit, function;
    uint16_t address, quantity;
};

struct line_tally {
    uint64_t right, wrong;
    uint64_t kind[HEARD_BROADCAST + 1];
    struct line_question first_wrong;
};

static inline uint64_t line_random(uint64_t *state)
{
    uint64_t z = *state += UINT64_C(0x9e3779b97f4a7c15); /* splitmix64 */
    z = (z ^ z >> 30) * UINT64_C(0xbf58476d1ce4e5b9);
    z = (z ^ z >> 27) * UINT64_C(0x94d049bb133111eb);
    return z ^ z >> 31;
}

static inline uint16_t line_register(const struct line_question *question, uint16_t offset)
{
    uint64_t state = (uint64_t)question->unit << 24 | (uint64_t)question->function << 16 |
                     (uint16_t)(question->address + offset);
    return (uint16_t)line_random(&state);
}

/* The frames, ready for the wire; the length is returned. */
static inline size_t line_ask(const struct line_question *question,
                              uint8_t frame[static FRAME_RTU_MAX])
{
    const uint8_t pdu[] = {question->function, (uint8_t)(question->address >> 8),
                           (uint8_t)question->address, (uint8_t)(question->quantity >> 8),
                           (uint8_t)question->quantity};
    return frame_rtu_build(frame, question->unit, pdu, sizeof pdu);
}

static inline size_t line_answer_pdu(const struct line_question *question,
                                     uint8_t pdu[static FRAME_PDU_MAX])
{
    pdu[0] = question->function;
    pdu[1] = (uint8_t)(2 * question->quantity);
    for (uint16_t i = 0; i < question->quantity; i++) {
        uint16_t value = line_register(question, i);
        pdu[2 + 2 * i] = (uint8_t)(value >> 8);
        pdu[3 + 2 * i] = (uint8_t)value;
    }
    return 2 + 2u * question->quantity;
}

static inline size_t line_answer(const struct line_question *question,
                                 uint8_t frame[static FRAME_RTU_MAX])
{
    uint8_t pdu[FRAME_PDU_MAX];
    return frame_rtu_build(frame, question->unit, pdu, line_answer_pdu(question, pdu));
}

/* A listen_fn: compares each answer with what its question's registers hold. */
static inline void line_judge(void *context, const struct heard *heard)
{
    struct line_tally *tally = context;
    uint8_t pdu[FRAME_PDU_MAX];
    tally->kind[heard->kind]++;
    if (heard->kind != HEARD_ANSWERED || heard->request_length != 5)
        return;
    const uint8_t *request = heard->request;
    struct line_question question = {heard->unit, request[0],
                                     (uint16_t)(request[1] << 8 | request[2]),
                                     (uint16_t)(request[3] << 8 | request[4])};
    size_t length = line_answer_pdu(&question, pdu);
    bool right = length == heard->answer_length;
    for (size_t i = 0; right && i < length; i++)
        right = pdu[i] == heard->answer[i];
    if (!right && tally->wrong == 0)
        tally->first_wrong = question;
    tally->right += right;
    tally->wrong += !right;
}

#endif
