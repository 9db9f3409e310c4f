/* meter_reading.c - one round of reading: block after block, all or nothing.
 *
 * Every value lies wholly within one block and a block is one question, so no
 * value is torn; a round in which any block failed gives no sample at all, so
 * that no sample mixes two rounds. A SunSpec device is walked before its first
 * round, and again after it was lost: what comes back may be another device, or
 * the same with other firmware and other addresses.
 *
 * A unit may refuse a question that touches a register which it doesn't have, in a gap that
 * a map's plan reads across or in a version that lacks a quantity. Then the block is asked
 * in parts at once, and so from there on. A value that is refused by itself is left out, as
 * one that the map lacks, and tried again now and then; a unit that refuses everything has
 * said no, and nothing is concluded from it. */
#include "bus/meter_reading.h"

#include <stdio.h>
#include <string.h>

#include "core/text.h"

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
    struct exchange question = exchange_of_block(metered->unit, block);
    if (!ask(line, &question, now, answer)) {
        return false;
    }
    pass_block(metered->tap, metered->unit, block, question.value);
    meter_decode(&metered->map, block, question.value, &answer->sample);
    return true;
}

/* ---- what is refused ----------------------------------------------------------------------- */

/* SunSpec's chain is walked again instead: its addresses have changed. */
static bool is_refused(const struct metered *metered, const struct bus_answer *answer)
{
    return !metered->sunspec && answer->outcome == BUS_EXCEPTION &&
           answer->exception == ILLEGAL_ADDRESS;
}

/* The quantity whose register is the block's first, or NULL. */
static const char *quantity_at(const struct meter_map *map, const struct meter_block *block)
{
    for (uint8_t i = 0; i < map->point_count; i++)
        if (map->point[i].table == block->table && map->point[i].address >= block->address &&
            map->point[i].address < block->address + block->count)
            return meter_quantity_word(map->point[i].quantity);
    return NULL;
}

static void note_left_out(const struct metered *metered, const struct meter_block *block,
                          struct text *text)
{
    const char *word = quantity_at(&metered->map, block);
    if (!text->used)
        text_add(text, "unit %u refuses", metered->unit);
    else
        text_add(text, ",");
    text_add(text, " %s 0x%04x (%s)", meter_table_word(block->table), block->address,
             word ? word : "?");
}

/* The registers between the first two parts: one of those that no point uses is refused. */
static void note_gap(const struct metered *metered, const struct meter_block part[], uint8_t count,
                     struct text *text)
{
    unsigned from = part[0].address + part[0].count, to = part[1].address;
    if (to > from)
        text_add(text, "unit %u refuses unused %s 0x%04x to 0x%04x%s: read in %u parts",
                 metered->unit, meter_table_word(part->table), from, to - 1,
                 count > 2 ? " or others" : "", count);
}

static void remove_block(struct meter_plan *plan, uint8_t index)
{
    memmove(&plan->block[index], &plan->block[index + 1],
            (size_t)(plan->count - index - 1) * sizeof plan->block[0]);
    plan->count--;
}

/* The block at `index` was refused: asks for its parts, and leaves in the plan those that are
 * answered; `index` comes behind them. False: none is, or the line fails. */
static bool read_parts(struct metered *metered, struct meter_plan *plan, uint8_t *index,
                       struct line *line, struct mono now, struct bus_answer *answer,
                       struct text *gap, struct text *left_out)
{
    uint8_t end = (uint8_t)(*index + 1), answered = 0;
    while (*index < end) {
        uint8_t parts = meter_plan_split(&metered->map, plan, *index);
        if (parts > 0) {
            end = (uint8_t)(end + parts - 1);
            note_gap(metered, &plan->block[*index], parts, gap);
        } else {
            note_left_out(metered, &plan->block[*index], left_out);
            remove_block(plan, *index);
            end--;
        }
        while (*index < end && read_block(metered, &plan->block[*index], line, now, answer)) {
            answered++;
            ++*index;
        }
        if (*index < end && !is_refused(metered, answer)) {
            return false;
        }
    }
    return answered > 0;
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

/* What was left out is asked for again after a while: it may have been a moment's refusal. */
static void forget_left_out(struct metered *metered, struct mono now)
{
    if (metered->left_out[0] && now.ms >= metered->left_out_until.ms) {
        metered->left_out[0] = '\0';
        plan_map(metered);
    }
}

/* Of a round that was answered: how the next one asks, and what is said of this one. */
static void keep_plan(struct metered *metered, const struct meter_plan *plan, struct mono now,
                      const char *gap, const char *left_out, struct bus_answer *answer)
{
    enum { AGAIN_MS = 10 * MS_PER_MIN };
    metered->plan = *plan;
    if (left_out[0]) {
        memcpy(metered->left_out, left_out, sizeof metered->left_out);
        metered->left_out_until = mono_after(now, AGAIN_MS);
    }
    answer->outcome = BUS_OK;
    answer->exception = 0;
    answer->left_out = metered->left_out[0] != '\0';
    memcpy(answer->detail, answer->left_out ? metered->left_out : gap, sizeof answer->detail);
}

/* Block after block. False: the round gives nothing. */
static bool read_round(struct metered *metered, struct line *line, bool totals, struct mono now,
                       struct bus_answer *answer)
{
    struct meter_plan plan = metered->plan;
    char gap[BUS_DETAIL_MAX], left_out[BUS_DETAIL_MAX];
    struct text gap_text = text_in(gap, sizeof gap);
    struct text left_out_text = text_in(left_out, sizeof left_out);
    for (uint8_t i = 0; i < plan.count;) {
        bool later = plan.block[i].totals && !totals;
        if (later || read_block(metered, &plan.block[i], line, now, answer)) {
            i++;
        } else if (!is_refused(metered, answer) ||
                   !read_parts(metered, &plan, &i, line, now, answer, &gap_text, &left_out_text)) {
            return false;
        }
    }
    keep_plan(metered, &plan, now, gap, left_out, answer);
    return true;
}

void metered_read(struct metered *metered, struct line *line, bool totals, struct mono now,
                  struct bus_answer *answer)
{
    if (!has_map(metered, line, now, answer)) {
        return;
    }
    forget_left_out(metered, now);
    if (!read_round(metered, line, totals, now, answer)) {
        answer->sample = (struct meter_sample){0};
        doubt_map(metered, line, answer);
    }
}
