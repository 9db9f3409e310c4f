/* household.c - for whoever lives there: what it does, what is promised, how to get hot water
 * now, what the words mean, whom to call. Nothing that the settings do not say. */
#include <string.h>

#include "core/quantity.h"
#include "output/backend.h"
#include "sheets.h"
#include "sluice/page/show.h"

static bool heats_water(const struct load_settings *load)
{
    return load->water.volume_ml > 0;
}

/* A thermostat tells that it heats something; what, is not stated. */
static bool heats(const struct load_settings *load)
{
    return heats_water(load) || load->thermostat;
}

/* ---- what it does -----------------------------------------------------------------------------
 */

static void tell_purpose(const struct settings *settings, struct paper *paper)
{
    paper_say(paper,
              "A small computer at the switchboard reads the electricity meter. When the house has "
              "power to spare that would otherwise go to the grid, it switches on what is listed "
              "here, the first one first, and off again when the power is needed elsewhere. It "
              "works by itself, day and night%s.",
              settings->mqtt.enabled ? ", whether or not the dashboard is there" : "");
}

static void write_days(const struct floor_settings *floor, struct text *text)
{
    if (floor->every_days) {
        text_add(text, ", at least once in %u days", floor->every_days);
    } else if (floor->weekdays == WEEKDAYS_ALL) {
        text_add(text, ", every day");
    } else {
        text_add(text, ", on ");
        weekdays_write(floor->weekdays, text);
    }
}

static void tell_floor(const struct load_settings *load, const struct floor_settings *floor,
                       struct paper *paper)
{
    char buffer[256];
    struct text text = text_in(buffer, sizeof(buffer));
    if (floor->measure == FLOOR_SATISFIED)
        text_add(&text, "heated through until its thermostat switches off");
    else if (floor->measure == FLOOR_ENERGY)
        text_add(&text, "at least ");
    else
        text_add(&text, "at least ");
    if (floor->measure == FLOOR_ENERGY)
        quantity_write(QUANTITY_ENERGY_MWH, floor->amount, &text);
    else if (floor->measure == FLOOR_TIME)
        quantity_write(QUANTITY_DURATION_MS, floor->amount, &text);
    if (floor->measure == FLOOR_TIME)
        text_add(&text, heats(load) ? " of heating" : " of running");
    text_add(&text, " by ");
    quantity_write(QUANTITY_TIME_S, floor->by_s, &text);
    write_days(floor, &text);
    paper_item(paper,
               "Guaranteed: %s, whatever the weather%s. What the sun does not give is bought "
               "%s.",
               buffer,
               floor->measure == FLOOR_TIME && load->thermostat ? ", or less if it is hot before"
                                                                : "",
               floor->grid == FLOOR_IN_CHEAPEST_HOURS ? "in the cheapest hours that are in time"
                                                      : "as late as is safe");
}

static void tell_load(const struct settings *settings, uint16_t index, struct paper *paper)
{
    const struct load_settings *load = &settings->loads[index];
    char power[40];
    struct text text = text_in(power, sizeof(power));
    show_power(&text, load->power_w);
    paper_heading(paper, settings->names[index].title);
    paper_list_begin(paper);
    for (uint8_t k = 0; k < load->floor_count; k++)
        tell_floor(load, &load->floor[k], paper);
    if (load->floor_count == 0)
        paper_item(paper, "Nothing is guaranteed: it runs %s.",
                   load->uses_spare ? "when there is power to spare, or when you switch it on"
                                    : "only when you switch it on");
    else if (!load->uses_spare)
        paper_item(paper, "It never runs on spare power, only for what is guaranteed and when you "
                          "switch it on.");
    if (backend_of(&settings->outputs[index])->on_broker)
        paper_item(paper, "It is switched through the broker (MQTT): while that is away, it stays "
                          "as it is.");
    paper_item(paper, "Takes up to %s. If the controller stops: %s.", power,
               settings->outputs[index].fail_state == OUTPUT_FAIL_ON
                   ? "on, and its own thermostat rules it"
                   : "off");
    paper_list_end(paper);
}

