/* forbid.c - section 9: what keeps a load off, whatever speaks for it.
 *
 * Somebody's will first, then what may not be: each of these stops a run at once, also within
 * minimum on. */
#include "forbid.h"

#include "load.h"

static bool output_is_bad(const struct load_memory *memory)
{
    return memory->health == OUTPUT_FAILED || memory->health == OUTPUT_UNSAFE;
}

static int64_t hand_left_ms(const struct turn *turn, const struct load_memory *memory)
{
    return memory->hand_until.ms == MONO_NEVER.ms ? -1 : memory->hand_until.ms - turn->t;
}

/* What is sensed at the board goes before what the clock says. */
static enum load_held held_by(const struct turn *turn, uint16_t index)
{
    const struct load_reading *sensed = load_sensed(turn, index);
    if (sensed && sensed->held != HELD_NOT)
        return sensed->held;
    bool off = turn->memory->loads[index].unsupplied && !(sensed && sensed->supplied);
    return off ? HELD_NO_SUPPLY : HELD_NOT;
}

struct reason forbidden(const struct turn *turn, uint16_t index)
{
    static const enum reason_code held[] = {[HELD_NOT] = REASON_NONE,
                                            [HELD_INHIBITED] = REASON_OFF_INHIBIT,
                                            [HELD_IN_HAND] = REASON_OFF_IN_HAND,
                                            [HELD_OFF_AT_BOARD] = REASON_OFF_AT_BOARD,
                                            [HELD_NOT_IN_AUTO] = REASON_OFF_NOT_IN_AUTO,
                                            [HELD_NO_SUPPLY] = REASON_OFF_NO_SUPPLY};
    const struct load_memory *memory = &turn->memory->loads[index];
    enum load_held by = held_by(turn, index);
    if (by == HELD_IN_HAND || by == HELD_NOT_IN_AUTO) /* no other says that it may be on */
        return reason_of(held[by], 0, 0, 0);
    if (memory->inhibited || turn->memory->all_inhibited)
        return reason_of(REASON_OFF_INHIBIT, 0, 0, 0);
    if (turn->input->reading->islanded)
        return reason_of(REASON_OFF_ISLANDED, 0, 0, 0);
    if (by != HELD_NOT)
        return reason_of(held[by], 0, 0, 0);
    if (output_is_bad(memory))
        return reason_of(REASON_OFF_OUTPUT, memory->health, 0, 0);
    if (memory->test == HAND_OFF)
        return reason_of(REASON_OFF_TEST, memory->test_until.ms - turn->t, 0, 0);
    if (load_ordered(memory) == HAND_OFF)
        return reason_of(REASON_OFF_MANUAL, hand_left_ms(turn, memory), 0, 0);
    if (memory->notes.shed)
        return reason_of(REASON_OFF_SUPPLY, 0, 0, turn->settings->supply_limit_ma);
    return reason_of(REASON_NONE, 0, 0, 0);
}
