/* backend_coil.c - a coil of a relay board. */
#include "output/on_bus.h"

static void name(const struct output_settings *settings, uint8_t contactor, struct text *name)
{
    on_bus_name(settings, "coil", contactor, name);
}

static void describe(const struct output_settings *settings, struct text *text)
{
    on_bus_describe(settings, "coil", text);
}

static enum backend_result set(const struct backend_call *call, int32_t value,
                               struct trouble *trouble)
{
    return on_bus_post(call, (struct bus_job){.kind = BUS_WRITE_COIL, .value = {(uint16_t)value}},
                       trouble);
}

static enum backend_result read(const struct backend_call *call, int32_t *value,
                                struct trouble *trouble)
{
    (void)value; /* comes with the answer */
    return on_bus_post(call, (struct bus_job){.kind = BUS_READ_COIL}, trouble);
}

const struct backend backend_coil = {.word = "coil",
                                     .text = "Modbus coils of a relay board",
                                     .rows = {&on_bus_rows},
                                     .on_bus = true,
                                     .coils = true,
                                     .name = name,
                                     .describe = describe,
                                     .mind = on_bus_mind,
                                     .mind_once = on_bus_mind_once,
                                     .same_place = on_bus_same_place,
                                     .reads_back = on_bus_reads_back,
                                     .set = set,
                                     .read = read};
