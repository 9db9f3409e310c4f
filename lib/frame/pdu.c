/* pdu.c - how long each function's PDU is, and what may stand in it.
 *
 * On a serial line nothing but the function code, and for some a byte count
 * behind it, tells where a frame ends. One row a function says so for both
 * directions, and what quantities it allows. A list of device identification
 * (2B 0E) counts objects of any length instead and is walked.
 *
 * Sections are those of APP, Modbus Application Protocol V1.1b3, section 6. */
#include <string.h>

#include "frame/frame.h"

enum {
    IDENTIFICATION_MEI = 0x0e,
    IDENTIFICATION_HEADER = 7, /* 2B 0E code conformity more next count */
};

/* How the bytes of data follow from the quantity. */
enum unit_of_count { NO_DATA, BITS, REGISTERS };

struct length {
    uint8_t fixed;    /* without the counted bytes */
    uint8_t count_at; /* where the byte count stands; 0: there is none */
};

struct function {
    uint8_t code;
    struct length request, response;
    enum unit_of_count reads, writes;
    uint16_t read_most, write_most; /* quantities; 0: none is told */
    uint8_t echo;                   /* bytes that a write's response repeats */
};

/* clang-format off */
static const struct function functions[] = {
    {READ_COILS,     {5, 0},  {2, 1}, BITS,      NO_DATA,   2000, 0,    0}, /* 6.1 read coils */
    {READ_DISCRETE,  {5, 0},  {2, 1}, BITS,      NO_DATA,   2000, 0,    0}, /* 6.2 read discrete inputs */
    {READ_HOLDING,   {5, 0},  {2, 1}, REGISTERS, NO_DATA,   125,  0,    0}, /* 6.3 read holding registers */
    {READ_INPUT,     {5, 0},  {2, 1}, REGISTERS, NO_DATA,   125,  0,    0}, /* 6.4 read input registers */
    {WRITE_COIL,     {5, 0},  {5, 0}, NO_DATA,   NO_DATA,   0,    0,    5}, /* 6.5 write a coil */
    {WRITE_REGISTER, {5, 0},  {5, 0}, NO_DATA,   NO_DATA,   0,    0,    5}, /* 6.6 write a register */
    {DIAGNOSTICS,    {5, 0},  {5, 0}, NO_DATA,   NO_DATA,   0,    0,    3}, /* 6.8 diagnostics, one word */
    {WRITE_COILS,    {6, 5},  {5, 0}, NO_DATA,   BITS,      0,    1968, 5}, /* 6.11 write coils */
    {WRITE_REGISTERS,{6, 5},  {5, 0}, NO_DATA,   REGISTERS, 0,    123,  5}, /* 6.12 write registers */
    {MASK_REGISTER,  {7, 0},  {7, 0}, NO_DATA,   NO_DATA,   0,    0,    7}, /* 6.16 mask a register */
    {READ_WRITE,     {10, 9}, {2, 1}, REGISTERS, REGISTERS, 125,  121,  0}, /* 6.17 read and write */
    {IDENTIFICATION, {4, 0},  {0, 0}, NO_DATA,   NO_DATA,   0,    0,    0}, /* 6.21 identification */
};
/* clang-format on */

static const struct function *function_of(uint8_t code)
{
    for (size_t i = 0; i < sizeof(functions) / sizeof(functions[0]); i++)
        if (functions[i].code == code)
            return &functions[i];
    return NULL;
}

static int length_if_fits(size_t length)
{
    return length <= FRAME_PDU_MAX ? (int)length : -1;
}

static int length_by(struct length length, const uint8_t pdu[], size_t have)
{
    if (length.count_at == 0)
        return length.fixed;
    if (have <= length.count_at)
        return 0;
    return length_if_fits((size_t)length.fixed + pdu[length.count_at]);
}

