/* pass.h - questions of others, passed on as they are, and what polling has read.
 *
 * A gateway gives the meter to others: it hands a bus one question at a time, a PDU
 * as its client wrote it, and hears the answer; it also hears each block of registers
 * that a poll has read. Both come to it as news in one mailbox, in the order in which
 * they happened on the wire.
 *
 * The functions that can be passed on are those whose answer's length follows from
 * the question: 01-06, 0F, 10, 16, 17. Whether a question ought to be asked is the
 * gateway's to know: here nothing is refused but what makes no sense. */
#ifndef SLUICE_BUS_PASS_H
#define SLUICE_BUS_PASS_H

#include "bus/bus.h"
#include "frame/frame.h"

struct pass_question {
    uint32_t id; /* the asker's; comes back with the answer */
    uint8_t unit;
    uint8_t length;
    uint8_t pdu[FRAME_PDU_MAX];
};

enum pass_kind { PASS_ANSWER, PASS_BLOCK };

struct pass_news {
    enum pass_kind kind;
    uint8_t bus; /* the number given to bus_pass_tell */
    uint8_t unit;
    int64_t at_us; /* CLOCK_MONOTONIC, when the answer was there */
    union {
        struct {
            uint32_t id;
            enum bus_outcome outcome;
            uint8_t length; /* of `pdu`, where the outcome is BUS_OK or BUS_EXCEPTION */
            uint8_t pdu[FRAME_PDU_MAX];
        } answer;
        struct {
            struct meter_block block;
            uint16_t value[METER_BLOCK_REGISTERS_MAX];
        } read;
    };
};

/* From now on news of this bus goes into `news` (of struct pass_news), marked with
 * `number`; NULL: to nobody, and when this returns nobody is using the old box. A
 * block that finds no room is lost; an answer waits for room. */
void bus_pass_tell(struct bus *bus, struct mailbox *news, uint8_t number);

/* False: the bus has too much to do already, has one passed question waiting, or this
 * one can't be passed on; nothing was queued. It takes its turn behind what is queued, so that
 * whoever waits for the answer before posting the next leaves polling its place.
 * A unit that is backing off is not asked; time for that is that of the bus's jobs. */
bool bus_pass_post(struct bus *bus, const struct pass_question *question);

#endif
