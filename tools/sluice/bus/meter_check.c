/* meter_check.c - `sluice meter check MAP`: a map judged, and then explained.
 *
 * What is asked of the meter and how long that holds the line; what its signs mean; what
 * it is known by; and what the map lacks, as what that takes from the rules. Times are the
 * wire's alone (Modbus over Serial Line V1.02, section 2.5: a character has 11 bits, 10
 * where there is neither parity nor a second stop bit as is common; 3.5 characters of
 * silence, or 1.75 ms above 19200 baud, before each frame); the meter's own time to answer
 * comes on top. */
#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#include "core/serial_line.h"
#include "map_shelf.h"
#include "meter.h"
#include "sluice/options.h"

enum {
    QUESTION_BYTES = 8, /* unit, function, address, count, CRC */
    ANSWER_BYTES = 5,   /* unit, function, length, CRC; and two for each register */
    FIXED_GAP_US = 1750,
    FIXED_GAP_ABOVE_BAUD = 19200,
};

/* ---- the line ------------------------------------------------------------------------ */

static int64_t bits_of_character(const struct meter_map *map)
{
    return map->parity == PARITY_NONE && map->stop_bits != 2 ? 10 : 11;
}

static int64_t wire_us(const struct meter_map *map, int64_t bytes)
{
    return bytes * bits_of_character(map) * 1000000 / map->baud;
}

static int64_t gap_us(const struct meter_map *map)
{
    return map->baud > FIXED_GAP_ABOVE_BAUD ? FIXED_GAP_US : wire_us(map, 7) / 2;
}

static int64_t request_us(const struct meter_map *map, const struct meter_block *block)
{
    return wire_us(map, QUESTION_BYTES + ANSWER_BYTES + 2 * block->count) + 2 * gap_us(map);
}

static void print_ms(const char *before, int64_t us, const char *after)
{
    printf("%s%" PRId64 ".%" PRId64 " ms%s", before, us / 1000, us % 1000 / 100, after);
}

static void print_line(const struct meter_map *map)
{
    char buffer[64];
    struct text text = text_in(buffer, sizeof buffer);
    serial_line_write((int32_t)map->baud, map->parity, map->stop_bits, &text);
    printf("line: %s, unit %u; serial as it leaves the factory, or Modbus TCP\n", buffer,
           map->unit);
}

/* ---- what is read ------------------------------------------------------------------------ */

static void print_scale(const struct meter_point *point)
{
    char one[48];
    struct text text = text_in(one, sizeof one);
    if (point->scale_num % point->scale_den == 0) {
        meter_value_write(point->quantity, point->scale_num / point->scale_den, &text);
        printf(", 1 is %s", one);
    }
    if (point->scale_register != METER_NO_REGISTER)
        printf(", times ten to the power at 0x%04" PRIx32, (uint32_t)point->scale_register);
}

static void print_point(const struct meter_point *point)
{
    printf("  %-14s %-7s 0x%04x %5u  %s%s", meter_quantity_word(point->quantity),
           meter_table_word(point->table), point->address, point->address,
           meter_type_word(point->type), point->order == METER_LOW_FIRST ? ", low word first" : "");
    print_scale(point);
    if (point->inverted)
        printf(", turned round");
    if (point->has_absent)
        printf(", 0x%" PRIx64 " means none", point->absent);
    putchar('\n');
}

/* What a request reads along that no point uses. */
static void print_gaps(const struct meter_map *map, const struct meter_block *block)
{
    struct meter_plan split = {.count = 1, .block = {*block}};
    uint8_t parts = meter_plan_split(map, &split, 0);
    int unused = parts > 0 ? block->count : 0;
    for (uint8_t k = 0; k < parts; k++)
        unused -= split.block[k].count;
    if (unused > 0)
        printf("    across %d unused register%s, from 0x%04x on; a meter that refuses that is "
               "asked in %u parts\n",
               unused, unused == 1 ? "" : "s",
               (unsigned)(split.block[0].address + split.block[0].count), parts);
}

static void print_requests(const struct meter_map *map, const struct meter_plan *plan)
{
    int64_t often_us = 0, all_us = 0;
    printf("requests:\n");
    for (uint8_t k = 0; k < plan->count; k++) {
        const struct meter_block *block = &plan->block[k];
        int64_t us = request_us(map, block);
        printf("  %s 0x%04x, %u register%s: %d + %d bytes", meter_table_word(block->table),
               block->address, block->count, block->count == 1 ? "" : "s", QUESTION_BYTES,
               ANSWER_BYTES + 2 * block->count);
        print_ms(", ", us, block->totals ? " (totals, seldom)\n" : "\n");
        print_gaps(map, block);
        all_us += us;
        often_us += block->totals ? 0 : us;
    }
    printf("  on the wire at %" PRIu32 " baud", map->baud);
    print_ms(": ", often_us, " each poll");
    if (all_us != often_us)
        print_ms(", ", all_us, " with totals");
    printf("; the meter's own time comes on top\n");
}

static void print_signs(const struct meter_map *map)
{
    static const char *const texts[] = {
        [METER_POSITIVE_WIRED] = "positive power is import if the meter is wired in its maker's "
                                 "direction;\n  otherwise say inverted: yes at the meter in the "
                                 "settings",
        [METER_POSITIVE_IMPORT] = "positive power is import, by the device's own definition",
        [METER_POSITIVE_PRODUCTION] = "positive power is production: role solar",
        [METER_POSITIVE_CHARGE] = "positive power is charging: role battery",
    };
    printf("sign: %s\n", texts[map->positive]);
}

