/* frame.h - Modbus frames: bytes around a PDU, and how long a PDU must be.
 *
 * A PDU (function code and data) travels by serial line as unit, PDU, CRC, or by
 * TCP behind an MBAP header. Building never fails for a PDU of 1 to FRAME_PDU_MAX
 * bytes; what comes from outside is checked, and is a frame or noise. Pure: bytes
 * in, bytes out, the memory is the caller's.
 *
 * Sources: APP = Modbus Application Protocol V1.1b3, SER = Modbus over Serial
 * Line V1.02, TCP = Modbus Messaging on TCP/IP Implementation Guide V1.0b. */
#ifndef SLUICE_FRAME_FRAME_H
#define SLUICE_FRAME_FRAME_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "frame/codes.h"

enum {
    FRAME_PDU_MAX = 253, /* APP 4.1 */
    FRAME_RTU_MAX = 256, /* unit, PDU, CRC: SER 2.5.1 */
    FRAME_TCP_MAX = 260, /* MBAP, PDU */
    FRAME_MBAP_BYTES = 7,
};

/* What a frame carries. The PDU lies within the frame. */
struct frame_content {
    uint16_t transaction; /* TCP only */
    uint8_t unit;
    const uint8_t *pdu;
    size_t length;
};

/* The CRC of SER 6.2.2; on the wire its low byte goes first. */
uint16_t frame_crc(const uint8_t bytes[], size_t length);

/* The frame's length, or 0 for a PDU that is empty or too long. */
size_t frame_rtu_build(uint8_t frame[static FRAME_RTU_MAX], uint8_t unit, const uint8_t pdu[],
                       size_t length);
size_t frame_mbap_build(uint8_t frame[static FRAME_TCP_MAX], uint16_t transaction, uint8_t unit,
                        const uint8_t pdu[], size_t length);

/* SER 2.5.1.1: frames are at least 3.5 characters of 11 bits apart, above 19200 baud 1.750 ms. */
int64_t frame_gap_us(int32_t baud);

/* False: too short, too long, or the CRC is wrong. */
bool frame_rtu_check(const uint8_t frame[], size_t length, struct frame_content *content);

/* Looks at the beginning of a TCP stream. Returns the length of the first frame
 * and fills in `content`; 0: its end has not come yet; -1: no Modbus, and nothing
 * after it in the stream can be trusted either. */
int frame_mbap_check(const uint8_t stream[], size_t length, struct frame_content *content);

/* How many bytes the PDU that begins like this has, told by its function and, where
 * it has one, its byte count; 0: more of it is needed to tell; -1: a function that
 * is not known here, or a count that no PDU can hold. A response with the exception
 * bit set is 2 bytes. */
int frame_request_length(const uint8_t pdu[], size_t have);
int frame_response_length(const uint8_t pdu[], size_t have);

/* How many bytes the PDU of a good answer to this request has; 0: it does not follow from the
 * request (identification), or the request itself is at fault. */
size_t frame_answer_length(const uint8_t request[], size_t length);

/* The exception that a server owes for this request as it stands (1: function not
 * known here, 3: a quantity, value or length that the standard forbids); 0: none.
 * Whether the addresses exist is the server's to know. */
uint8_t frame_request_fault(const uint8_t pdu[], size_t length);

/* Whether the response can be the answer to the request: the same function, an
 * exception to it, or for reads the right byte count and for writes the right echo.
 * The answer to an earlier request of the same form can too: nothing in it tells. */
bool frame_answers(const uint8_t request[], size_t request_length, const uint8_t response[],
                   size_t response_length);

#endif
