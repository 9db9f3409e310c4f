/* Faults are put on from outside in: some decide before the unit is asked
 * (silence, refusal), some undo what it did (a board that says yes and doesn't),
 * the rest change the bytes of a good answer. */
#include "wirefault.h"

#include <string.h>

static bool is_write(uint8_t function)
{
    return function == MODBUS_FC_WRITE_SINGLE_COIL || function == MODBUS_FC_WRITE_SINGLE_REGISTER ||
           function == MODBUS_FC_WRITE_MULTIPLE_COILS ||
           function == MODBUS_FC_WRITE_MULTIPLE_REGISTERS ||
           function == MODBUS_FC_MASK_WRITE_REGISTER ||
           function == MODBUS_FC_WRITE_AND_READ_REGISTERS;
}

static unsigned exception_for(const struct unit *unit, uint8_t function)
{
    bool write = is_write(function);
    if (unit->fault == WIRE_EXCEPTION)
        return (unsigned)unit->fault_amount;
    if (write && unit->fault == WIRE_REFUSE)
        return MODBUS_EXCEPTION_SLAVE_OR_SERVER_FAILURE;
    if (write && !unit_takes_writes(unit))
        return MODBUS_EXCEPTION_ILLEGAL_FUNCTION;
    return 0;
}

/* Asks libmodbus; with WIRE_IGNORE the unit forgets what was written. */
static int ask(struct wire *wire, enum wire_kind kind, struct unit *unit, const uint8_t *request,
               int length, uint8_t *bytes)
{
    uint8_t function = request[wire_unit_at(kind) + 1];
    unsigned exception = exception_for(unit, function);
    modbus_mapping_t *map = unit->fault == WIRE_OTHER_UNIT ? unit->other->map : unit->map;
    uint8_t bits[16];
    uint16_t registers[128];
    bool forgets = unit->fault == WIRE_IGNORE && is_write(function) && unit_takes_writes(unit);
    if (forgets) {
        memcpy(bits, map->tab_bits, (size_t)map->nb_bits);
        memcpy(registers, map->tab_registers, (size_t)map->nb_registers * sizeof(*registers));
    }
    int got = wire_answer(wire, kind, request, length, map, exception, bytes);
    if (forgets) {
        memcpy(map->tab_bits, bits, (size_t)map->nb_bits);
        memcpy(map->tab_registers, registers, (size_t)map->nb_registers * sizeof(*registers));
    } else if (is_write(function) && unit_takes_writes(unit)) {
        unit_written(unit->fault == WIRE_OTHER_UNIT ? unit->other : unit, function);
    }
    return got;
}

static void garble(struct answer *answer, struct prng *prng)
{
    for (int i = 0; i < answer->length; i++)
        answer->bytes[i] = (uint8_t)prng_next(prng);
}

/* One bit on the line: RTU's CRC tells; over TCP it hits the protocol id, since
 * in the payload nothing could ever tell. */
static void corrupt(struct answer *answer, enum wire_kind kind)
{
    answer->bytes[kind == WIRE_TCP ? 3 : 3 % answer->length] ^= 1;
}

static void renumber(struct answer *answer, enum wire_kind kind)
{
    answer->bytes[wire_unit_at(kind)]++;
    if (kind == WIRE_RTU)
        wire_seal(answer->bytes, answer->length);
}

/* The answer to the question before, under the present transaction id, as a
 * gateway behind a serial line would send it. */
static void repeat(struct answer *answer, enum wire_kind kind, const struct unit *unit)
{
    uint8_t transaction[2] = {answer->bytes[0], answer->bytes[1]};
    if (unit->last_length[kind] == 0)
        return;
    answer->length = unit->last_length[kind];
    memcpy(answer->bytes, unit->last[kind], (size_t)answer->length);
    if (kind == WIRE_TCP)
        memcpy(answer->bytes, transaction, sizeof(transaction));
}

/* Modbus Application Protocol V1.1b3, section 6.1: unit, function, a count of bytes, the
 * coils. */
static void read_off(struct answer *answer, enum wire_kind kind)
{
    uint8_t *unit = answer->bytes + wire_unit_at(kind);
    if (unit[1] != MODBUS_FC_READ_COILS)
        return;
    memset(unit + 3, 0, unit[2]);
    if (kind == WIRE_RTU)
        wire_seal(answer->bytes, answer->length);
}

static void spoil(struct answer *answer, enum wire_kind kind, const struct unit *unit,
                  struct prng *prng)
{
    switch (unit->fault) {
    case WIRE_GARBAGE:
        garble(answer, prng);
        break;
    case WIRE_CORRUPT:
        corrupt(answer, kind);
        break;
    case WIRE_WRONG_UNIT:
        renumber(answer, kind);
        break;
    case WIRE_TRUNCATED:
        answer->length /= 2;
        break;
    case WIRE_LATE:
        answer->delay_ms = (int)unit->fault_amount;
        break;
    case WIRE_PREVIOUS_ANSWER:
        repeat(answer, kind, unit);
        break;
    case WIRE_SOUND:
    case WIRE_SILENT:
    case WIRE_EXCEPTION:
    case WIRE_NAN:
    case WIRE_STUCK:
    case WIRE_JUMP:
    case WIRE_OTHER_UNIT:
    case WIRE_LEAP:
    case WIRE_REFUSE:
    case WIRE_IGNORE:
        break;
    case WIRE_READS_OFF:
        read_off(answer, kind);
        break;
    }
}

struct answer unit_answer(struct wire *wire, enum wire_kind kind, struct unit *unit,
                          struct prng *prng, const uint8_t *request, int length)
{
    struct answer answer = {.length = 0};
    if (unit->fault == WIRE_SILENT)
        return answer;
    answer.length = ask(wire, kind, unit, request, length, answer.bytes);
    if (answer.length == 0)
        return answer;
    uint8_t good[WIRE_FRAME_MAX];
    int good_length = answer.length;
    if (unit->fault == WIRE_PREVIOUS_ANSWER)
        memcpy(good, answer.bytes, (size_t)good_length);
    spoil(&answer, kind, unit, prng);
    if (unit->fault == WIRE_PREVIOUS_ANSWER || unit->fault == WIRE_SOUND) {
        const uint8_t *newest = unit->fault == WIRE_SOUND ? answer.bytes : good;
        memcpy(unit->last[kind], newest, (size_t)good_length);
        unit->last_length[kind] = good_length;
    }
    return answer;
}