static void print_marks(const struct meter_map *map)
{
    printf("known by:");
    for (uint8_t k = 0; k < map->mark_count; k++) {
        const struct meter_mark *mark = &map->mark[k];
        printf("%s %s 0x%04x is %" PRId64, k ? "," : "", meter_table_word(mark->table),
               mark->address, mark->least);
        if (mark->greatest != mark->least)
            printf(" to %" PRId64, mark->greatest);
    }
    printf(map->mark_count
               ? ", and a voltage and frequency that can be true\n"
               : " a voltage and frequency that can be true; a scan calls it likely at best\n");
}

/* ---- what is missing ---------------------------------------------------------------------- */

static bool has(const struct meter_map *map, enum meter_quantity quantity)
{
    for (uint8_t k = 0; k < map->point_count; k++)
        if (map->point[k].quantity == quantity)
            return true;
    return false;
}

static bool has_all(const struct meter_map *map, enum meter_quantity first,
                    enum meter_quantity last)
{
    for (int q = (int)first; q <= (int)last; q++)
        if (!has(map, (enum meter_quantity)q))
            return false;
    return true;
}

/* What the lack of quantities takes from the rules. `for_role`: bit per enum meter_positive. */
static const struct lack {
    const char *what;
    enum meter_quantity first, last;
    uint8_t for_role;
    const char *so;
} lacks[] = {
    {"power", METER_POWER, METER_POWER, 0xf,
     "the role grid, solar or battery cannot be played: nothing could run on spare power"},
    {"power of all three phases", METER_POWER_L1, METER_POWER_L3, 0x3,
     "billing: per_phase sees no spare power on a three-phase site; what a load draws is seen "
     "in the total only"},
    {"current of all three phases", METER_CURRENT_L1, METER_CURRENT_L3, 0x3,
     "the supply limit is watched by phase power, or by the total shared evenly among phases"},
    {"voltage", METER_VOLTAGE_L1, METER_VOLTAGE_L1, 0x7,
     "a misread meter is noticed later, and a scan recognises it less surely"},
    {"frequency", METER_FREQUENCY, METER_FREQUENCY, 0x7,
     "a meter that repeats itself is noticed later, and a scan recognises it less surely"},
    {"import and export energy", METER_IMPORT_ENERGY, METER_EXPORT_ENERGY, 0x3,
     "the grid's totals are reckoned from power, and time without a reading is a gap"},
    {"energy given out", METER_EXPORT_ENERGY, METER_EXPORT_ENERGY, 0x4,
     "production is known only as power"},
    {"battery charge", METER_BATTERY_CHARGE, METER_BATTERY_CHARGE, 0x8,
     "how full the battery is stays unknown; its power is what counts"},
};

static void print_missing(const struct meter_map *map)
{
    bool any = false;
    for (size_t k = 0; k < sizeof lacks / sizeof lacks[0]; k++) {
        const struct lack *lack = &lacks[k];
        if (!(lack->for_role >> map->positive & 1) || has_all(map, lack->first, lack->last))
            continue;
        printf("%s  %s: %s\n", any ? "" : "missing:\n", lack->what, lack->so);
        any = true;
    }
    if (!any)
        printf("missing: nothing that the rules use\n");
}

/* ---- the command -------------------------------------------------------------------------- */

static void explain(const struct meter_map *map, const struct meter_plan *plan)
{
    printf("%s: %s\nsource: %s\n", map->name, map->title, map->source);
    meter_sureness_print(map, "");
    print_line(map);
    printf("quantities:\n");
    for (uint8_t k = 0; k < map->point_count; k++)
        print_point(&map->point[k]);
    print_requests(map, plan);
    print_signs(map);
    print_marks(map);
    print_missing(map);
}

/* No file stands behind that name. */
static enum status explain_sunspec(void)
{
    puts("sunspec: nothing to check: there is no map file. The device itself lists its registers, "
         "which\nare read at each start. `sluice meter read METER` shows what yours has.");
    return STATUS_DONE;
}

enum status meter_check(struct invocation *at, int argc, char *argv[])
{
    const char *maps = MAPS_DEFAULT, *baud = NULL;
    const struct option_row rows[] = {{"--maps", &maps, NULL, "the folder of the meter maps"},
                                      {"--baud", &baud, NULL, "a speed"},
                                      {0}};
    struct meter_map map;
    struct meter_plan plan;
    struct trouble trouble;
    int64_t number;
    int words = options_read(at, rows, argc, argv);
    if (words < 0)
        return options_status(words);
    if (words != 1)
        return complain_usage(at, "meter");
    if (baud && !meter_number("--baud", baud, 1200, 115200, &number))
        return STATUS_USAGE;
    if (strcmp(argv[1], "sunspec") == 0)
        return explain_sunspec();
    enum status status = meter_map_find(argv[1], maps, &map);
    if (status != STATUS_DONE)
        return status;
    if (baud)
        map.baud = (uint32_t)number;
    if (!meter_plan_make(&map, &plan, &trouble))
        return complain(STATUS_REFUSED, "%s: %s", map.name, trouble.text);
    explain(&map, &plan);
    return STATUS_DONE;
}
