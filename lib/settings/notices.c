/* notices.c - what the settings cannot promise, and what to look after.
 *
 * Nothing here is a mistake: the file is accepted. But whoever signs for the switchboard
 * should have read it. */
#include "notices.h"

#include <grp.h>
#include <string.h>
#include <unistd.h>

#include "output/backend.h"
#include "rules/kind.h"
#include "sentence.h"

/* Calls `mind` for each load; it says what there is to say. */
typedef void mind_load(FILE *to, const struct settings *settings, uint16_t index);

struct sayer {
    FILE *to;
    const char *name;
};

static void say_of_load(void *context, const char *key, const char *text)
{
    const struct sayer *sayer = context;
    (void)key;
    sentence(sayer->to, "%s: %s", sayer->name, text);
}

static void mind_output(FILE *to, const struct settings *settings, uint16_t index)
{
    const struct output_settings *output = &settings->outputs[index];
    struct sayer sayer = {to, settings->names[index].name};
    if (backend_of(output)->mind)
        backend_of(output)->mind(output, say_of_load, &sayer);
}

static bool heats_until_satisfied(const struct load_settings *load)
{
    for (uint8_t k = 0; k < load->floor_count; k++)
        if (load->floor[k].measure == FLOOR_SATISFIED)
            return true;
    return false;
}

static void mind_tank(FILE *to, const struct settings *settings, uint16_t index)
{
    const struct load_settings *load = &settings->loads[index];
    if (load->thermostat && !heats_until_satisfied(load))
        sentence(to,
                 "%s: has a thermostat, but no floor that heats it until satisfied. If it is a "
                 "storage water heater, add one against Legionella, such as {measure: "
                 "satisfied, amount: 5 h, every_days: 7, by: \"17:00\"}.",
                 settings->names[index].name);
}

/* 60 C against Legionella: HSE HSG274 Part 2 (2014), "hot water should be stored at least at
 * 60 C". At most 50 C at a bathroom's outlets: AS/NZS 3500.4 (from memory). */
static void mind_water(FILE *to, const struct settings *settings, uint16_t index)
{
    enum { STORED_LEAST_MC = 60000, SCALDS_MC = 50000 };
    const struct heat_settings *water = &settings->loads[index].water;
    const char *name = settings->names[index].name;
    if (water->volume_ml == 0)
        return;
    if (water->set_mc < STORED_LEAST_MC)
        sentence(to,
                 "%s: stores water at %s. Under 60 °C Legionella can grow; common guidance (HSE "
                 "HSG274 Part 2) stores it at 60 °C or more. Local codes and licensed practice "
                 "decide.",
                 name, AMOUNT(QUANTITY_TEMPERATURE_MC, water->set_mc));
    if (water->set_mc > SCALDS_MC)
        sentence(to,
                 "%s: stores water at %s. Over 50 °C at the tap it scalds: it needs the tempering "
                 "or mixing valve that the local code (such as AS/NZS 3500.4) asks for.",
                 name, AMOUNT(QUANTITY_TEMPERATURE_MC, water->set_mc));
}

static bool has_sensor(const struct settings *settings, uint16_t index)
{
    for (uint8_t k = 0; k < settings->sensor_count; k++)
        if (settings->sensors[k].load_index == index)
            return true;
    return false;
}

/* Learning without the thermometer that it was told of keeps reserves as without one, and
 * in its first days waits for what never comes. */
static void mind_probe(FILE *to, const struct settings *settings, uint16_t index)
{
    const struct heat_settings *water = &settings->loads[index].water;
    const char *name = settings->names[index].name;
    if (!water->probed && has_sensor(settings, index))
        sentence(to,
                 "%s: its sensor is shown and nothing more: with probe: yes and probe_height under "
                 "water, start_fraction: learnt uses it.",
                 name);
    if (water->volume_ml == 0 || !water->probed || settings_read_tank(settings, index))
        return;
    sentence(to,
             "%s: has probe: yes, but no sensor, and no meter of role: tank, reads its "
             "temperature: it is estimated as without a probe.",
             name);
}

static void mind_supply(FILE *to, const struct settings *settings, uint16_t index)
{
    const char *obeys = kind_of(&settings->loads[index])->obeys;
    if (obeys)
        sentence(to,
                 "%s: obeys a %s. Its supply must never be switched by a contactor of this "
                 "controller.",
                 settings->names[index].name, obeys);
}

/* What goes for all outputs of a kind is said once. */
static void mind_kinds(FILE *to, const struct settings *settings)
{
    for (uint16_t i = 0; i < settings->rules.load_count; i++) {
        const char *once = backend_of(&settings->outputs[i])->mind_once;
        bool said = false;
        for (uint16_t k = 0; k < i; k++)
            said |= backend_of(&settings->outputs[k])->mind_once == once;
        if (once && !said)
            sentence(to, "%s", once);
    }
}

