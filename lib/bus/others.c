/* others.c - counting the questions of another master.
 *
 * The listener tells of a question when it knows what became of it, at the latest when
 * the next one comes, so the last one of all is not counted: that one does not matter,
 * since where there is another master there will be more. */
#include "bus/others.h"

#include <string.h>

enum { NO_ACCIDENT = 3 };

static void count(void *context, const struct heard *heard)
{
    struct others *others = context;
    bool own = heard->request && heard->unit == others->own_unit &&
               heard->request_length == others->own_length &&
               memcmp(heard->request, others->own, others->own_length) == 0;
    others->questions += heard->request && !own;
}

void others_begin(struct others *others)
{
    *others = (struct others){.questions = 0};
    listen_begin(&others->listener, count, others);
}

void others_own(struct others *others, const uint8_t question[], size_t length)
{
    others->own_unit = question[0];
    others->own_length = length - 1;
    memcpy(others->own, question + 1, length - 1);
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
