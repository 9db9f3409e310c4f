/* meter_reading.c - one round of reading: block after block, all or nothing.
 *
 * Every value lies wholly within one block and a block is one question, so no
 * value is torn; a round in which any block failed gives no sample at all, so
 * that no sample mixes two rounds. A SunSpec device is walked before its first
 * round, and again after it was lost: what comes back may be another device, or
 * the same with other firmware and other addresses. */
#include "bus/meter_reading.h"

#include <stdio.h>
#include <string.h>

static void plan_map(struct metered *metered)
{
    struct trouble trouble;
    metered->mapped = meter_plan_make(&metered->map, &metered->plan, &trouble);
    if (!metered->mapped) {
        snprintf(metered->trouble, sizeof metered->trouble, "%.*s", BUS_DETAIL_MAX - 1,
                 trouble.text);
    }
}

void metered_begin(struct metered *metered, uint8_t unit, const struct meter_map *map,
                   enum sunspec_wanted wanted)
{
    *metered = (struct metered){.unit = unit, .sunspec = map == NULL, .wanted = wanted};
    if (map) {
        metered->map = *map;
        plan_map(metered);
    }
}

/* One question of the round; its failure is the round's. */
static bool ask(struct line *line, struct exchange *exchange, struct mono now,
                struct bus_answer *answer)
{
    line_exchange(line, exchange, now);
    answer->took_us += exchange->took_us;
    answer->outcome = exchange->outcome;
    answer->exception = exchange->exception;
    memcpy(answer->detail, exchange->detail, sizeof answer->detail);
    return exchange->outcome == BUS_OK;
}

static bool walk_on(struct metered *metered, struct line *line, struct mono now,
                    struct bus_answer *answer)
{
    struct sunspec_walk *walk = &metered->walk;
    struct exchange question = {.unit = metered->unit,
                                .function = READ_HOLDING,
                                .address = walk->address,
                                .count = walk->count};
    if (ask(line, &question, now, answer)) {
        sunspec_feed(walk, question.value);
    } else if (answer->outcome == BUS_EXCEPTION) {
        sunspec_feed(walk, NULL); /* an answer too: nothing is at this address */
    } else {
        return false;
    }
    return true;
}

static bool find_sunspec(struct metered *metered, struct line *line, struct mono now,
                         struct bus_answer *answer)
{
    sunspec_begin(&metered->walk);
    metered->walk.wanted = metered->wanted;
    while (metered->walk.state == SUNSPEC_ASKING) {
        if (!walk_on(metered, line, now, answer)) {
            return false;
        }
    }
    if (metered->walk.state == SUNSPEC_FOUND) {
        metered->map = metered->walk.map;
        plan_map(metered);
    } else {
        snprintf(metered->trouble, sizeof metered->trouble,
                 "unit %u is no SunSpec meter or inverter that is known here", metered->unit);
    }
    return metered->mapped;
}

static bool has_map(struct metered *metered, struct line *line, struct mono now,
                    struct bus_answer *answer)
{
    if (metered->mapped) {
        return true;
    }
    metered->trouble[0] = metered->sunspec ? '\0' : metered->trouble[0];
    if (metered->sunspec && find_sunspec(metered, line, now, answer)) {
        return true;
    }
    if (metered->trouble[0]) {
        answer->outcome = BUS_NOT_FOUND;
        answer->exception = 0;
        memcpy(answer->detail, metered->trouble, sizeof answer->detail);
    }
    return false;
}

static bool read_block(struct metered *metered, const struct meter_block *block, struct line *line,
                       struct mono now, struct bus_answer *answer)
{
    struct exchange question = {.unit = metered->unit,
                                .function = block->table == METER_INPUT ? READ_INPUT : READ_HOLDING,
                                .address = block->address,
                                .count = block->count};
    if (!ask(line, &question, now, answer)) {
        return false;
    }
    pass_block(metered->tap, metered->unit, block, question.value);
    meter_decode(&metered->map, block, question.value, &answer->sample);
    return true;
}

/* A refused block means that the chain has changed; a lost device may be
 * another one when it returns. */
static void doubt_map(struct metered *metered, const struct line *line,
                      const struct bus_answer *answer)
{
    if (metered->sunspec && (answer->outcome == BUS_DOWN || answer->outcome == BUS_EXCEPTION ||
                             line_unit_lost(line, metered->unit))) {
        metered->mapped = false;
    }
}

void metered_read(struct metered *metered, struct line *line, bool totals, struct mono now,
                  struct bus_answer *answer)
{
    if (!has_map(metered, line, now, answer)) {
        return;
    }
    answer->outcome = BUS_OK; /* whatever the walk met with */
    answer->exception = 0;
    answer->detail[0] = '\0';
    for (uint8_t i = 0; i < metered->plan.count; i++) {
        const struct meter_block *block = &metered->plan.block[i];
        if (block->totals && !totals) {
            continue;
        }
        if (!read_block(metered, block, line, now, answer)) {
            answer->sample = (struct meter_sample){0};
            doubt_map(metered, line, answer);
            return;
        }
    }
}
