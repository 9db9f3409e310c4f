/* request.c - questions to bytes, bytes to answers.
 *
 * The library's own functions hide what came: they do not compare the unit of a
 * TCP answer, and they cannot tell an echo from garbage. So only its line is
 * used, and the few functions that a controller needs are written here: each a
 * row that says how its question and its answer are built.
 *
 * Sources: Modbus Application Protocol V1.1b3, section 6 (functions) and 7
 * (exceptions). */
#include "bus/request.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "frame/frame.h"

enum shape { SHAPE_READ_BITS, SHAPE_READ_WORDS, SHAPE_WRITE_ONE, SHAPE_WRITE_MANY };

static enum shape shape_of(enum request_function function)
{
    static const enum shape shape[] = {
        [READ_COILS] = SHAPE_READ_BITS,     [READ_HOLDING] = SHAPE_READ_WORDS,
        [READ_INPUT] = SHAPE_READ_WORDS,    [WRITE_COIL] = SHAPE_WRITE_ONE,
        [WRITE_REGISTER] = SHAPE_WRITE_ONE, [WRITE_REGISTERS] = SHAPE_WRITE_MANY,
    };
    return shape[function];
}

void exchange_end(struct exchange *exchange, enum bus_outcome outcome, const char *format, ...)
{
    exchange->outcome = outcome;
    va_list values;
    va_start(values, format);
    vsnprintf(exchange->detail, sizeof exchange->detail, format, values);
    va_end(values);
}

static void put_word(uint8_t *at, uint16_t word)
{
    at[0] = (uint8_t)(word >> 8);
    at[1] = (uint8_t)word;
}

static uint16_t get_word(const uint8_t *at)
{
    return (uint16_t)(at[0] << 8 | at[1]);
}

/* Section 6.5: a coil is FF 00 for on and 00 00 for off, nothing else. */
static uint16_t single_value(const struct exchange *exchange)
{
    if (exchange->function == WRITE_COIL) {
        return exchange->value[0] ? 0xff00 : 0x0000;
    }
    return exchange->value[0];
}

/* -- questions passed on -------------------------------------------------- */

/* The answer's length without its unit, by section 6 of the standard; 0: it does not
 * follow from the question. */
static size_t passed_answer_length(const uint8_t pdu[])
{
    enum { READ_DISCRETE = 0x02, WRITE_COILS = 0x0f, MASK = 0x16, READ_WRITE = 0x17 };
    switch (pdu[0]) {
    case READ_COILS:
    case READ_DISCRETE:
        return 2 + (get_word(pdu + 3) + 7u) / 8;
    case READ_HOLDING:
    case READ_INPUT:
    case READ_WRITE:
        return 2 + 2u * get_word(pdu + 3);
    case WRITE_COIL:
    case WRITE_REGISTER:
    case WRITE_COILS:
    case WRITE_REGISTERS:
        return 5;
    case MASK:
        return 7;
    default:
        return 0;
    }
}

bool request_can_pass(const uint8_t pdu[], size_t length)
{
    return frame_request_fault(pdu, length) == 0 && passed_answer_length(pdu) > 0;
}

static void take_passed(struct exchange *exchange, const uint8_t bytes[], size_t length)
{
    const uint8_t *pdu = bytes + 1;
    if (!frame_answers(exchange->pdu, exchange->pdu_length, pdu, length - 1)) {
        exchange_end(exchange, BUS_CORRUPT, "unit %u: the answer does not fit the question",
                     exchange->unit);
        return;
    }
    exchange->answer_length = length - 1;
    memcpy(exchange->answer, pdu, length - 1);
    if (pdu[0] & 0x80) {
        exchange->exception = pdu[1];
        exchange_end(exchange, BUS_EXCEPTION, "unit %u says no (exception %u)", exchange->unit,
                     pdu[1]);
    } else {
        exchange_end(exchange, BUS_OK, "%s", "");
    }
}

/* -- questions of our own ------------------------------------------------- */

