/* codes.h - the numbers of the Modbus Application Protocol V1.1b3, for all who write or
 * read a PDU. */
#ifndef SLUICE_FRAME_CODES_H
#define SLUICE_FRAME_CODES_H

#include <stdint.h>

/* Section 6. */
enum frame_function {
    READ_COILS = 0x01,
    READ_DISCRETE = 0x02,
    READ_HOLDING = 0x03,
    READ_INPUT = 0x04,
    WRITE_COIL = 0x05,
    WRITE_REGISTER = 0x06,
    DIAGNOSTICS = 0x08,
    WRITE_COILS = 0x0f,
    WRITE_REGISTERS = 0x10,
    MASK_REGISTER = 0x16,
    READ_WRITE = 0x17,
    IDENTIFICATION = 0x2b,
};

/* Section 7. In a refusal the function has this bit, and the code follows. */
enum { EXCEPTION_BIT = 0x80 };

enum frame_exception {
    ILLEGAL_FUNCTION = 0x01,
    ILLEGAL_ADDRESS = 0x02,
    ILLEGAL_VALUE = 0x03,
    SERVER_BUSY = 0x06,
    PATH_UNAVAILABLE = 0x0a,
    TARGET_SILENT = 0x0b, /* behind its gateway */
};

enum { COIL_ON = 0xff00, COIL_OFF = 0x0000 }; /* section 6.5 */

/* Words go high byte first (section 4.2). */
static inline uint16_t word_at(const uint8_t at[])
{
    return (uint16_t)(at[0] << 8 | at[1]);
}

static inline void put_word(uint8_t at[], uint16_t word)
{
    at[0] = (uint8_t)(word >> 8);
    at[1] = (uint8_t)word;
}

#endif
