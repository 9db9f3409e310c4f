/* backend_register.c - a holding register: one value for on and one for off, or a set-point
 * in counts. */
#include "output/on_bus.h"

struct BACKEND_OWN register_settings {
    uint16_t on_value, off_value; /* of a switched load */
};

static const struct setting_row rows[] = {
    {.key = "on_value",
     .kind = SETTING_QUANTITY,
     .unit = QUANTITY_COUNT,
     BACKEND_OWN_AT(struct register_settings, on_value),
     .least = 0,
     .greatest = 65535,
     .initial = "1",
     .text = "Written for on; not for set-points."},
    {.key = "off_value",
     .kind = SETTING_QUANTITY,
     .unit = QUANTITY_COUNT,
     BACKEND_OWN_AT(struct register_settings, off_value),
     .least = 0,
     .greatest = 65535,
     .initial = "0",
     .text = "Written for off; not for set-points."},
};
static const struct setting_rows own_rows = SETTING_ROWS(rows);

static const struct register_settings *own(const struct output_settings *settings)
{
    return (const void *)settings->own;
}

static void name(const struct output_settings *settings, uint8_t contactor, struct text *name)
{
    on_bus_name(settings, "register", contactor, name);
}

static void describe(const struct output_settings *settings, struct text *text)
{
    on_bus_describe(settings, "register", text);
}

static void check(const struct output_settings *settings, setting_say *say, void *context)
{
    if (!amount_is_set(settings) && own(settings)->on_value == own(settings)->off_value)
        say(context, "", "on_value and off_value are the same");
}

static int32_t switch_value(const struct output_settings *settings, bool closed)
{
    return closed ? own(settings)->on_value : own(settings)->off_value;
}

static enum backend_result set(const struct backend_call *call, int32_t value,
                               struct trouble *trouble)
{
    return on_bus_post(
        call, (struct bus_job){.kind = BUS_WRITE_REGISTERS, .value = {(uint16_t)value}}, trouble);
}

static enum backend_result read(const struct backend_call *call, int32_t *value,
                                struct trouble *trouble)
{
    (void)value; /* comes with the answer */
    return on_bus_post(call, (struct bus_job){.kind = BUS_READ_REGISTERS}, trouble);
}

const struct backend backend_register = {.word = "register",
                                         .text =
                                             "a Modbus holding register: a state or a set-point",
                                         .rows = {&on_bus_rows, &own_rows, &amount_rows},
                                         .on_bus = true,
                                         .amounts = true,
                                         .counts_most = UINT16_MAX,
                                         .name = name,
                                         .describe = describe,
                                         .mind = on_bus_mind,
                                         .mind_once = on_bus_mind_once,
                                         .check = check,
                                         .same_place = on_bus_same_place,
                                         .reads_back = on_bus_reads_back,
                                         .switch_value = switch_value,
                                         .set = set,
                                         .read = read};
