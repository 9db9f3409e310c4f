/* others.c - counting the questions of another master.
 *
 * The listener tells of a question when it knows what became of it, at the latest when
 * the next one comes, so the last one of all is not counted: that one does not matter,
 * since where there is another master there will be more.
 *
 * The answer to a write of one coil or register repeats it byte for byte. A second copy of
 * it looks like a question, and by the time it is told of we may have asked for much else:
 * so our writes are remembered for longer than our last question. A second master that only
 * ever wrote what we write would not be seen; one that reads is. */
#include "bus/others.h"

#include <string.h>

enum { NO_ACCIDENT = 3 };

static bool is_single_write(const uint8_t pdu[], size_t length)
{
    return length == OTHERS_WRITE_BYTES && (pdu[0] == WRITE_COIL || pdu[0] == WRITE_REGISTER);
}

static bool is_own_write(const struct others *others, uint8_t unit, const uint8_t pdu[],
                         size_t length)
{
    if (!is_single_write(pdu, length))
        return false;
    for (size_t k = 0; k < OTHERS_WRITES_MAX; k++)
        if (others->write[k].unit == unit &&
            memcmp(others->write[k].pdu, pdu, OTHERS_WRITE_BYTES) == 0)
            return true;
    return false;
}

static bool is_own(const struct others *others, uint8_t unit, const uint8_t pdu[], size_t length)
{
    bool last = unit == others->own_unit && length == others->own_length &&
                memcmp(pdu, others->own, length) == 0;
    return last || is_own_write(others, unit, pdu, length);
}

static void count(void *context, const struct heard *heard)
{
    struct others *others = context;
    others->questions +=
        heard->request && !is_own(others, heard->unit, heard->request, heard->request_length);
}

void others_begin(struct others *others)
{
    *others = (struct others){.questions = 0};
    listen_begin(&others->listener, count, others);
}

static void remember_write(struct others *others)
{
    if (!is_single_write(others->own, others->own_length) ||
        is_own_write(others, others->own_unit, others->own, others->own_length))
        return;
    struct own_write *write = &others->write[others->next_write];
    others->next_write = (uint8_t)((others->next_write + 1) % OTHERS_WRITES_MAX);
    write->unit = others->own_unit;
    memcpy(write->pdu, others->own, OTHERS_WRITE_BYTES);
}

void others_own(struct others *others, const uint8_t question[], size_t length)
{
    others->own_unit = question[0];
    others->own_length = length - 1;
    memcpy(others->own, question + 1, length - 1);
    remember_write(others);
}

void others_hear(struct others *others, const uint8_t bytes[], size_t count, int64_t now_us)
{
    listen_feed(&others->listener, bytes, count, now_us);
}

void others_quiet(struct others *others)
{
    listen_quiet(&others->listener);
}

bool others_are_there(const struct others *others)
{
    return others->questions >= NO_ACCIDENT;
}
