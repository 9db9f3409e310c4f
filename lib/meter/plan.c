/* plan.c - which blocks to read.
 *
 * Every point is a span of registers that one request must fetch whole: its own
 * registers and its scale register, whatever lies between. Taken by their first
 * register, spans are joined to the block before as long as the gap and the
 * block stay within bounds. A block has to begin at the first span that none
 * covers yet, and reaching as far as it may from there is never worse: so these
 * are the fewest.
 *
 * Some devices refuse a request that touches a register they don't have. Such a block is
 * split: at its gaps first, and where a part has none, value by value. */
#include "meter.h"

#include <stddef.h>
#include <string.h>

enum { GAP_MAX = 16, REGISTERS = 65536 };

struct span {
    enum meter_table table;
    uint32_t begin, end; /* end is the first register after it */
    bool totals;
};

uint16_t meter_type_registers(enum meter_type type)
{
    static const uint16_t registers[] = {
        [METER_INT16] = 1, [METER_UINT16] = 1, [METER_INT32] = 2,   [METER_UINT32] = 2,
        [METER_INT64] = 4, [METER_UINT64] = 4, [METER_FLOAT32] = 2, [METER_FLOAT64] = 4,
    };
    return registers[type];
}

static bool is_total(enum meter_quantity quantity)
{
    return quantity == METER_IMPORT_ENERGY || quantity == METER_EXPORT_ENERGY;
}

static struct span span_of(const struct meter_point *point)
{
    struct span span = {.table = point->table,
                        .begin = point->address,
                        .end = (uint32_t)point->address + meter_type_registers(point->type),
                        .totals = is_total(point->quantity)};
    if (point->scale_register != METER_NO_REGISTER) {
        uint32_t scale = (uint32_t)point->scale_register;
        span.begin = scale < span.begin ? scale : span.begin;
        span.end = scale >= span.end ? scale + 1 : span.end;
    }
    return span;
}

static uint32_t most_at_once(const struct meter_map *map)
{
    return map->request_most ? map->request_most : METER_BLOCK_REGISTERS_MAX;
}

static bool point_check(const struct meter_point *point, uint32_t most, struct trouble *trouble)
{
    const char *word = meter_quantity_word(point->quantity);
    struct span span = span_of(point);
    if (!word)
        return trouble_set(trouble, "", "a point has no known quantity");
    if (point->scale_num < 1 || point->scale_den < 1)
        return trouble_set(trouble, "", "%s: the scale must be greater than 0", word);
    if (span.end > REGISTERS)
        return trouble_set(trouble, "", "%s: ends beyond the last register, 0xffff", word);
    if (span.end - span.begin > most)
        return trouble_set(trouble, "",
                           "%s: value and scale register are %u registers apart; one request "
                           "fetches at most %u",
                           word, (unsigned)(span.end - span.begin), (unsigned)most);
    return true;
}

/* By table, then first register; of two that begin together the longer first, so
 * that the shorter one finds itself covered. */
static bool comes_before(const struct span *a, const struct span *b)
{
    if (a->table != b->table)
        return a->table < b->table;
    return a->begin != b->begin ? a->begin < b->begin : a->end > b->end;
}

static void insert_sorted(struct span sorted[], uint8_t count, struct span span)
{
    uint8_t at = count;
    for (; at > 0 && comes_before(&span, &sorted[at - 1]); at--)
        sorted[at] = sorted[at - 1];
    sorted[at] = span;
}

/* How far behind a block's end a span may begin to be read with it: at a gap of as many
 * registers less one. */
enum reach { REACH_OVERLAP = 0, REACH_NO_GAP = 1, REACH_GAP = GAP_MAX + 1 };

static bool join(struct meter_block *block, const struct span *span, enum reach reach,
                 uint32_t most)
{
    uint32_t begin = block->address, end = begin + block->count;
    if (block->table != span->table || span->begin >= end + (uint32_t)reach)
        return false;
    end = span->end > end ? span->end : end;
    if (end - begin > most)
        return false;
    block->count = (uint16_t)(end - begin);
    block->totals &= span->totals;
    return true;
}

static void add_span(struct meter_plan *plan, const struct span *span, enum reach reach,
                     uint32_t most)
{
    if (plan->count > 0 && join(&plan->block[plan->count - 1], span, reach, most))
        return;
    plan->block[plan->count++] = (struct meter_block){.table = span->table,
                                                      .address = (uint16_t)span->begin,
                                                      .count = (uint16_t)(span->end - span->begin),
                                                      .totals = span->totals};
}

bool meter_plan_make(const struct meter_map *map, struct meter_plan *plan, struct trouble *trouble)
{
    struct span sorted[METER_POINTS_MAX];
    *plan = (struct meter_plan){0};
    if (map->request_most > METER_BLOCK_REGISTERS_MAX)
        return trouble_set(trouble, "", "one request fetches at most %d registers, not %u",
                           METER_BLOCK_REGISTERS_MAX, map->request_most);
    if (map->point_count == 0 || map->point_count > METER_POINTS_MAX)
        return trouble_set(trouble, "", "a map has 1 to %d points, this one %u", METER_POINTS_MAX,
                           map->point_count);
    for (uint8_t i = 0; i < map->point_count; i++) {
        if (!point_check(&map->point[i], most_at_once(map), trouble))
            return false;
        insert_sorted(sorted, i, span_of(&map->point[i]));
    }
    for (uint8_t i = 0; i < map->point_count; i++)
        add_span(plan, &sorted[i], REACH_GAP, most_at_once(map));
    if (plan->count > METER_BLOCKS_MAX)
        return trouble_set(trouble, "",
                           "the points lie so far apart that more than %d "
                           "requests would be needed",
                           METER_BLOCKS_MAX);
    return true;
}

/* ---- splitting ------------------------------------------------------------------------------ */

/* The spans of one block, in order. */
static uint8_t spans_in(const struct meter_map *map, const struct meter_block *block,
                        struct span sorted[])
{
    uint32_t begin = block->address, end = begin + block->count;
    uint8_t count = 0;
    for (uint8_t i = 0; i < map->point_count; i++) {
        struct span span = span_of(&map->point[i]);
        if (span.table == block->table && span.begin >= begin && span.end <= end)
            insert_sorted(sorted, count++, span);
    }
    return count;
}

static struct meter_plan parts_of(const struct span sorted[], uint8_t count, enum reach reach)
{
    struct meter_plan parts = {0};
    for (uint8_t i = 0; i < count; i++)
        add_span(&parts, &sorted[i], reach, METER_BLOCK_REGISTERS_MAX);
    return parts;
}

uint8_t meter_plan_split(const struct meter_map *map, struct meter_plan *plan, uint8_t index)
{
    struct span sorted[METER_POINTS_MAX];
    uint8_t count = spans_in(map, &plan->block[index], sorted);
    struct meter_plan parts = parts_of(sorted, count, REACH_NO_GAP);
    if (parts.count == 1)
        parts = parts_of(sorted, count, REACH_OVERLAP);
    size_t after = (size_t)(plan->count - index - 1);
    if (parts.count < 2 || plan->count - 1 + parts.count > METER_POINTS_MAX)
        return 0;
    memmove(&plan->block[index + parts.count], &plan->block[index + 1],
            after * sizeof(plan->block[0]));
    memcpy(&plan->block[index], parts.block, parts.count * sizeof(plan->block[0]));
    plan->count = (uint8_t)(plan->count - 1 + parts.count);
    return parts.count;
}
