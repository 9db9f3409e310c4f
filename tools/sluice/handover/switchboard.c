/* switchboard.c - for whoever opens the switchboard: as fitted, as far as the settings say; the
 * contactors; labels to print; what the daemon has measured. */
#include <string.h>

#include "diagram.h"
#include "output/backend.h"
#include "sheets.h"
#include "sluice/page/show.h"
#include "wiring.h"

/* ---- contactors ---------------------------------------------------------------------------------
 */

/* Utilisation categories from memory of IEC 60947-4-1 (AC-1, AC-3) and IEC 61095 (AC-7a, AC-7b),
 * as README has them. */
static const char *category_of(const struct load_settings *load)
{
    if (wiring_contactors(load) == 0)
        return "none: its supply is never switched";
    if (load->motor)
        return "motor: AC-3 or AC-7b";
    if (load->thermostat || load->water.volume_ml > 0)
        return "heating: AC-1 or AC-7a";
    return "AC-1 or AC-7a if it only heats, AC-3 or AC-7b with a motor: not stated";
}

static void write_outputs(const struct settings *settings, uint16_t index, struct text *text)
{
    const struct output_settings *output = &settings->outputs[index];
    backend_of(output)->describe(output, text);
    text_add(text, "%s; fails %s",
             output->normally_closed ? ", on the normally closed contact" : "",
             output->fail_state == OUTPUT_FAIL_ON ? "on" : "off");
}

/* "15.7 A", or of each stage "5.2 A + 10.4 A". */
static void write_currents(const struct settings *settings, uint16_t index, struct text *text)
{
    const struct load_settings *load = &settings->loads[index];
    int contactors = wiring_contactors(load);
    for (int k = 0; k < (contactors > 0 ? contactors : 1); k++) {
        int32_t power_w = contactors > 0 ? wiring_contactor_w(load, k) : load->power_w;
        text_add(text, k ? " + " : "");
        wiring_write_amps(wiring_phase_ma(&settings->rules, load, power_w), text);
    }
}

static void tell_contactor(const struct settings *settings, uint16_t index, struct paper *paper)
{
    const struct load_settings *load = &settings->loads[index];
    char power[64], currents[96], outputs[256];
    struct text text = text_in(power, sizeof(power));
    show_power(&text, load->power_w);
    text_add(&text, " on %s", wiring_phases(load->phases));
    text = text_in(currents, sizeof(currents));
    write_currents(settings, index, &text);
    text = text_in(outputs, sizeof(outputs));
    write_outputs(settings, index, &text);
    paper_row(paper, (const char *const[]){settings->names[index].title, power, currents,
                                           category_of(load), outputs, NULL});
}

static void tell_contactors(const struct settings *settings, struct paper *paper)
{
    paper_table_begin(paper, (const char *const[]){"load", "power", "amps a phase", "contactor",
                                                   "ordered by", NULL});
    for (uint16_t place = 0; place < settings->rules.load_count; place++)
        tell_contactor(settings, settings->rules.order[place], paper);
    paper_table_end(paper);
    char volts[40];
    struct text text = text_in(volts, sizeof(volts));
    quantity_write(QUANTITY_VOLTAGE_MV, settings->rules.voltage_mv, &text);
    paper_say(paper,
              "Amps: the stated power at %s and power factor 1, spread evenly over its "
              "phases; a motor takes more, and much more while it starts: read its plate. "
              "The contactor must be rated for at least this in its utilisation category "
              "(IEC 60947-4-1, IEC 61095); which one was fitted, cable, protection and "
              "isolators are not stated in the settings.",
              volts);
}

/* ---- as fitted
 * ------------------------------------------------------------------------------------ */

static void tell_bus(const struct settings *settings, uint8_t index, struct paper *paper)
{
    const struct bus_settings *bus = &settings->buses[index];
    char port[200], units[400] = "";
    struct text text = text_in(port, sizeof(port)), of_units = text_in(units, sizeof(units));
    wiring_write_port(bus, &text);
    for (uint8_t k = 0; k < settings->meter_count; k++) {
        const struct meter_settings *meter = &settings->meters[k];
        if (meter->bus_index == index)
            text_add(&of_units, "; unit %u: meter %s (%s), map %s%s", meter->unit, meter->name,
                     meter->load[0] ? meter->load : wiring_role(meter->role), meter->map_name,
                     meter->inverted ? ", inverted" : "");
    }
    paper_item(paper, "Bus %s: %s%s%s", bus->name, port,
               bus->mode == BUS_LISTEN ? ", listened to only" : "", units);
}

