/* request.h - one question and its answer, as bytes. Pure.
 *
 * The bytes are those that RTU and TCP share: unit, function, data; the line
 * adds checksum or header. Whether bytes are the answer to this very question
 * is decided here, and an answer that is not never reaches a value. */
#ifndef SLUICE_BUS_REQUEST_H
#define SLUICE_BUS_REQUEST_H

#include "bus/bus.h"
#include "frame/frame.h"

enum { REQUEST_VALUES_MAX = 125, REQUEST_BYTES_MAX = 256 };

struct exchange {
    uint8_t unit;
    enum frame_function function;
    uint16_t address, count;
    uint16_t value[REQUEST_VALUES_MAX]; /* to write; or read, where the outcome is BUS_OK */
    enum bus_outcome outcome;
    uint8_t exception;
    int32_t took_us;
    char detail[BUS_DETAIL_MAX];
    /* A question passed on as somebody else wrote it; NULL: none. Then `function` is its
     * first byte, address, count and values are not looked at, and the answer goes to
     * `answer` (room for FRAME_PDU_MAX) as it came: also where it is an exception. */
    const uint8_t *pdu;
    size_t pdu_length;
    uint8_t *answer;
    size_t answer_length;
};

/* The question for a block of registers. */
struct exchange exchange_of_block(uint8_t unit, const struct meter_block *block);

/* Whether a PDU is one that can be passed on: right in itself, and of a function whose
 * answer's length follows from it. */
bool request_can_pass(const uint8_t pdu[], size_t length);

/* Writes the question; returns its length. count is 1 for the single writes. */
size_t request_encode(const struct exchange *exchange, uint8_t bytes[static REQUEST_BYTES_MAX]);

/* How many bytes the right answer has (an exception has 3). */
size_t request_answer_length(const struct exchange *exchange);

/* Judges `bytes` as the answer: sets outcome, values or exception, and detail. */
void request_decode(struct exchange *exchange, const uint8_t bytes[], size_t length);

/* Sets the outcome and its words. */
void exchange_end(struct exchange *exchange, enum bus_outcome outcome, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

#endif
