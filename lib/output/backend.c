/* backend.c - the table of back ends. A new kind is one file and one row here,
 * and its name. */
#include "output/backend.h"

const struct backend *backend_of(uint8_t kind)
{
    static const struct backend *const rows[] = {
        [OUTPUT_COIL] = &backend_coil,
        [OUTPUT_REGISTER] = &backend_register,
        [OUTPUT_TOPIC] = &backend_topic,
        [OUTPUT_LINE] = &backend_line,
    };
    return rows[kind];
}

void backend_name(const struct output_settings *settings, uint8_t contactor, struct text *name)
{
    switch ((enum output_kind)settings->kind) {
    case OUTPUT_COIL:
    case OUTPUT_REGISTER:
        text_add(name, "%s %u of unit %u on %s",
                 settings->kind == OUTPUT_COIL ? "coil" : "register", settings->address[contactor],
                 settings->unit, settings->bus);
        break;
    case OUTPUT_TOPIC:
        text_add(name, "topic %s", settings->topic);
        break;
    case OUTPUT_LINE:
        text_add(name, "line %u of %s", (unsigned)settings->line, settings->chip);
        break;
    }
}