int frame_request_length(const uint8_t pdu[], size_t have)
{
    if (have == 0)
        return 0;
    const struct function *function = function_of(pdu[0]);
    if (!function)
        return -1;
    if (function->code == IDENTIFICATION && have > 1 && pdu[1] != IDENTIFICATION_MEI)
        return -1; /* other encapsulated interfaces have forms of their own */
    return length_by(function->request, pdu, have);
}

/* Objects are id, length, bytes. */
static int identification_length(const uint8_t pdu[], size_t have)
{
    size_t length = IDENTIFICATION_HEADER;
    if (have > 1 && pdu[1] != IDENTIFICATION_MEI)
        return -1;
    if (have < length)
        return 0;
    for (unsigned objects = pdu[length - 1]; objects > 0; objects--) {
        if (length + 2 > FRAME_PDU_MAX)
            return -1;
        if (have < length + 2)
            return 0;
        length += 2U + pdu[length + 1];
    }
    return length_if_fits(length);
}

int frame_response_length(const uint8_t pdu[], size_t have)
{
    if (have == 0)
        return 0;
    if (pdu[0] & EXCEPTION_BIT)
        return function_of(pdu[0] & (EXCEPTION_BIT - 1)) ? 2 : -1;
    if (pdu[0] == IDENTIFICATION)
        return identification_length(pdu, have);
    const struct function *function = function_of(pdu[0]);
    return function ? length_by(function->response, pdu, have) : -1;
}

/* ---- what may stand in it ---------------------------------------------------------- */

static unsigned data_bytes(enum unit_of_count unit, unsigned quantity)
{
    return unit == BITS ? (quantity + 7) / 8 : unit == REGISTERS ? 2 * quantity : 0;
}

static bool quantity_allowed(unsigned quantity, unsigned most)
{
    return quantity >= 1 && quantity <= most;
}

/* A read's quantity stands behind the address; so does a write's, unless the
 * same request reads. */
static bool quantities_allowed(const struct function *function, const uint8_t pdu[])
{
    if (function->read_most && !quantity_allowed(word_at(pdu + 3), function->read_most))
        return false;
    if (!function->write_most)
        return true;
    unsigned quantity = word_at(pdu + (function->read_most ? 7 : 3));
    return quantity_allowed(quantity, function->write_most) &&
           pdu[function->request.count_at] == data_bytes(function->writes, quantity);
}

uint8_t frame_request_fault(const uint8_t pdu[], size_t length)
{
    int expected = frame_request_length(pdu, length);
    if (length == 0 || !function_of(pdu[0]))
        return ILLEGAL_FUNCTION;
    const struct function *function = function_of(pdu[0]);
    if (expected < 0 && function->code == IDENTIFICATION)
        return ILLEGAL_FUNCTION; /* an interface that is not known */
    if (expected != (int)length || !quantities_allowed(function, pdu))
        return ILLEGAL_VALUE;
    if (function->code == WRITE_COIL && word_at(pdu + 3) != COIL_ON && word_at(pdu + 3) != COIL_OFF)
        return ILLEGAL_VALUE;
    return 0;
}

size_t frame_answer_length(const uint8_t request[], size_t length)
{
    if (frame_request_fault(request, length) != 0 || request[0] == IDENTIFICATION)
        return 0;
    const struct function *function = function_of(request[0]);
    return function->response.fixed +
           (function->reads == NO_DATA ? 0 : data_bytes(function->reads, word_at(request + 3)));
}

bool frame_answers(const uint8_t request[], size_t request_length, const uint8_t response[],
                   size_t response_length)
{
    if (response_length == 0 || frame_request_fault(request, request_length) != 0 ||
        frame_response_length(response, response_length) != (int)response_length)
        return false;
    if (response[0] == (request[0] | EXCEPTION_BIT))
        return true;
    if (response[0] != request[0])
        return false;
    const struct function *function = function_of(request[0]);
    if (function->reads != NO_DATA)
        return response[1] == data_bytes(function->reads, word_at(request + 3));
    return memcmp(request, response, function->echo) == 0;
}
