/* overheard.c - samples made of another master's rounds.
 *
 * Total power may never be asked for by a master that reads the phases: then their sum
 * stands for it, since by physics it is the same, and it is said so. No other value is
 * made up. */
#include "bus/overheard.h"

#define BIT(quantity) (UINT32_C(1) << (quantity))
#define PHASE_POWERS (BIT(METER_POWER_L1) | BIT(METER_POWER_L2) | BIT(METER_POWER_L3))
#define TOTALS (BIT(METER_IMPORT_ENERGY) | BIT(METER_EXPORT_ENERGY))

void overheard_begin(struct overheard *overheard, uint8_t unit, const struct meter_map *map)
{
    *overheard = (struct overheard){.unit = unit, .map = *map};
    for (uint8_t i = 0; i < map->point_count; i++)
        overheard->mapped |= BIT(map->point[i].quantity);
}

/* What stands for the total: the phases that the map has, if it has any. */
static uint32_t stand_in(const struct overheard *overheard)
{
    return overheard->mapped & PHASE_POWERS;
}

static bool uses_stand_in(const struct overheard *overheard)
{
    return !(overheard->heard & BIT(METER_POWER)) && stand_in(overheard) != 0;
}

/* A meter without power (a thermometer) needs none. */
static uint32_t needed(const struct overheard *overheard)
{
    return uses_stand_in(overheard) ? stand_in(overheard) : overheard->mapped & BIT(METER_POWER);
}

static bool has_all(uint32_t has, uint32_t wanted)
{
    return (has & wanted) == wanted;
}

static void add_stand_in(const struct overheard *overheard, struct meter_sample *sample)
{
    if (!uses_stand_in(overheard) || !(overheard->mapped & BIT(METER_POWER)))
        return;
    sample->has |= BIT(METER_POWER);
    sample->value[METER_POWER] = 0;
    for (int phase = METER_POWER_L1; phase <= METER_POWER_L3; phase++)
        if (stand_in(overheard) & BIT(phase))
            sample->value[METER_POWER] += sample->value[phase];
}

static void finish(struct overheard *overheard)
{
    overheard->sample = overheard->gathered;
    overheard->sample_us = overheard->gathered_us;
    overheard->ready = true;
    add_stand_in(overheard, &overheard->sample);
    overheard->gathered = (struct meter_sample){0};
}

static void merge(struct meter_sample *into, const struct meter_sample *part, uint32_t which)
{
    into->has |= part->has & which;
    for (int q = 0; q < METER_QUANTITIES; q++)
        if (part->has & which & BIT(q))
            into->value[q] = part->value[q];
}

static void gather(struct overheard *overheard, const struct meter_sample *part, int64_t now_us)
{
    merge(&overheard->gathered, part, ~TOTALS);
    merge(&overheard->totals, part, TOTALS);
    if (needed(overheard) == 0 || (part->has & needed(overheard)))
        overheard->gathered_us = now_us;
}

bool overheard_registers(const struct heard *heard, struct meter_block *block,
                         uint16_t value[static METER_BLOCK_REGISTERS_MAX])
{
    if (heard->kind != HEARD_ANSWERED ||
        (heard->request[0] != READ_HOLDING && heard->request[0] != READ_INPUT))
        return false;
    const uint8_t *request = heard->request, *data = heard->answer + 2;
    *block = (struct meter_block){.table = request[0] == READ_INPUT ? METER_INPUT : METER_HOLDING,
                                  .address = word_at(request + 1),
                                  .count = word_at(request + 3)};
    for (uint16_t i = 0; i < block->count; i++)
        value[i] = word_at(data + 2 * i);
    return true;
}

void overheard_take(struct overheard *overheard, const struct meter_block *block,
                    const uint16_t registers[], int64_t now_us)
{
    struct meter_sample part = {0};
    meter_decode(&overheard->map, block, registers, &part);
    if (part.has == 0)
        return;
    overheard->heard |= part.has;
    uint32_t quick = overheard->gathered.has;
    if ((quick & part.has) && has_all(quick, needed(overheard))) {
        overheard->round = quick; /* a new round begins: the last one is over */
        finish(overheard);
    }
    gather(overheard, &part, now_us);
    uint32_t wanted = overheard->round | needed(overheard);
    if (overheard->round && has_all(overheard->gathered.has, wanted))
        finish(overheard);
}

bool overheard_sample(struct overheard *overheard, struct meter_sample *sample, int64_t *taken_us)
{
    bool ready = overheard->ready;
    overheard->ready = false;
    *sample = overheard->sample;
    if (ready) {
        merge(sample, &overheard->totals, TOTALS);
        overheard->totals.has = 0;
    }
    *taken_us = overheard->sample_us;
    return ready;
}

static void list(uint32_t quantities, struct text *text)
{
    const char *between = "";
    for (int q = 0; q < METER_QUANTITIES; q++)
        if (quantities & BIT(q)) {
            text_add(text, "%s%s", between, meter_quantity_word((enum meter_quantity)q));
            between = ", ";
        }
}

void overheard_missing(const struct overheard *overheard, struct text *text)
{
    uint32_t missing = overheard->mapped & ~overheard->heard;
    bool power = missing & BIT(METER_POWER);
    if (power && has_all(overheard->heard, stand_in(overheard)) && stand_in(overheard))
        text_add(text, "total power is never polled; the sum of the phases is used instead");
    else if (power && overheard->heard) {
        text_add(text, "total power is never polled; the nearest is ");
        list(overheard->heard & (PHASE_POWERS | BIT(METER_CURRENT_L1) | BIT(METER_VOLTAGE_L1))
                 ? overheard->heard & (PHASE_POWERS | BIT(METER_CURRENT_L1) | BIT(METER_VOLTAGE_L1))
                 : overheard->heard,
             text);
    }
    missing &= ~BIT(METER_POWER);
    if (overheard->heard && missing) {
        text_add(text, "%snever polled: ", power ? ". Also " : "");
        list(missing, text);
    }
}