static void tell_promise(struct paper *paper)
{
    paper_say(paper,
              "A guarantee needs mains power, the controller and the load itself in order. "
              "It is called kept only when the meter has shown that the load really ran. If the "
              "controller stops, loads are switched as said above as far as anything still "
              "can do that; otherwise they stay as they were.");
}

/* ---- hot water now ------------------------------------------------------------------------------
 */

static void tell_dashboard(const struct settings *settings, const char *name, struct paper *paper)
{
    const struct mqtt_settings *mqtt = &settings->mqtt;
    if (mqtt->enabled && mqtt->accept_orders)
        paper_item(paper,
                   "On your dashboard: the order “on 2 h” for %s (topic %s/5/%s/%s/order/set).",
                   name, mqtt->domain, mqtt->device, name);
    else if (mqtt->enabled)
        paper_item(paper, "On a dashboard: it can be watched there; orders are switched off in the "
                          "settings.");
    else
        paper_item(paper, "On a dashboard: none is set up.");
}

/* The load that people will want now: the first that heats water, else that has a thermostat,
 * else the first of all. */
static uint16_t wanted_load(const struct settings *settings)
{
    for (int pass = 0; pass < 2; pass++)
        for (uint16_t place = 0; place < settings->rules.load_count; place++) {
            uint16_t k = settings->rules.order[place];
            if (pass == 0 ? heats_water(&settings->loads[k]) : heats(&settings->loads[k]))
                return k;
        }
    return settings->rules.order[0];
}

static void tell_button(const struct settings *settings, const struct input_settings *input,
                        struct paper *paper)
{
    char run[40];
    struct text text = text_in(run, sizeof(run));
    show_duration(&text, input->run_ms);
    paper_item(paper, "The push button “%s”: %s runs for %s; pressed again, that ends.",
               input->name, settings->names[input->load_index].title, run);
}

static void tell_board(const struct settings *settings, struct paper *paper)
{
    int buttons = 0;
    for (int k = 0; k < settings->input_count; k++) {
        if (settings->inputs[k].role != INPUT_BUTTON)
            continue;
        tell_button(settings, &settings->inputs[k], paper);
        buttons++;
    }
    if (buttons == 0)
        paper_item(paper, "A push button: not stated in the settings.");
    if (settings->lamp.enabled)
        paper_item(paper, "The lamp: steady while there is heating; it blinks while something is "
                          "wrong.");
}

static void tell_now(const struct settings *settings, struct paper *paper)
{
    uint16_t index = wanted_load(settings);
    const char *name = settings->names[index].name;
    char heading[120];
    struct text text = text_in(heading, sizeof(heading));
    text_add(&text, "%s now",
             heats_water(&settings->loads[index]) ? "Hot water" : settings->names[index].title);
    paper_heading(paper, heading);
    paper_list_begin(paper);
    tell_dashboard(settings, name, paper);
    paper_item(paper,
               "On the controller, or by SSH: sluice on %s 2 h. It answers when it starts, or "
               "what keeps it off, and ends by itself. Back to automatic: sluice auto %s.",
               name, name);
    tell_board(settings, paper);
    paper_item(paper, "Going away: sluice holiday until \"2026-01-20 17:00\" switches off what may "
                      "be off, and has the water hot when you return. Back early: sluice holiday "
                      "end.");
    if (settings->loads[index].strict)
        paper_item(paper, "Its hours and its daily maximum hold for such an order too.");
    paper_list_end(paper);
}

/* ---- words
 * ---------------------------------------------------------------------------------------- */

