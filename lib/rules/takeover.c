/* takeover.c - a higher load takes the place of lower ones.
 *
 * Only on what the meter has shown: the lower ones stop, their outputs confirm, a
 * fresh reading shows the power, and only then does the higher one start. If the
 * reading shows less than was promised, the takeover has failed and is not tried
 * again until more is on offer or time has passed.
 *
 * It has to be worth its switching, for a house whose loads change places every few
 * minutes looks as if it did not know what it wants: there has to have been enough for
 * longer than for a start of its own, so that it may be expected to last, and the same
 * load takes no second place within the hour. */
#include "takeover.h"

#include "spare.h"
#include "switching.h"

static void takeover_end(struct turn *turn)
{
    struct rules_memory *memory = turn->memory;
    for (uint16_t i = 0; i < turn->settings->load_count; i++)
        if (memory->loads[i].yields_to == memory->takeover_load)
            memory->loads[i].yields_to = LOAD_ALL;
    memory->loads[memory->takeover_load].takeover_since = MONO_NEVER;
    memory->takeover_load = LOAD_ALL;
}

static void fail(struct turn *turn)
{
    struct rules_memory *memory = turn->memory;
    struct load_memory *load = &memory->loads[memory->takeover_load];
    load->takeover_retry.ms = turn->t + TAKEOVER_RETRY_MS;
    load->takeover_failed_w = memory->takeover_promised_w;
    takeover_end(turn);
}

static bool is_shown(const struct turn *turn)
{
    const struct rules_memory *memory = turn->memory;
    for (uint16_t i = 0; i < turn->settings->load_count; i++) {
        const struct load_memory *load = &memory->loads[i];
        bool under_way = load->relief || load->state == STATE_STOPPING;
        if (load->yields_to == memory->takeover_load && under_way)
            return false;
    }
    return true;
}

/* Ends a takeover that has failed; one that succeeds ends with the start. */
void takeover_watch(struct turn *turn)
{
    struct rules_memory *memory = turn->memory;
    uint16_t index = memory->takeover_load;
    if (index == LOAD_ALL)
        return;
    struct load_memory *load = &memory->loads[index];
    int64_t patience = load->takeover_since.ms + TAKEOVER_PATIENCE_MS;
    int64_t need_w = spare_start_need(&turn->settings->loads[index], load);
    bool enough = spare_available(turn, load, turn->spare_w) >= need_w;
    bool gone = load->enough_since.ms == MONO_NEVER.ms || load->state != STATE_OFF;
    if (gone || turn->t >= patience || (is_shown(turn) && !enough))
        fail(turn);
    else
        turn_soon(turn, patience);
}

void takeover_add_relief(const struct turn *turn, int64_t pool_w[PHASES])
{
    for (uint16_t i = 0; i < turn->settings->load_count; i++) {
        const struct load_memory *victim = &turn->memory->loads[i];
        if (!victim->relief || victim->yields_to != turn->memory->takeover_load)
            continue;
        for (unsigned p = 0; p < PHASES; p++)
            if (victim->notes.pools & (1u << p))
                pool_w[p] += victim->relief_w / victim->notes.spread;
    }
}

static bool shares_pool(const struct load_memory *a, const struct load_memory *b)
{
    return (a->notes.pools & b->notes.pools) != 0;
}

static void add_gift(int64_t pool_w[PHASES], const struct load_memory *victim)
{
    for (unsigned p = 0; p < PHASES; p++)
        if (victim->notes.pools & (1u << p))
            pool_w[p] += victim->notes.gives_w / victim->notes.spread;
}

/* The higher load has started in the place that it took. */
void takeover_succeeded(struct turn *turn)
{
    struct load_memory *load = &turn->memory->loads[turn->memory->takeover_load];
    load->takeover_again.ms = turn->t + TAKEOVER_AGAIN_MS;
    takeover_end(turn);
}

static bool may_try(struct turn *turn, const struct load_memory *load, int64_t promised_w)
{
    int64_t worth_it =
        maximum_64(load->enough_since.ms + TAKEOVER_SETTLE_MS, load->takeover_again.ms);
    if (turn->t < worth_it) {
        turn_soon(turn, worth_it);
        return false;
    }
    if (turn->t >= load->takeover_retry.ms)
        return true;
    turn_soon(turn, load->takeover_retry.ms);
    return promised_w > (int64_t)load->takeover_failed_w * 11 / 10;
}

static int64_t promised_by_lower(const struct turn *turn, uint16_t index, uint16_t place)
{
    int64_t sum_w = 0;
    const struct load_memory *load = &turn->memory->loads[index];
    for (uint16_t k = (uint16_t)(place + 1); k < turn->settings->load_count; k++) {
        const struct load_memory *lower = &turn->memory->loads[turn->settings->order[k]];
        if (shares_pool(load, lower))
            sum_w += lower->notes.gives_w;
    }
    return sum_w;
}

static void take_from(struct turn *turn, uint16_t victim, uint16_t taker)
{
    struct load_memory *memory = &turn->memory->loads[victim];
    spare_forgo(turn, memory);
    load_switch_off(turn, victim);
    memory->yields_to = taker;
    memory->basis = BASIS_NONE;
    turn->decisions[victim] =
        (struct decision){.reason = reason_of(REASON_OFF_TAKEN_OVER, taker, 0, 0)};
}

/* `place` is the load's in the order. False: it may not be tried now. */
bool takeover_begin(struct turn *turn, uint16_t index, uint16_t place)
{
    struct rules_memory *memory = turn->memory;
    struct load_memory *load = &memory->loads[index];
    if (memory->takeover_load != LOAD_ALL)
        return false;
    int64_t promised_w = promised_by_lower(turn, index, place);
    if (!may_try(turn, load, promised_w))
        return false;
    int64_t need_w = spare_start_need(&turn->settings->loads[index], load);
    int64_t pool_w[PHASES] = {turn->spare_w[0], turn->spare_w[1], turn->spare_w[2]};
    memory->takeover_promised_w = 0;
    for (uint16_t k = turn->settings->load_count;
         --k > place && spare_available(turn, load, pool_w) < need_w;) {
        uint16_t victim = turn->settings->order[k];
        struct load_memory *lower = &memory->loads[victim];
        if (lower->notes.gives_w <= 0 || !shares_pool(load, lower))
            continue;
        add_gift(pool_w, lower);
        memory->takeover_promised_w += lower->notes.gives_w;
        take_from(turn, victim, index);
    }
    memory->takeover_load = index;
    load->takeover_since.ms = turn->t;
    turn_soon(turn, turn->t + TAKEOVER_PATIENCE_MS);
    return true;
}
