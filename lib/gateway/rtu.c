/* rtu.c - requests found in what comes by a serial line.
 *
 * A request is what has the length that its function says and a checksum that fits.
 * While it may still become one, more is waited for; where none begins, the next byte is
 * tried, and what is before a request is left out. Once the line has been quiet for longer than any
 * frame is interrupted, what is there is all that there will be: a whole frame of ours with an
 * unknown function, or a wrong length, gets its exception; the rest was noise.
 *
 * The quiet is far more than the 3.5 characters of the standard: an adapter on USB hands
 * over what it has every 16 ms.
 *
 * Source: Modbus over Serial Line V1.02, section 2.5.1. */
#include "gateway/rtu.h"

#include <string.h>

enum { QUIET_US = 40000, ECHO_US = 50000, LEAST_FRAME = 4, CHECKSUM_BYTES = 2, BROADCAST = 0 };

/* ---- requests --------------------------------------------------------------------------- */

/* A character is 11 bits (2.5.1.1). */
void rtu_begin(struct rtu *rtu, const struct gateway_settings *settings)
{
    *rtu = (struct rtu){.byte_us = 11000000 / settings->baud};
    rtu->gap_us = frame_gap_us(settings->baud);
}

int64_t rtu_quiet_us(const struct rtu *rtu)
{
    int64_t wait = 4 * rtu->gap_us;
    return rtu->last_us + (wait > QUIET_US ? wait : QUIET_US);
}

static bool is_quiet(const struct rtu *rtu, int64_t now_us)
{
    return now_us >= rtu_quiet_us(rtu);
}

/* Our own answer, come back: it is, byte for byte, about when it went out. For the
 * answer to a write that matters: it is a request as well, and would be obeyed anew. */
static size_t echo_length(struct rtu *rtu, const uint8_t bytes[], size_t length, int64_t now_us,
                          bool *incomplete)
{
    size_t same = length < rtu->sent ? length : rtu->sent;
    if (rtu->sent == 0 || memcmp(bytes, rtu->answer, same) != 0)
        return 0;
    if (rtu->last_us > rtu->sent_us + ECHO_US) {
        rtu->sent = 0;
        return 0;
    }
    *incomplete = same < rtu->sent && !is_quiet(rtu, now_us);
    if (same < rtu->sent)
        return 0;
    rtu->sent = 0;
    return same;
}

enum find { FIND_NONE, FIND_MORE, FIND_WHOLE };

/* A frame at the beginning whose PDU has this length. */
static enum find frame_of(const uint8_t bytes[], size_t length, int pdu_length, size_t *whole,
                          struct frame_content *content)
{
    if (pdu_length < 0)
        return FIND_NONE;
    *whole = 1 + (size_t)pdu_length + CHECKSUM_BYTES;
    if (pdu_length == 0 || length < *whole)
        return FIND_MORE;
    return frame_rtu_check(bytes, *whole, content) ? FIND_WHOLE : FIND_NONE;
}

/* What stands at the beginning: a request, or another unit's answer. */
static enum find find_here(const struct rtu *rtu, const uint8_t bytes[], size_t length,
                           size_t *whole, struct frame_content *content, bool *is_request)
{
    size_t response = 0;
    struct frame_content ignored;
    *is_request = true;
    enum find request =
        frame_of(bytes, length, frame_request_length(bytes + 1, length - 1), whole, content);
    if (request == FIND_WHOLE || !rtu->others)
        return request;
    enum find answer =
        frame_of(bytes, length, frame_response_length(bytes + 1, length - 1), &response, &ignored);
    if (answer == FIND_WHOLE) {
        *whole = response;
        *is_request = false;
        return FIND_WHOLE;
    }
    return request == FIND_MORE || answer == FIND_MORE ? FIND_MORE : FIND_NONE;
}

/* All that came, as one frame to one of our units: its function or length is wrong, and
 * its checksum is right. */
static bool is_odd_request(const struct service *service, const uint8_t bytes[], size_t length,
                           struct frame_content *content)
{
    return length >= LEAST_FRAME && length <= FRAME_RTU_MAX && service_has(service, bytes[0]) &&
           !(bytes[1] & EXCEPTION_BIT) && frame_rtu_check(bytes, length, content);
}

/* Whether the request is for us; one for others is remembered: its answer may follow. */
static bool is_ours(struct rtu *rtu, const struct service *service,
                    const struct frame_content *content)
{
    bool ours = service_has(service, content->unit);
    rtu->others = !ours && content->unit != BROADCAST;
    return ours;
}

size_t rtu_find(struct rtu *rtu, const struct service *service, const uint8_t bytes[],
                size_t length, int64_t now_us, struct frame_content *content, bool *found)
{
    bool quiet = is_quiet(rtu, now_us), incomplete = false, is_request;
    size_t done = echo_length(rtu, bytes, length, now_us, &incomplete), whole;
    if (incomplete)
        return 0;
    if (quiet && is_odd_request(service, bytes + done, length - done, content)) {
        *found = is_ours(rtu, service, content);
        return length;
    }
    for (size_t at = done; length - at >= 2;) {
        enum find find = find_here(rtu, bytes + at, length - at, &whole, content, &is_request);
        if (find == FIND_MORE && !quiet)
            break;
        if (find != FIND_WHOLE) {
            at++;
            continue;
        }
        done = at += whole;
        if (!is_request) {
            rtu->others = false;
        } else if (is_ours(rtu, service, content)) {
            *found = true;
            return done;
        }
    }
    if (quiet)
        return length;
    return length - done > FRAME_RTU_MAX ? length - FRAME_RTU_MAX : done;
}
