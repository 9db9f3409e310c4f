/* request.c - questions to bytes, bytes to answers.
 *
 * The library's own functions hide what came: they do not compare the unit of a
 * TCP answer, and they cannot tell an echo from garbage. So only its line is
 * used; the few questions that a controller asks are written here, and what fits as
 * an answer is told by lib/frame.
 *
 * Sources: Modbus Application Protocol V1.1b3, section 6 (functions) and 7
 * (exceptions). */
#include "bus/request.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

static bool is_read(enum frame_function function)
{
    return function <= READ_INPUT;
}

void exchange_end(struct exchange *exchange, enum bus_outcome outcome, const char *format, ...)
{
    exchange->outcome = outcome;
    va_list values;
    va_start(values, format);
    vsnprintf(exchange->detail, sizeof exchange->detail, format, values);
    va_end(values);
}

static uint16_t single_value(const struct exchange *exchange)
{
    if (exchange->function == WRITE_COIL) {
        return exchange->value[0] ? COIL_ON : COIL_OFF;
    }
    return exchange->value[0];
}

/* -- questions passed on -------------------------------------------------- */

/* Diagnostics is the line's own affair, and no answer to it is worth a place in a queue. */
bool request_can_pass(const uint8_t pdu[], size_t length)
{
    return frame_answer_length(pdu, length) > 0 && pdu[0] != DIAGNOSTICS;
}

static void take_passed(struct exchange *exchange, const uint8_t bytes[], size_t length)
{
    const uint8_t *pdu = bytes + 1;
    if (!frame_answers(exchange->pdu, exchange->pdu_length, pdu, length - 1)) {
        exchange_end(exchange, BUS_CORRUPT, "unit %u: the reply does not match the request",
                     exchange->unit);
        return;
    }
    exchange->answer_length = length - 1;
    memcpy(exchange->answer, pdu, length - 1);
    if (pdu[0] & EXCEPTION_BIT) {
        exchange->exception = pdu[1];
        exchange_end(exchange, BUS_EXCEPTION, "unit %u refuses (exception %u)", exchange->unit,
                     pdu[1]);
    } else {
        exchange_end(exchange, BUS_OK, "%s", "");
    }
}

/* -- questions of our own ------------------------------------------------- */

struct exchange exchange_of_block(uint8_t unit, const struct meter_block *block)
{
    return (struct exchange){.unit = unit,
                             .function = block->table == METER_INPUT ? READ_INPUT : READ_HOLDING,
                             .address = block->address,
                             .count = block->count};
}

size_t request_encode(const struct exchange *exchange, uint8_t bytes[static REQUEST_BYTES_MAX])
{
    bytes[0] = exchange->unit;
    if (exchange->pdu) {
        memcpy(bytes + 1, exchange->pdu, exchange->pdu_length);
        return 1 + exchange->pdu_length;
    }
    bytes[1] = (uint8_t)exchange->function;
    put_word(bytes + 2, exchange->address);
    bool single = exchange->function == WRITE_COIL || exchange->function == WRITE_REGISTER;
    put_word(bytes + 4, single ? single_value(exchange) : exchange->count);
    if (exchange->function != WRITE_REGISTERS) {
        return 6;
    }
    bytes[6] = (uint8_t)(2 * exchange->count);
    for (size_t i = 0; i < exchange->count; i++) {
        put_word(bytes + 7 + 2 * i, exchange->value[i]);
    }
    return 7 + 2u * exchange->count;
}

size_t request_answer_length(const struct exchange *exchange)
{
    uint8_t asked[REQUEST_BYTES_MAX];
    size_t length = request_encode(exchange, asked);
    return 1 + frame_answer_length(asked + 1, length - 1);
}

static const char *exception_text(uint8_t code)
{
    static const char *const text[] = {
        [ILLEGAL_FUNCTION] = "illegal function",
        [ILLEGAL_ADDRESS] = "illegal data address",
        [ILLEGAL_VALUE] = "illegal data value",
        [0x04] = "device failure",
        [0x05] = "accepted, not done",
        [SERVER_BUSY] = "busy",
        [0x08] = "memory parity error",
        [PATH_UNAVAILABLE] = "gateway path unavailable",
        [TARGET_SILENT] = "silent behind its gateway",
    };
    bool known = code < sizeof text / sizeof text[0] && text[code];
    return known ? text[code] : "unknown exception";
}

static uint16_t get_bit(const uint8_t *data, size_t index)
{
    return (uint16_t)(data[index / 8] >> (index % 8) & 1);
}

static void take_values(struct exchange *exchange, const uint8_t *data)
{
    bool bits = exchange->function <= READ_DISCRETE;
    for (size_t i = 0; i < exchange->count; i++) {
        exchange->value[i] = bits ? get_bit(data, i) : word_at(data + 2 * i);
    }
}

static void take_answer(struct exchange *exchange, const uint8_t bytes[], size_t length)
{
    uint8_t asked[REQUEST_BYTES_MAX];
    size_t asked_length = request_encode(exchange, asked);
    bool fits = frame_answers(asked + 1, asked_length - 1, bytes + 1, length - 1);
    if (!fits && (is_read(exchange->function) || length != request_answer_length(exchange))) {
        exchange_end(exchange, BUS_CORRUPT, "unit %u replied with %zu bytes instead of %zu",
                     exchange->unit, length, request_answer_length(exchange));
    } else if (!fits) {
        exchange_end(exchange, BUS_CORRUPT, "unit %u confirmed a different write", exchange->unit);
    } else {
        exchange_end(exchange, BUS_OK, "%s", "");
        if (is_read(exchange->function)) {
            take_values(exchange, bytes + 3);
        }
    }
}

void request_decode(struct exchange *exchange, const uint8_t bytes[], size_t length)
{
    if (length < 3) {
        exchange_end(exchange, BUS_CORRUPT, "reply too short (%zu bytes)", length);
    } else if (bytes[0] != exchange->unit) {
        exchange_end(exchange, BUS_CORRUPT, "unit %u was polled, unit %u replied", exchange->unit,
                     bytes[0]);
    } else if (exchange->pdu) {
        take_passed(exchange, bytes, length);
    } else if (bytes[1] == (exchange->function | EXCEPTION_BIT) && length == 3 && bytes[2] != 0) {
        exchange->exception = bytes[2];
        exchange_end(exchange, BUS_EXCEPTION, "unit %u refuses: %s (exception %u)", exchange->unit,
                     exception_text(bytes[2]), bytes[2]);
    } else if (bytes[1] != exchange->function) {
        exchange_end(exchange, BUS_CORRUPT, "unit %u replied with function %u to function %u",
                     exchange->unit, bytes[1], (unsigned)exchange->function);
    } else {
        take_answer(exchange, bytes, length);
    }
}