/* A map tells what the device is usually set to; 0: nothing. */
static void mind_line(FILE *to, const struct settings *settings)
{
    for (uint8_t k = 0; k < settings->meter_count; k++) {
        const struct meter_settings *meter = &settings->meters[k];
        const struct bus_settings *bus = &settings->buses[meter->bus_index];
        if (!bus->port[0] || meter->map.baud == 0)
            continue;
        uint8_t stop_bits = meter->map.stop_bits ? meter->map.stop_bits : 1;
        if ((int64_t)meter->map.baud != bus->baud || meter->map.parity != bus->parity ||
            stop_bits != bus->stop_bits)
            sentence(to, "Meter %s: the datasheet says %u baud 8%c%u, bus %s has %d baud 8%c%d.",
                     meter->name, meter->map.baud, parity_letter(meter->map.parity), stop_bits,
                     bus->name, bus->baud, parity_letter(bus->parity), (int)bus->stop_bits);
    }
}

/* What no source settles is looked at once, on the meter's own display. */
static void mind_maps(FILE *to, const struct settings *settings)
{
    for (uint8_t k = 0; k < settings->meter_count; k++) {
        const struct meter_settings *meter = &settings->meters[k];
        if (meter->map.verified == METER_VERIFIED_MEMORY)
            sentence(to,
                     "Meter %s: its map %s is from memory: compare its values with the meter's "
                     "display before a load depends on them.",
                     meter->name, meter->map_name);
        if (meter->map.unsure[0])
            sentence(to, "Meter %s: not verified in its map %s: %s.", meter->name, meter->map_name,
                     meter->map.unsure);
    }
}

static bool is_here(const char *host)
{
    return strcmp(host, "localhost") == 0 || strncmp(host, "127.", 4) == 0 ||
           strcmp(host, "::1") == 0;
}

static void mind_broker(FILE *to, const struct mqtt_settings *mqtt)
{
    if (mqtt->enabled && !mqtt->tls && !is_here(mqtt->host))
        sentence(to, "The broker is used without TLS: anyone on that network can read %s%s.",
                 mqtt->user[0] ? "the password" : "the messages",
                 mqtt->accept_orders ? " and switch loads" : "");
}

/* Who checks need not be who runs the daemon: its group is that of the unit. */
static void mind_secrets(FILE *to, const struct settings *settings)
{
    char buffer[SENTENCE_SIZE];
    struct text text = text_in(buffer, sizeof(buffer));
    const struct group *group = getgrnam("sluice");
    if (settings_secret_open(settings, group ? group->gr_gid : getegid(), &text))
        sentence(to, "%s.", buffer);
}

/* One meter tells a thermostat from a cloud only as long as a cloud takes longer. */
static void mind_polls(FILE *to, const struct settings *settings, uint16_t index)
{
    enum { TELLING_MS = 2000 };
    const struct load_settings *load = &settings->loads[index];
    if (load->metered || !heats_until_satisfied(load))
        return;
    for (uint8_t k = 0; k < settings->meter_count; k++)
        if (settings->meters[k].role == ROLE_GRID && settings->meters[k].every_ms > TELLING_MS)
            sentence(
                to,
                "%s: with the grid read every %g s the edge of a cloud may be mistaken for its "
                "thermostat, and \"satisfied\" reported too early: read the grid every 1 s, "
                "or give the load a meter of its own.",
                settings->names[index].name, settings->meters[k].every_ms / 1000.0);
}

static void each_load(FILE *to, const struct settings *settings, mind_load *mind)
{
    for (uint16_t i = 0; i < settings->rules.load_count; i++)
        mind(to, settings, settings->rules.order[i]);
}

void notices_write(FILE *to, const struct settings *settings)
{
    fprintf(to, "\nNotices\n");
    for (int k = 0; k < settings->notices.count; k++)
        sentence(to, "%s: %s", settings->notices.item[k].place, settings->notices.item[k].text);
    mind_kinds(to, settings);
    each_load(to, settings, mind_output);
    each_load(to, settings, mind_supply);
    each_load(to, settings, mind_tank);
    each_load(to, settings, mind_water);
    each_load(to, settings, mind_probe);
    each_load(to, settings, mind_polls);
    mind_line(to, settings);
    mind_maps(to, settings);
    mind_broker(to, &settings->mqtt);
    mind_secrets(to, settings);
    if (settings_end_is_open(settings))
        sentence(to, "The last line of the file has no line feed: the file may be cut off. Check "
                     "that nothing is missing.");
    if (settings->zone_is_odd)
        sentence(to,
                 "Zone %s has coming clock changes that its rule does not give: local times may be "
                 "wrong around them.",
                 settings->timezone);
    if (settings->rules.export_limit_w > 0)
        sentence(to,
                 "sluice is not part of export limiting: an inverter that limits export keeps its "
                 "own wire to its meter.");
    sentence(to, "Off, inhibited or in its fail state is not isolated: isolate all supplies and "
                 "prove dead.");
}
