/* recognise.c - known by its marks, and by values that a mains supply can have.
 *
 * Registers full of zeros or of text decode to something under every map, so a map
 * fits only where voltage and frequency, read through the map itself, are those of a
 * mains: then addresses, table, type, word order and scale are all right at once.
 * That alone is likely, not sure: relatives of one maker share addresses and differ
 * elsewhere. A code that the maker keeps in a register makes it sure.
 *
 * Voltage: 85 to 300 V takes in 100 V and 277 V systems with their tolerance. A phase
 * at less than 20 V is one that isn't connected. Frequency: 45 to 65 Hz. */
#include "meter/recognise.h"

#include <inttypes.h>
#include <stdio.h>

#include "core/text.h"

enum {
    VOLTAGE_LEAST_MV = 85000,
    VOLTAGE_GREATEST_MV = 300000,
    VOLTAGE_NONE_MV = 20000,
    FREQUENCY_LEAST_MHZ = 45000,
    FREQUENCY_GREATEST_MHZ = 65000,
    MARK_EVIDENCE = 10, /* a mark outweighs all of a map's voltages */
};

_Static_assert(RECOGNISE_READS_MAX >= METER_MARKS_MAX + 4, "three voltages and a frequency");

static bool is_telling(enum meter_quantity quantity)
{
    return (quantity >= METER_VOLTAGE_L1 && quantity <= METER_VOLTAGE_L3) ||
           quantity == METER_FREQUENCY;
}

/* The map without all that says nothing of which device it is. */
static void keep_telling(const struct meter_map *map, struct meter_map *telling)
{
    *telling = (struct meter_map){.request_most = map->request_most};
    for (uint8_t i = 0; i < map->point_count; i++)
        if (is_telling(map->point[i].quantity) && telling->point_count < 4)
            telling->point[telling->point_count++] = map->point[i];
}

uint8_t meter_fingerprint_reads(const struct meter_map *map,
                                struct meter_block reads[static RECOGNISE_READS_MAX])
{
    struct meter_map telling;
    struct meter_plan plan;
    struct trouble trouble;
    uint8_t count = 0;
    for (; count < map->mark_count && count < METER_MARKS_MAX; count++)
        reads[count] = (struct meter_block){.table = map->mark[count].table,
                                            .address = map->mark[count].address,
                                            .count = meter_type_registers(map->mark[count].type)};
    keep_telling(map, &telling);
    if (telling.point_count == 0 || !meter_plan_make(&telling, &plan, &trouble))
        return count;
    for (uint8_t i = 0; i < plan.count && count < RECOGNISE_READS_MAX; i++)
        reads[count++] = plan.block[i];
    return count;
}

static bool deny(struct recognition *recognition, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

static bool deny(struct recognition *recognition, const char *format, ...)
{
    va_list arguments;
    va_start(arguments, format);
    recognition->verdict = RECOGNISED_NOT;
    recognition->evidence = 0;
    vsnprintf(recognition->why, sizeof recognition->why, format, arguments);
    va_end(arguments);
    return false;
}

static bool judge_mark(const struct meter_mark *mark, const uint16_t registers[],
                       struct recognition *recognition, struct text *why)
{
    int64_t value = meter_whole_number(mark->type, mark->order, registers);
    if (value < mark->least || value > mark->greatest)
        return deny(recognition, "%" PRId64 " at 0x%04x is not its mark", value, mark->address);
    recognition->evidence += MARK_EVIDENCE;
    text_add(why, "%smark %" PRId64 " at 0x%04x", why->used ? ", " : "", value, mark->address);
    return true;
}

static bool judge_voltages(const struct meter_sample *sample, struct recognition *recognition,
                           struct text *why)
{
    int seen = 0, true_ones = 0;
    for (int q = METER_VOLTAGE_L1; q <= METER_VOLTAGE_L3; q++) {
        int64_t mv = sample->value[q];
        if (!(sample->has >> q & 1))
            continue;
        seen++;
        if (mv >= VOLTAGE_LEAST_MV && mv <= VOLTAGE_GREATEST_MV)
            true_ones++;
        else if (mv < 0 || mv >= VOLTAGE_NONE_MV)
            return deny(recognition, "%s would be %" PRId64 " V",
                        meter_quantity_word((enum meter_quantity)q), mv / 1000);
    }
    if (seen > 0 && true_ones == 0)
        return deny(recognition, "no voltage on any phase");
    recognition->evidence = (uint8_t)(recognition->evidence + true_ones);
    if (true_ones > 0)
        text_add(why, "%s%d voltage%s", why->used ? ", " : "", true_ones,
                 true_ones == 1 ? "" : "s");
    return true;
}

static bool judge_frequency(const struct meter_sample *sample, struct recognition *recognition,
                            struct text *why)
{
    int64_t mhz = sample->value[METER_FREQUENCY];
    if (!(sample->has >> METER_FREQUENCY & 1))
        return true;
    if (mhz < FREQUENCY_LEAST_MHZ || mhz > FREQUENCY_GREATEST_MHZ)
        return deny(recognition, "the frequency would be %" PRId64 ".%" PRId64 " Hz", mhz / 1000,
                    (mhz < 0 ? -mhz : mhz) % 1000 / 100);
    recognition->evidence++;
    text_add(why, "%s%" PRId64 ".%" PRId64 " Hz", why->used ? ", " : "", mhz / 1000,
             mhz % 1000 / 100);
    return true;
}

void meter_recognise(const struct meter_map *map, const struct meter_block reads[],
                     const uint16_t *const answers[], uint8_t answered,
                     struct recognition *recognition)
{
    struct meter_sample sample = {.has = 0};
    struct meter_map telling;
    struct meter_block all[RECOGNISE_READS_MAX];
    uint8_t wanted = meter_fingerprint_reads(map, all), marks = 0;
    *recognition = (struct recognition){.verdict = RECOGNISED_LIKELY};
    struct text why = text_in(recognition->why, sizeof recognition->why);
    keep_telling(map, &telling);
    if (wanted == 0) {
        deny(recognition, "the map has nothing that the device could be known by");
        return;
    }
    for (uint8_t i = 0; i < answered && i < wanted; i++) {
        bool is_mark = i < map->mark_count;
        if (is_mark && answers[i]) {
            if (!judge_mark(&map->mark[i], answers[i], recognition, &why))
                return;
            marks++;
        } else if (answers[i]) {
            meter_decode(&telling, &reads[i], answers[i], &sample);
        } else if (!is_mark) {
            deny(recognition, "it has no %u register%s at 0x%04x", reads[i].count,
                 reads[i].count == 1 ? "" : "s", reads[i].address);
            return;
        }
    }
    if (!judge_voltages(&sample, recognition, &why) || !judge_frequency(&sample, recognition, &why))
        return;
    /* Voltages may be "not available", but then something else must speak for the map. */
    if (answered >= wanted && recognition->evidence == 0)
        deny(recognition, "neither a voltage nor a frequency is there");
    else if (answered >= wanted && marks > 0 && marks == map->mark_count)
        recognition->verdict = RECOGNISED_SURE;
}
