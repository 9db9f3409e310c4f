/* foresee.c - what an order will come to, asked before it is obeyed.
 *
 * The engine itself is asked: turns are taken on a copy of its memory, with the reading
 * as it is, and nothing of the copy is kept. What makes a manual run wait for a known
 * time (a rest, strict hours) is waited for in the copy, so that the answer tells the
 * moment of the start or what else stands against it by then. Outputs that are under way
 * are taken to confirm. */
#include "load.h"
#include "turn.h"

#include <string.h>

enum { WAITS_MAX = 8 };

/* Until this reason ends of its own accord; -1: nobody knows. */
static int64_t wait_of(const struct reason *reason)
{
    switch (reason->code) {
    case REASON_OFF_MINIMUM_OFF:
    case REASON_OFF_RESTART:
    case REASON_OFF_HOURS:
        return reason->number[0];
    case REASON_OFF_STARTS:
        return reason->number[1];
    default:
        return -1;
    }
}

static int64_t ordered_until_ms(const struct load_memory *memory)
{
    return memory->test != HAND_AUTO ? memory->test_until.ms : memory->hand_until.ms;
}

static void settle_outputs(const struct rules_settings *settings, struct rules_memory *copy)
{
    for (uint16_t i = 0; i < settings->load_count; i++) {
        struct load_memory *load = &copy->loads[i];
        if (load->health == OUTPUT_PENDING)
            load->health = OUTPUT_CONFIRMED;
        if (load->state == STATE_STOPPING && load->health == OUTPUT_CONFIRMED)
            load->state = STATE_OFF;
    }
}

void rules_foresee(const struct rules_settings *settings, const struct rules_memory *memory,
                   const struct rules_input *input, uint16_t load, struct foresight *foresight)
{
    struct rules_memory copy = *memory;
    struct rules_outcome outcome;
    struct rules_input then = *input;
    struct decision *decision = &foresight->decisions[load];
    memcpy(foresight->loads, memory->loads, settings->load_count * sizeof(memory->loads[0]));
    copy.loads = foresight->loads;
    copy.learns = false; /* what is learnt lies outside the copy */
    foresight->wait_ms = 0;
    settle_outputs(settings, &copy);
    for (int waits = 0;; waits++) {
        copy.last = then.now; /* no time passes in these turns: nothing is booked */
        rules_turn(settings, &copy, &then, foresight->decisions, &outcome);
        const struct load_memory *after = &copy.loads[load];
        bool waits_to_run = !decision->on && load_ordered(after) == HAND_ON;
        int64_t wait_ms = waits_to_run ? wait_of(&decision->reason) : -1;
        if (wait_ms <= 0 || waits == WAITS_MAX)
            return;
        if (then.now.mono.ms + wait_ms >= ordered_until_ms(after))
            return;
        if (waits == 0)
            foresight->waiting = *decision;
        foresight->wait_ms += wait_ms;
        then.command_count = 0;
        then.now.mono.ms += wait_ms;
        then.now.wall.ms += wait_ms;
        settle_outputs(settings, &copy);
    }
}

struct return_view rules_return(const struct rules_settings *settings, uint16_t load,
                                struct wall now, struct wall back)
{
    const struct load_settings *with = &settings->loads[load];
    struct return_view view = {0};
    if (back.ms == 0 || with->normal_on_holiday || with->heat_up_ms == 0)
        return view;
    view.heats_up = true;
    view.from.ms = maximum_64(now.ms, back.ms - with->heat_up_ms - RETURN_RESERVE_MS);
    int64_t open_ms =
        view.from.ms < back.ms ? hours_open_ms(&with->hours, &settings->zone, view.from, back) : 0;
    if (with->daily_max_ms > 0)
        open_ms = minimum_64(open_ms, with->daily_max_ms);
    view.short_ms = at_least_0(with->heat_up_ms - open_ms);
    return view;
}
