/* status.c - the site as it stands, and all of it as JSON.
 *
 * What each value is, and what it is called, stands in the rows of lib/values. Here is only
 * where they find it. What takes a lock is asked for the status alone, not at each turn. */
#include "status.h"

#ifndef SLUICE_VERSION
#error "SLUICE_VERSION comes from the build"
#endif

struct values_view status_view(const struct site *site)
{
    return (struct values_view){
        .settings = site->settings,
        .now = site->now,
        .started = site->started,
        .reading = &site->reading,
        .load_reading = site->load_reading,
        .import_mj = site->grid.import_mj,
        .export_mj = site->grid.export_mj,
        .gap_ms = site->grid.gap_ms,
        .spare_w = site->outcome.spare_w,
        .memory = &site->memory,
        .decisions = site->decisions,
        .buses = site->quality,
        .gateway = &site->gateway_state,
    };
}

static void add_meters(const struct site *site, struct values_view *view)
{
    for (uint8_t k = 0; k < site->settings->meter_count; k++) {
        const struct meter_watch *meter = &site->meters[k];
        view->meters[k] = (struct meter_view){.read = meter->read,
                                              .taken = meter->taken,
                                              .outcome = meter->outcome,
                                              .detail = meter->detail,
                                              .fault = meter->fault};
    }
}

static void add_outputs(const struct site *site, struct values_view *view)
{
    for (uint16_t i = 0; i < site->settings->rules.load_count; i++) {
        view->outputs[i] = outputs_view(site->outputs, i);
        view->output_details[i] = outputs_detail(site->outputs, i);
    }
}

char *status_text(struct site *site)
{
    struct values_view view = status_view(site);
    struct gateway_state gateway = site->gateway_state;
    char broker[MQTT_VALUE_MAX] = "", ledger[LEDGER_EVENT_MAX];
    const char *troubles[SITE_TROUBLES_MAX];
    view.version = SLUICE_VERSION;
    view.settings_path = site->settings_path;
    view.last_accepted = site->accepted.in_force;
    view.accepted_at = site->accepted.at;
    add_meters(site, &view);
    add_outputs(site, &view);
    if (site->gateway)
        gateway_look(site->gateway, &gateway);
    view.gateway = &gateway;
    view.broker_enabled = site->mqtt != NULL;
    view.broker_connected = site->mqtt && mqtt_connected(site->mqtt);
    if (site->mqtt)
        mqtt_trouble(site->mqtt, broker);
    ledger_trouble(site->ledger, ledger);
    view.broker_trouble = broker;
    view.ledger_trouble = ledger;
    for (int k = 0; k < site->trouble_count; k++)
        troubles[k] = site->troubles[k].text;
    view.troubles = troubles;
    view.trouble_count = site->trouble_count;
    return values_json(&view);
}
