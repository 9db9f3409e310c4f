/* status.c - the site as it stands, and all of it as JSON.
 *
 * What each value is, and what it is called, stands in the rows of lib/values. Here is only
 * where they find it. What takes a lock is asked for the status alone, not at each turn. */
#include "status.h"

#include <cjson/cJSON.h>
#include <string.h>

#include "site.h"

#ifndef SLUICE_VERSION
#error "SLUICE_VERSION comes from the build"
#endif

struct values_view status_view(const struct site *site)
{
    struct values_view view = {
        .settings = site->common.settings,
        .now = site->common.now,
        .started = site->common.started,
        .reading = &site->inputs.reading,
        .load_reading = site->inputs.load_reading,
        .import_mj = site->inputs.grid.import_mj,
        .export_mj = site->inputs.grid.export_mj,
        .gap_ms = site->inputs.grid.gap_ms,
        .spare_w = site->engine.outcome.spare_w,
        .memory = &site->engine.memory,
        .stored = site->kept.stored,
        .decisions = site->engine.decisions,
        .last_start = site->engine.last_start,
        .last_stop = site->engine.last_stop,
        .buses = site->lines.quality,
        .gateway = &site->serving.state,
        .faults = site->common.trouble,
        .fault_count = site->common.trouble_count,
    };
    for (uint8_t k = 0; k < site->common.settings->input_count; k++)
        view.inputs[k] = board_view(&site->board, k, site->common.now.mono);
    for (uint8_t k = 0; k < site->common.settings->sensor_count; k++)
        view.sensors[k] = thermometers_view(&site->thermometers, k, site->common.now.mono);
    return view;
}

static void add_meters(const struct inputs *inputs, const struct settings *settings,
                       struct values_view *view)
{
    for (uint8_t k = 0; k < settings->meter_count; k++) {
        const struct meter_watch *meter = &inputs->meters[k];
        view->meters[k] = (struct meter_view){.read = meter->read,
                                              .taken = meter->taken,
                                              .outcome = meter->outcome,
                                              .detail = meter->detail,
                                              .fault = meter->fault};
    }
}

static void add_outputs(const struct outputs *outputs, uint16_t count, struct values_view *view)
{
    for (uint16_t i = 0; i < count; i++) {
        view->outputs[i] = outputs_view(outputs, i);
        view->output_details[i] = outputs_detail(outputs, i);
    }
}

char *status_text(const struct site *site)
{
    struct values_view view = status_view(site);
    struct gateway_state gateway = site->serving.state;
    char broker[MQTT_VALUE_MAX] = "", ledger[LEDGER_EVENT_MAX];
    view.version = SLUICE_VERSION;
    view.settings_path = site->files.settings_path;
    view.last_accepted = site->files.accepted.in_force;
    view.accepted_at = site->files.accepted.at;
    add_meters(&site->inputs, site->common.settings, &view);
    add_outputs(site->switching.outputs, site->common.settings->rules.load_count, &view);
    if (site->serving.gateway)
        gateway_look(site->serving.gateway, &gateway);
    view.gateway = &gateway;
    view.broker_enabled = site->common.mqtt != NULL;
    view.broker_connected = site->common.mqtt && mqtt_connected(site->common.mqtt);
    if (site->common.mqtt)
        mqtt_trouble(site->common.mqtt, broker);
    ledger_trouble(site->common.ledger, ledger);
    view.broker_trouble = broker;
    view.ledger_trouble = ledger;
    return values_json(&view);
}

static char *meter_json(const struct meter_watch *meter, struct mono now)
{
    cJSON *root = cJSON_CreateObject(), *values = cJSON_AddObjectToObject(root, "values");
    cJSON_AddStringToObject(root, "outcome", bus_outcome_text(meter->outcome));
    cJSON_AddStringToObject(root, "detail", meter->detail);
    if (meter->read)
        cJSON_AddNumberToObject(root, "age_ms", (double)mono_since_ms(now, meter->taken));
    for (int q = 0; meter->read && q < METER_QUANTITIES; q++)
        if (meter->sample.has >> q & 1)
            cJSON_AddNumberToObject(values, meter_quantity_word((enum meter_quantity)q),
                                    (double)meter->sample.value[q]);
    char *json = cJSON_PrintUnformatted(root);
    cJSON_Delete(root);
    return json;
}

char *status_meter_text(const struct inputs *inputs, const struct common *common, const char *name)
{
    for (uint8_t k = 0; k < common->settings->meter_count; k++)
        if (strcmp(common->settings->meters[k].name, name) == 0)
            return meter_json(&inputs->meters[k], common->now.mono);
    return NULL;
}
