/* source_modbus.c - a discrete input, or a coil, of a board on a bus. */
#include <string.h>

#include "input/source.h"

static const struct setting_choice tables[] = {
    {"discrete", INPUT_DISCRETE, "a discrete input (function 02)"},
    {"coil", INPUT_COIL, "a coil (function 01), on boards that show their inputs so"},
    {NULL, 0, NULL},
};

static const struct setting_row rows[] = {
    {.key = "bus",
     .kind = SETTING_TEXT,
     SETTING_AT(struct input_settings, bus),
     .initial = "",
     .example = "switchboard",
     .text = "The board's bus, by its name under buses."},
    {.key = "unit",
     .kind = SETTING_QUANTITY,
     .unit = QUANTITY_COUNT,
     SETTING_AT(struct input_settings, unit),
     .least = 1,
     .greatest = 247,
     .initial = "1",
     .example = "10",
     .text = "The board's unit id."},
    {.key = "address",
     .kind = SETTING_QUANTITY,
     .unit = QUANTITY_COUNT,
     SETTING_AT(struct input_settings, address),
     .least = 0,
     .greatest = 65535,
     .initial = "",
     .example = "0",
     .text = "Its address from 0, as on the wire; a datasheet may count from 1."},
    {.key = "table",
     .kind = SETTING_CHOICE,
     SETTING_AT(struct input_settings, table),
     .initial = "discrete",
     .choices = tables,
     .text = "Where the board shows it."},
};
static const struct setting_rows own_rows = SETTING_ROWS(rows);

static void name(const struct input_settings *settings, struct text *text)
{
    text_add(text, "%s %u of unit %u on %s",
             settings->table == INPUT_COIL ? "coil" : "discrete input", settings->address,
             settings->unit, settings->bus);
}

static int offset(const struct input_settings *a, const struct input_settings *b)
{
    bool same = a->bus_index == b->bus_index && a->unit == b->unit && a->table == b->table;
    int apart = b->address - a->address;
    return same && apart >= 0 && apart < SOURCE_BLOCK_MAX ? apart : -1;
}

static struct bus_job job(const struct input_settings *settings, uint16_t count)
{
    return (struct bus_job){.kind =
                                settings->table == INPUT_COIL ? BUS_READ_COIL : BUS_READ_DISCRETE,
                            .unit = settings->unit,
                            .address = settings->address,
                            .count = count};
}

const struct input_source input_source_modbus = {.word = "modbus",
                                                 .text = "an input of a board on a bus",
                                                 .rows = &own_rows,
                                                 .needs = "address",
                                                 .needs_text = "its number on the board, from 0",
                                                 .name = name,
                                                 .on_bus = true,
                                                 .offset = offset,
                                                 .job = job};
