/* on_bus.c - relay boards and other units: their settings, and jobs for their bus. */
#include "output/on_bus.h"

#include <string.h>

static const struct setting_row rows[] = {
    {.key = "bus",
     .kind = SETTING_TEXT,
     SETTING_AT(struct output_settings, bus),
     .initial = "",
     .example = "switchboard",
     .text = "The board's bus, by its name under buses."},
    {.key = "unit",
     .kind = SETTING_QUANTITY,
     .unit = QUANTITY_COUNT,
     SETTING_AT(struct output_settings, unit),
     .least = 1,
     .greatest = 247,
     .initial = "1",
     .example = "10",
     .text = "The board's unit id."},
    {.key = "address",
     .kind = SETTING_WORDS,
     SETTING_AT(struct output_settings, address),
     .initial = "",
     .example = "0",
     .text = "Its address from 0, as on the wire; a datasheet may count from 1. For a staged load "
             "a list, one for each stage."},
    {.key = "read_back",
     .kind = SETTING_YES_NO,
     SETTING_AT(struct output_settings, read_back),
     .initial = "yes",
     .text = "The board can be read back, and what it reports is taken as the truth. no: its "
             "acknowledgement is all there is."},
};
const struct setting_rows on_bus_rows = SETTING_ROWS(rows);

const char on_bus_mind_once[] =
    "A relay board without a communication time-out of its own keeps its last state when this "
    "controller loses its power or the bus is cut: its fail state cannot be promised then.";

void on_bus_mind(const struct output_settings *settings, setting_say *say, void *context)
{
    if (!settings->read_back)
        say(context, "read_back",
            "its board is not read back, so a relay that does not follow is seen only by the "
            "meter.");
}

bool on_bus_same_place(const struct output_settings *a, const struct output_settings *b)
{
    if (strcmp(a->bus, b->bus) != 0 || a->unit != b->unit)
        return false;
    for (uint8_t i = 0; i < a->contactors; i++)
        for (uint8_t j = 0; j < b->contactors; j++)
            if (a->address[i] == b->address[j])
                return true;
    return false;
}

bool on_bus_reads_back(const struct output_settings *settings)
{
    return settings->read_back;
}

void on_bus_name(const struct output_settings *settings, const char *what, uint8_t contactor,
                 struct text *name)
{
    text_add(name, "%s %u of unit %u on %s", what, settings->address[contactor], settings->unit,
             settings->bus);
}

void on_bus_describe(const struct output_settings *settings, const char *what, struct text *text)
{
    text_add(text, "%s%s ", what, settings->contactors > 1 ? "s" : "");
    for (uint8_t k = 0; k < settings->contactors; k++)
        text_add(text, "%s%u", k ? ", " : "", settings->address[k]);
    text_add(text, " of unit %u on bus %s%s", settings->unit, settings->bus,
             settings->read_back ? ", read back" : "");
}

enum backend_result on_bus_post(const struct backend_call *call, struct bus_job job,
                                struct trouble *trouble)
{
    job.id = call->job_id;
    job.unit = call->settings->unit;
    job.address = call->settings->address[call->contactor];
    job.count = 1;
    job.table = METER_HOLDING;
    job.now = call->now;
    if (!call->doors->post(call->doors->context, call->settings->bus_index, &job)) {
        trouble_set(trouble, "", "bus %s is overloaded", call->settings->bus);
        return BACKEND_UNSENT;
    }
    return BACKEND_POSTED;
}