static const char *stated_supplies(const struct settings *settings)
{
    static const char *const words[] = {
        "the grid; solar and battery are not stated", "the grid and solar; a battery is not stated",
        "the grid and a battery; solar is not stated", "the grid, solar and a battery"};
    return words[(settings->rules.solar ? 1 : 0) + (settings->rules.battery ? 2 : 0)];
}

static void tell_rest(const struct settings *settings, struct paper *paper)
{
    const struct mqtt_settings *mqtt = &settings->mqtt;
    const struct gateway_settings *gateway = &settings->gateway;
    paper_item(paper, "Supplies: %s.", stated_supplies(settings));
    if (mqtt->enabled)
        paper_item(paper, "Broker: %s, port %d, %s, device %s/5/%s.", mqtt->host, (int)mqtt->port,
                   mqtt->tls ? "TLS" : "without TLS", mqtt->domain, mqtt->device);
    else
        paper_item(paper, "Broker: none.");
    if (gateway->enabled)
        paper_item(paper,
                   "Meter for others: %s%s%s. An inverter that limits export keeps its own "
                   "wire to the meter.",
                   gateway->tcp_port > 0 ? "Modbus TCP on " : "",
                   gateway->tcp_port > 0 ? gateway->listen : "", gateway->port);
}

static void tell_fitted(const struct settings *settings, struct paper *paper)
{
    if (!paper->plain) {
        fputs("<figure>\n", paper->to);
        diagram_draw(settings, paper->to);
        fputs("</figure>\n", paper->to);
        paper_say(paper, "Thick lines: mains. Dashed: signals. Pale: not stated in the settings.");
    }
    paper_list_begin(paper);
    for (uint8_t k = 0; k < settings->bus_count; k++)
        tell_bus(settings, k, paper);
    tell_rest(settings, paper);
    paper_list_end(paper);
}

/* ---- labels
 * ----------------------------------------------------------------------------------------- */

static void label_load(const struct settings *settings, uint16_t index, struct paper *paper)
{
    const struct load_settings *load = &settings->loads[index];
    char text_of[400], currents[96];
    struct text text = text_in(text_of, sizeof(text_of)),
                of_currents = text_in(currents, sizeof(currents));
    text_add(&text, "Controlled automatically and remotely. May start at any time. Off is not "
                    "isolation: isolate and prove dead before opening.");
    if (wiring_contactors(load) > 0) {
        write_currents(settings, index, &of_currents);
        text_add(&text, " Contactor: load %s a phase, %s. Fitted: ________ A", currents,
                 category_of(load));
    }
    paper_label(paper, settings->names[index].title, text_of);
}

static void tell_labels(const struct settings *settings, struct paper *paper)
{
    char supplies[200];
    struct text text = text_in(supplies, sizeof(supplies));
    text_add(&text, "Stated: %s. Isolate all of them, and prove dead, before opening.",
             stated_supplies(settings));
    paper_heading(paper, "Labels to print, for the switchboard and at each load");
    paper_labels_begin(paper);
    paper_label(paper, "More than one supply", supplies);
    paper_label(paper, "Loads switched by a controller",
                "Contactors close by themselves. The controller is part of no protection: "
                "thermostats, cut-outs, RCDs, fuses and breakers stay in circuit.");
    for (uint16_t place = 0; place < settings->rules.load_count; place++)
        label_load(settings, settings->rules.order[place], paper);
    paper_labels_end(paper);
}

void switchboard_write(const struct house *house, struct paper *paper)
{
    char title[100], aside[120];
    struct text text = text_in(title, sizeof(title));
    text_add(&text, "Switchboard: %s", house->settings->site_name);
    text = text_in(aside, sizeof(aside));
    text_add(&text, "from the settings; compare with the wiring. Printed %s", house->printed);
    paper_page(paper, title, aside);
    tell_fitted(house->settings, paper);
    tell_contactors(house->settings, paper);
    tell_labels(house->settings, paper);
    observed_tell(house->observed, paper);
}
