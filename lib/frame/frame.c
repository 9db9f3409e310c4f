/* frame.c - the two envelopes: a CRC behind the PDU, or a header before it. */
#include "frame/frame.h"

#include <string.h>

enum { CRC_BYTES = 2, RTU_LEAST = 1 + 1 + CRC_BYTES, LENGTH_AT = 4, UNIT_AT = 6 };

/* Four bits at a time: a listener looks at every byte of a busy line, most of them
 * more than once. */
uint16_t frame_crc(const uint8_t bytes[], size_t length)
{
    static const uint16_t of_nibble[16] = {0x0000, 0xcc01, 0xd801, 0x1400, 0xf001, 0x3c00,
                                           0x2800, 0xe401, 0xa001, 0x6c00, 0x7800, 0xb401,
                                           0x5000, 0x9c01, 0x8801, 0x4400};
    uint16_t crc = 0xffff;
    for (size_t i = 0; i < length; i++) {
        crc ^= bytes[i];
        crc = (uint16_t)(crc >> 4 ^ of_nibble[crc & 0xf]);
        crc = (uint16_t)(crc >> 4 ^ of_nibble[crc & 0xf]);
    }
    return crc;
}

static bool pdu_fits(size_t length)
{
    return length >= 1 && length <= FRAME_PDU_MAX;
}

size_t frame_rtu_build(uint8_t frame[static FRAME_RTU_MAX], uint8_t unit, const uint8_t pdu[],
                       size_t length)
{
    if (!pdu_fits(length))
        return 0;
    frame[0] = unit;
    memcpy(frame + 1, pdu, length);
    uint16_t crc = frame_crc(frame, 1 + length);
    frame[1 + length] = (uint8_t)crc;
    frame[2 + length] = (uint8_t)(crc >> 8);
    return 1 + length + CRC_BYTES;
}

bool frame_rtu_check(const uint8_t frame[], size_t length, struct frame_content *content)
{
    if (length < RTU_LEAST || length > FRAME_RTU_MAX)
        return false;
    uint16_t sent = (uint16_t)(frame[length - 2] | frame[length - 1] << 8);
    if (frame_crc(frame, length - CRC_BYTES) != sent)
        return false;
    *content = (struct frame_content){
        .unit = frame[0], .pdu = frame + 1, .length = length - 1 - CRC_BYTES};
    return true;
}

int64_t frame_gap_us(int32_t baud)
{
    return baud > 19200 ? 1750 : 38500000 / baud;
}

size_t frame_mbap_build(uint8_t frame[static FRAME_TCP_MAX], uint16_t transaction, uint8_t unit,
                        const uint8_t pdu[], size_t length)
{
    if (!pdu_fits(length))
        return 0;
    put_word(frame, transaction);
    put_word(frame + 2, 0); /* protocol: Modbus */
    put_word(frame + LENGTH_AT, (uint16_t)(1 + length));
    frame[UNIT_AT] = unit;
    memcpy(frame + FRAME_MBAP_BYTES, pdu, length);
    return FRAME_MBAP_BYTES + length;
}

int frame_mbap_check(const uint8_t stream[], size_t length, struct frame_content *content)
{
    if (length < UNIT_AT)
        return 0;
    size_t counted = word_at(stream + LENGTH_AT); /* the unit and the PDU */
    if (word_at(stream + 2) != 0 || counted < 2 || counted > 1 + FRAME_PDU_MAX)
        return -1;
    if (length < UNIT_AT + counted)
        return 0;
    *content = (struct frame_content){.transaction = word_at(stream),
                                      .unit = stream[UNIT_AT],
                                      .pdu = stream + FRAME_MBAP_BYTES,
                                      .length = counted - 1};
    return (int)(UNIT_AT + counted);
}