size_t request_encode(const struct exchange *exchange, uint8_t bytes[static REQUEST_BYTES_MAX])
{
    bytes[0] = exchange->unit;
    if (exchange->pdu) {
        memcpy(bytes + 1, exchange->pdu, exchange->pdu_length);
        return 1 + exchange->pdu_length;
    }
    bytes[1] = (uint8_t)exchange->function;
    put_word(bytes + 2, exchange->address);
    switch (shape_of(exchange->function)) {
    case SHAPE_WRITE_ONE:
        put_word(bytes + 4, single_value(exchange));
        return 6;
    case SHAPE_READ_BITS:
    case SHAPE_READ_WORDS:
        put_word(bytes + 4, exchange->count);
        return 6;
    case SHAPE_WRITE_MANY:
        break;
    }
    put_word(bytes + 4, exchange->count);
    bytes[6] = (uint8_t)(2 * exchange->count);
    for (size_t i = 0; i < exchange->count; i++) {
        put_word(bytes + 7 + 2 * i, exchange->value[i]);
    }
    return 7 + 2u * exchange->count;
}

size_t request_answer_length(const struct exchange *exchange)
{
    if (exchange->pdu) {
        return 1 + passed_answer_length(exchange->pdu);
    }
    switch (shape_of(exchange->function)) {
    case SHAPE_READ_BITS:
        return 3 + (exchange->count + 7u) / 8;
    case SHAPE_READ_WORDS:
        return 3 + 2u * exchange->count;
    case SHAPE_WRITE_ONE:
    case SHAPE_WRITE_MANY:
        break;
    }
    return 6;
}

static const char *exception_text(uint8_t code)
{
    static const char *const text[] = {
        [1] = "illegal function",           [2] = "illegal data address",
        [3] = "illegal data value",         [4] = "device failure",
        [5] = "accepted, not done",         [6] = "busy",
        [8] = "memory parity error",        [10] = "gateway path unavailable",
        [11] = "silent behind its gateway",
    };
    bool known = code < sizeof text / sizeof text[0] && text[code];
    return known ? text[code] : "unknown exception";
}

static uint16_t get_bit(const uint8_t *data, size_t index)
{
    return (uint16_t)(data[index / 8] >> (index % 8) & 1);
}

static void take_values(struct exchange *exchange, const uint8_t *data, enum shape shape)
{
    for (size_t i = 0; i < exchange->count; i++) {
        exchange->value[i] = shape == SHAPE_READ_BITS ? get_bit(data, i) : get_word(data + 2 * i);
    }
}

/* The answer to a write repeats where and what. */
static bool repeats_the_order(const struct exchange *exchange, const uint8_t bytes[])
{
    uint8_t asked[REQUEST_BYTES_MAX];
    request_encode(exchange, asked);
    return memcmp(bytes, asked, 6) == 0;
}

static void take_answer(struct exchange *exchange, const uint8_t bytes[], size_t length)
{
    enum shape shape = shape_of(exchange->function);
    bool read = shape == SHAPE_READ_BITS || shape == SHAPE_READ_WORDS;
    if (length != request_answer_length(exchange) || (read && bytes[2] != length - 3)) {
        exchange_end(exchange, BUS_CORRUPT, "unit %u answers %zu bytes where %zu belong",
                     exchange->unit, length, request_answer_length(exchange));
    } else if (!read && !repeats_the_order(exchange, bytes)) {
        exchange_end(exchange, BUS_CORRUPT, "unit %u confirms another order than was given",
                     exchange->unit);
    } else {
        exchange_end(exchange, BUS_OK, "%s", "");
        if (read) {
            take_values(exchange, bytes + 3, shape);
        }
    }
}

void request_decode(struct exchange *exchange, const uint8_t bytes[], size_t length)
{
    if (length < 3) {
        exchange_end(exchange, BUS_CORRUPT, "an answer of %zu bytes is none", length);
    } else if (bytes[0] != exchange->unit) {
        exchange_end(exchange, BUS_CORRUPT, "unit %u was asked, unit %u answered", exchange->unit,
                     bytes[0]);
    } else if (exchange->pdu) {
        take_passed(exchange, bytes, length);
    } else if (bytes[1] == (exchange->function | 0x80) && length == 3 && bytes[2] != 0) {
        exchange->exception = bytes[2];
        exchange_end(exchange, BUS_EXCEPTION, "unit %u says no: %s (exception %u)", exchange->unit,
                     exception_text(bytes[2]), bytes[2]);
    } else if (bytes[1] != exchange->function) {
        exchange_end(exchange, BUS_CORRUPT, "unit %u answers function %u to function %u",
                     exchange->unit, bytes[1], (unsigned)exchange->function);
    } else {
        take_answer(exchange, bytes, length);
    }
}