static const char *const vocabulary[][2] = {
    {"ON, off",
     "what the contactor does now; with a question mark: ordered, and not yet confirmed"},
    {"spare power", "what the house would otherwise export; “short”: how much more is bought"},
    {"guaranteed", "the least that a load gets, and by when; “start by”: the latest start for it"},
    {"kept, missed", "the guarantee was fulfilled, and the meter showed it; or it was not"},
    {"not known if kept",
     "it was switched on for long enough, but nothing showed that it heated: if "
     "the water is cold, call"},
    {"draws", "the power that the load is seen to take; “draws nothing”: perhaps hot enough, "
              "perhaps a fault"},
    {"satisfied", "its thermostat has opened: hot enough for now; tried again later"},
    {"settling", "there is enough to spare; it waits to see that it lasts"},
    {"minimum on, minimum off", "it finishes a run, or rests, to spare the contactor"},
    {"manually", "someone ordered it on or off"},
    {"inhibited", "kept off whatever else, until someone allows it: ask who did it and why"},
    {"disabled", "runs only when ordered"},
    {"stale, missing", "the meter was not read lately: nothing counts as spare power"},
    {"possible ...", "a fault that the figures suggest and nobody has confirmed: call"},
};

static void tell_words(struct paper *paper)
{
    paper_heading(paper, "What the words on the screen mean");
    paper_table_begin(paper, (const char *const[]){"word", "meaning", NULL});
    for (size_t k = 0; k < sizeof(vocabulary) / sizeof(vocabulary[0]); k++)
        paper_row(paper, (const char *const[]){vocabulary[k][0], vocabulary[k][1], NULL});
    paper_table_end(paper);
}

/* ---- care, and whom to call
 * ------------------------------------------------------------------------- */

/* Facts as in README: WHO, Legionella and the prevention of legionellosis, 2007; HSE HSG274 part
 * 2. That water of 60 degrees burns within seconds: common guidance, from memory. */
static void tell_care(const struct settings *settings, struct paper *paper)
{
    bool water = false;
    for (uint16_t k = 0; k < settings->rules.load_count; k++)
        water |= heats(&settings->loads[k]);
    if (water)
        paper_warn(paper, "Hot water.",
                   "Water of 60 °C burns skin within seconds: the tempering valve before bath and "
                   "shower stays in service, and its setting is for a licensed person. Water that "
                   "is stored below 60 °C, or not wholly heated from time to time, can breed "
                   "Legionella: leave the thermostat at 60 °C or above. Where local codes ask for "
                   "more or for something else, they are right.");
    paper_warn(paper, "Electricity.",
               "These loads start by themselves and without warning. Off on the screen does not "
               "mean safe to touch: nothing is isolated by it. Covers are opened by licensed "
               "people, with all supplies isolated and proved dead.");
}

static void tell_contact(const struct installer *installer, struct paper *paper)
{
    const char *const lines[][2] = {{"Name", installer->name},
                                    {"Telephone", installer->phone},
                                    {"Email", installer->email},
                                    {"Licence", installer->licence}};
    bool any = false;
    paper_heading(paper, "Whom to call");
    paper_list_begin(paper);
    for (size_t k = 0; k < 4; k++) {
        if (!lines[k][1][0])
            continue;
        paper_item(paper, "%s: %s", lines[k][0], lines[k][1]);
        any = true;
    }
    if (!any)
        paper_item(paper, "Not stated in the settings (site: installer). Written by hand: "
                          "______________________________");
    paper_list_end(paper);
}

void household_write(const struct house *house, struct paper *paper)
{
    const struct settings *settings = house->settings;
    char aside[96];
    struct text text = text_in(aside, sizeof(aside));
    text_add(&text, "for the household. Printed %s", house->printed);
    paper_page(paper, settings->site_name, aside);
    tell_purpose(settings, paper);
    for (uint16_t place = 0; place < settings->rules.load_count; place++)
        tell_load(settings, settings->rules.order[place], paper);
    tell_promise(paper);
    tell_now(settings, paper);
    tell_words(paper);
    tell_contact(&settings->installer, paper);
    tell_care(settings, paper);
}
