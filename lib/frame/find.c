/* find.c - both readings of the same bytes, and which of them holds.
 *
 * Requests and answers look alike: "01 03 04 00 00 02" begins a request for two
 * registers at 0x0400, or an answer of four bytes. So each beginning is read both
 * ways, and a way counts only when the CRC at its own end agrees. Where both do
 * (the first eight bytes of one answer in 65,536 are a whole frame by chance), what
 * was asked before decides; where even that leaves both, it is said so, and nobody
 * takes a value from it. */
#include "frame/find.h"

#include <string.h>

enum {
    OUTER_BYTES = 3, /* unit and CRC */
    UNIT_MAX = 247,  /* SER 2.2 */
    BROADCAST = 0,
    EXCEPTION_MAX = TARGET_SILENT,
    EXCEPTION_BYTES = 5,
};

enum wholeness { IS_NONE, IS_PART, IS_WHOLE };

struct reading_of {
    enum wholeness wholeness;
    size_t length; /* of the frame, where it is whole */
};

static struct reading_of judge(const uint8_t bytes[], size_t have, int pdu_length)
{
    struct frame_content content;
    if (pdu_length < 0)
        return (struct reading_of){IS_NONE, 0};
    size_t length = (size_t)pdu_length + OUTER_BYTES;
    if (pdu_length == 0 || have < length)
        return (struct reading_of){IS_PART, 0};
    return (struct reading_of){frame_rtu_check(bytes, length, &content) ? IS_WHOLE : IS_NONE,
                               length};
}

static struct reading_of as_request(const uint8_t bytes[], size_t have)
{
    if (bytes[0] > UNIT_MAX)
        return (struct reading_of){IS_NONE, 0};
    return judge(bytes, have, frame_request_length(bytes + 1, have - 1));
}

/* No device answers with no register, or with half of one. */
static bool count_is_odd(const uint8_t pdu[], size_t have)
{
    bool registers = pdu[0] == READ_HOLDING || pdu[0] == READ_INPUT || pdu[0] == READ_WRITE;
    return registers && have > 1 && (pdu[1] == 0 || pdu[1] % 2 != 0);
}

static bool exception_is_odd(const uint8_t pdu[], size_t have)
{
    return have > 1 && (pdu[0] & EXCEPTION_BIT) && (pdu[1] == 0 || pdu[1] > EXCEPTION_MAX);
}

static struct reading_of as_answer(const uint8_t bytes[], size_t have)
{
    const uint8_t *pdu = bytes + 1;
    if (bytes[0] == BROADCAST || bytes[0] > UNIT_MAX)
        return (struct reading_of){IS_NONE, 0};
    if (have > 1 && (count_is_odd(pdu, have - 1) || exception_is_odd(pdu, have - 1)))
        return (struct reading_of){IS_NONE, 0};
    return judge(bytes, have, frame_response_length(pdu, have - 1));
}

static bool is_awaited(const struct frame_awaited *awaited, const uint8_t bytes[], size_t length)
{
    return awaited->pdu && awaited->unit == bytes[0] &&
           frame_answers(awaited->pdu, awaited->length, bytes + 1, length - OUTER_BYTES);
}

size_t frame_answer_bytes(const uint8_t request[], size_t length)
{
    size_t pdu = frame_answer_length(request, length);
    return pdu > 0 ? pdu + OUTER_BYTES : EXCEPTION_BYTES;
}

/* May these bytes still become the answer that is awaited? */
static bool may_become_awaited(const struct frame_awaited *awaited, const uint8_t bytes[],
                               size_t have)
{
    if (!awaited->pdu || awaited->unit != bytes[0] || bytes[1] != awaited->pdu[0])
        return false;
    int length = frame_response_length(bytes + 1, have - 1);
    return length <= 0 ||
           (size_t)length + OUTER_BYTES == frame_answer_bytes(awaited->pdu, awaited->length);
}

/* Both are whole. A write's answer repeats its request, so there the order of things
 * decides alone, and no value hangs on it. */
static enum frame_found choose(const uint8_t bytes[], struct reading_of request,
                               struct reading_of answer, const struct frame_awaited *awaited,
                               size_t *length)
{
    bool expected = is_awaited(awaited, bytes, answer.length);
    bool faulty = frame_request_fault(bytes + 1, request.length - OUTER_BYTES) != 0;
    bool write = bytes[1] > READ_INPUT;
    if (expected && !faulty && !write) {
        *length = request.length;
        return FOUND_EITHER;
    }
    *length = expected || faulty ? answer.length : request.length;
    return expected || faulty ? FOUND_ANSWER : FOUND_REQUEST;
}

enum frame_found frame_find(const uint8_t bytes[], size_t have, bool ended,
                            const struct frame_awaited *awaited, size_t *length)
{
    *length = 0;
    if (have == 0)
        return FOUND_MORE;
    struct reading_of request = as_request(bytes, have), answer = as_answer(bytes, have);
    if (request.wholeness == IS_WHOLE && answer.wholeness == IS_WHOLE)
        return choose(bytes, request, answer, awaited, length);
    if (request.wholeness == IS_WHOLE) {
        if (answer.wholeness == IS_PART && !ended && may_become_awaited(awaited, bytes, have))
            return FOUND_MORE;
        *length = request.length;
        return FOUND_REQUEST;
    }
    if (answer.wholeness == IS_WHOLE) {
        *length = answer.length;
        return FOUND_ANSWER;
    }
    bool part = request.wholeness == IS_PART || answer.wholeness == IS_PART;
    return part && !ended ? FOUND_MORE : FOUND_NOISE;
}
