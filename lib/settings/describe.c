/* describe.c - what the settings mean, in plain sentences for the electrician and the
 * household: what each load will do, when, and what is guaranteed. */
#include <string.h>

#include "notices.h"
#include "output/backend.h"
#include "rules/kind.h"
#include "sentence.h"
#include "settings.h"

#define POWER(value) AMOUNT(QUANTITY_POWER_W, value)
#define CURRENT(value) AMOUNT(QUANTITY_CURRENT_MA, value)
#define DURATION(value) AMOUNT(QUANTITY_DURATION_MS, value)
#define SHARE(value) AMOUNT(QUANTITY_SHARE_PERMILLE, value)
#define PRICE(value) AMOUNT(QUANTITY_PRICE_MICRO, value)

/* ---- what energy costs ------------------------------------------------------------------------
 */

static void add_when(struct text *text, const struct hours *hours, uint8_t first_month,
                     uint8_t last_month)
{
    static const char *const names[] = {"",    "jan", "feb", "mar", "apr", "may", "jun",
                                        "jul", "aug", "sep", "oct", "nov", "dec"};
    if (hours->count) {
        text_add(text, " ");
        hours_write(hours, text);
    }
    if (first_month)
        text_add(text, " in %s", names[first_month]);
    if (first_month && first_month != last_month)
        text_add(text, "-%s", names[last_month]);
}

/* The exceptions, each with its price. */
static void add_bands(struct text *text, const struct tariff_band *band, int from, int count)
{
    for (int k = from; k < count; k++) {
        text_add(text, "; %s", PRICE(band[k].price_micro));
        add_when(text, &band[k].hours, band[k].first_month, band[k].last_month);
    }
}

static void describe_energy(FILE *to, const struct tariff *tariff)
{
    char buffer[SENTENCE_SIZE];
    struct text text = text_in(buffer, sizeof(buffer));
    if (tariff->count > 0) {
        add_bands(&text, tariff->band, 1, tariff->count);
        sentence(to, "Energy imported costs %s%s.", PRICE(tariff->band[0].price_micro), buffer);
    }
    if (tariff->feed_in_micro == 0 && tariff->feed_in_count == 0)
        return;
    text = text_in(buffer, sizeof(buffer));
    add_bands(&text, tariff->feed_in_band, 0, tariff->feed_in_count);
    sentence(to, "Energy exported earns %s%s.", PRICE(tariff->feed_in_micro), buffer);
}

static void describe_demand(FILE *to, const struct tariff_demand *demand)
{
    char buffer[SENTENCE_SIZE];
    struct text text = text_in(buffer, sizeof(buffer));
    add_when(&text, &demand->hours, demand->first_month, demand->last_month);
    sentence(to, "Each month's highest mean over %s%s costs %s%s.",
             AMOUNT(QUANTITY_DURATION_MS, demand->window_ms), buffer,
             AMOUNT(QUANTITY_DEMAND_MICRO, demand->price_micro),
             demand->per == TARIFF_PER_DAY ? " for each of its days" : "");
}

static void describe_controlled(FILE *to, const struct tariff_controlled *controlled)
{
    char buffer[SENTENCE_SIZE];
    struct text text = text_in(buffer, sizeof(buffer));
    hours_write(&controlled->hours, &text);
    text_add(&text, "; it costs ");
    if (controlled->daily_micro)
        text_add(&text, "%s and ", AMOUNT(QUANTITY_DAILY_MICRO, controlled->daily_micro));
    text_add(&text, "%s", PRICE(controlled->band[0].price_micro));
    add_bands(&text, controlled->band, 1, controlled->count);
    sentence(to, "The controlled supply has power %s.", buffer);
}

static void describe_tariff(FILE *to, const struct tariff *tariff)
{
    describe_energy(to, tariff);
    if (tariff->daily_micro)
        sentence(to, "The supply costs %s.", AMOUNT(QUANTITY_DAILY_MICRO, tariff->daily_micro));
    for (int k = 0; k < tariff->demand_count; k++)
        describe_demand(to, &tariff->demand[k]);
    if (tariff->controlled.there)
        describe_controlled(to, &tariff->controlled);
}

/* ---- the site ---------------------------------------------------------------------------------
 */

static void describe_meters(FILE *to, const struct settings *settings)
{
    static const char *const roles[] = {[ROLE_GRID] = "the grid",
                                        [ROLE_SOLAR] = "solar power",
                                        [ROLE_BATTERY] = "the battery",
                                        [ROLE_LOAD] = "load ",
                                        [ROLE_TANK] = "the tank temperature of "};
    for (uint8_t k = 0; k < settings->meter_count; k++) {
        const struct meter_settings *meter = &settings->meters[k];
        sentence(to, "Meter %s reads %s%s every %s: unit %u on bus %s, map %s%s.", meter->name,
                 roles[meter->role], meter->load, DURATION(meter->every_ms), meter->unit,
                 meter->bus, meter->map_name, meter->inverted ? ", inverted" : "");
    }
}

static void describe_spare_power(FILE *to, const struct rules_settings *rules)
{
    if (rules->battery)
        sentence(to,
                 "Spare power is what is exported and %s of what the battery charges with, minus "
                 "its discharge and %s.",
                 SHARE(1000 - rules->battery_reserved_permille), POWER(rules->margin_w));
    else
        sentence(to, "Spare power is what is exported, minus %s.", POWER(rules->margin_w));
    if (rules->phase_count > 1)
        sentence(to, "%s",
                 rules->billing == BILLING_NET
                     ? "The retail meter nets the phases: what one exports another may use."
                     : "The retail meter counts each phase by itself: a load may use what its own "
                       "phases export.");
    if (rules->export_limit_w > 0 && rules->probes_per_day > 0)
        sentence(to,
                 "Where export is limited to %s, a load may be started as a probe for more, at "
                 "most %u times a day.",
                 POWER(rules->export_limit_w), rules->probes_per_day);
    if (rules->quiet.count > 0) {
        char buffer[SENTENCE_SIZE];
        struct text text = text_in(buffer, sizeof(buffer));
        hours_write(&rules->quiet, &text);
        sentence(to, "In the quiet hours %s nothing starts that can wait.", buffer);
    }
}

static void describe_site(FILE *to, const struct settings *settings)
{
    const struct rules_settings *rules = &settings->rules;
    fprintf(to, "%s\n", settings->site_name);
    sentence(to, "%s phase%s of %s, %s a phase at the main switch; local time of %s.",
             rules->phase_count == 1 ? "One" : "Three", rules->phase_count == 1 ? "" : "s",
             AMOUNT(QUANTITY_VOLTAGE_MV, rules->voltage_mv), CURRENT(rules->supply_limit_ma),
             settings->timezone);
    describe_meters(to, settings);
    describe_spare_power(to, rules);
    describe_tariff(to, &rules->tariff);
}

/* ---- one load ---------------------------------------------------------------------------------
 */

static const char *phases_text(uint8_t phases)
{
    static const char *const words[] = {"no phase", "L1",        "L2",        "L1 and L2",
                                        "L3",       "L1 and L3", "L2 and L3", "all three phases"};
    return words[phases & 7];
}

static void describe_kind(FILE *to, const struct load_settings *load)
{
    char line[160];
    struct text text = text_in(line, sizeof(line));
    kind_of(load)->describe(load, phases_text(load->phases), &text);
    sentence(to, "%s", line);
}

static void describe_spare(FILE *to, const struct load_settings *load)
{
    if (!load->uses_spare) {
        sentence(to, "Never runs on spare power, only for its floors and manually.");
        return;
    }
    if (load->start_permille == RULES_START_LEARNT)
        sentence(to, "Starts when heat costs less than it will be worth, judging by sun, household "
                     "use and hot water of the last four weeks; it may buy ahead. To learn, it "
                     "keeps hot for its first three days, whatever that costs.");
    else if (load->start_permille == 0)
        sentence(to, "Starts when the share of %s that pays by the tariff has been spare for %s.",
                 POWER(load_start_w(load, NULL)), DURATION(load->settle_start_ms));
    else
        sentence(to, "Starts when %s has been spare for %s%s.",
                 POWER((int64_t)load_start_w(load, NULL) * load->start_permille / 1000),
                 DURATION(load->settle_start_ms),
                 load->start_permille < 1000 ? "; the rest is bought" : "");
    sentence(to, "Stops when spare power, not counting its own use, stays %s below that for %s.",
             POWER(load->stop_margin_w), DURATION(load->settle_stop_ms));
}

static void describe_floor(FILE *to, const struct floor_settings *floor)
{
    char buffer[SENTENCE_SIZE];
    struct text text = text_in(buffer, sizeof(buffer));
    if (floor->measure == FLOOR_SATISFIED)
        text_add(&text, "heated until the thermostat opens, planned as %s, by ",
                 DURATION(floor->amount));
    else if (floor->measure == FLOOR_ENERGY)
        text_add(&text, "%s by ", AMOUNT(QUANTITY_ENERGY_MWH, floor->amount));
    else
        text_add(&text, "%s of drawing power by ", DURATION(floor->amount));
    quantity_write(QUANTITY_TIME_S, floor->by_s, &text);
    text_add(&text, " ");
    if (floor->every_days)
        text_add(&text, "at least once in %u days", floor->every_days);
    else
        weekdays_write(floor->weekdays, &text);
    sentence(to, "Guaranteed: %s, whatever the weather; bought %s, with %s in reserve.", buffer,
             floor->grid == FLOOR_IN_CHEAPEST_HOURS ? "in the cheapest hours that meet the deadline"
                                                    : "at the latest safe start",
             DURATION(floor->reserve_ms));
}

static void describe_limits(FILE *to, const struct load_settings *load)
{
    char buffer[SENTENCE_SIZE];
    struct text text = text_in(buffer, sizeof(buffer));
    text_add(&text, "Runs at least %s, rests at least %s", DURATION(load->min_on_ms),
             DURATION(load->min_off_ms));
    if (load->starts_per_hour)
        text_add(&text, ", starts at most %u times an hour", load->starts_per_hour);
    if (load->hours.count) {
        text_add(&text, ", only in ");
        hours_write(&load->hours, &text);
    }
    if (load->daily_max_ms)
        text_add(&text, ", at most %s a day", DURATION(load->daily_max_ms));
    if (load->hours.count || load->daily_max_ms)
        text_add(&text, load->strict ? "; manual runs keep to %s" : "; manual runs ignore %s",
                 load->hours.count == 0 ? "that maximum"
                 : load->daily_max_ms   ? "hours and maximum"
                                        : "the hours");
    sentence(to, "%s.", buffer);
}

static void describe_supply(FILE *to, const struct hours *hours)
{
    char buffer[SENTENCE_SIZE];
    struct text text = text_in(buffer, sizeof(buffer));
    hours_write(hours, &text);
    sentence(to,
             "Its supply has power %s: outside of that it is not started, not even manually, "
             "unless an input senses that there is power.",
             buffer);
}

static void describe_group(FILE *to, const struct rules_settings *rules, uint8_t index)
{
    const struct group_settings *group = &rules->group[index];
    if (group->limit_ma > 0)
        sentence(to, "Shares %s a phase with group %s.", CURRENT(group->limit_ma), group->name);
    if (group->one_at_a_time)
        sentence(to, "Never runs at the same time as another load of group %s.", group->name);
}

static void describe_rest(FILE *to, const struct rules_settings *rules,
                          const struct load_settings *load)
{
    if (load->supply_hours.count > 0)
        describe_supply(to, &load->supply_hours);
    if (load->group != RULES_NO_GROUP)
        describe_group(to, rules, load->group);
    if (load->thermostat)
        sentence(to,
                 "When its thermostat opens it is switched off, and tried again on spare power "
                 "after %s.",
                 DURATION(load->retry_ms));
    if (load->normal_on_holiday)
        sentence(to, "Runs as usual while the household is away.");
    else if (load->heat_up_ms > 0)
        sentence(to,
                 "Off while the household is away; heated until satisfied before they return, "
                 "starting %s ahead.",
                 DURATION(load->heat_up_ms));
}

static void describe_output(FILE *to, const struct output_settings *output)
{
    char buffer[SENTENCE_SIZE];
    struct text text = text_in(buffer, sizeof(buffer));
    backend_of(output)->describe(output, &text);
    sentence(to, "Switched by %s%s; when nothing can decide it goes %s.", buffer,
             output->normally_closed ? ", on the normally closed contact" : "",
             output->fail_state == OUTPUT_FAIL_ON ? "on" : "off");
}

static void describe_load(FILE *to, const struct settings *settings, uint16_t index)
{
    const struct load_settings *load = &settings->loads[index];
    fprintf(to, "\n%s (%s), priority %u\n", settings->names[index].title,
            settings->names[index].name, load->priority);
    describe_kind(to, load);
    describe_spare(to, load);
    for (uint8_t k = 0; k < load->floor_count; k++)
        describe_floor(to, &load->floor[k]);
    if (load->floor_count == 0)
        sentence(to, "Nothing is guaranteed: it runs %s.",
                 load->uses_spare ? "on spare power, or manually" : "only manually");
    describe_limits(to, load);
    describe_rest(to, &settings->rules, load);
    describe_output(to, &settings->outputs[index]);
}

/* ---- what is sensed ----------------------------------------------------------------------------
 */

static void describe_input(FILE *to, const struct input_settings *input)
{
    static const char *const does[] = {
        [INPUT_BUTTON] = "a press runs %s for %s, and another one ends that",
        [INPUT_IN_HAND] = "closed, %s is in hand at the board: nothing counts for a guarantee",
        [INPUT_AT_OFF] = "closed, %s is off at the board: no guarantee can be kept then",
        [INPUT_IN_AUTO] = "open, %s is in hand or off at the board: no guarantee is kept then",
        [INPUT_CONTACT] = "closed, the contactor of %s is",
        [INPUT_SUPPLY] = "open, the off-peak supply of %s is off: it is not started then",
        [INPUT_INHIBIT] = "closed, %s is inhibited",
    };
    char buffer[SENTENCE_SIZE], meaning[SENTENCE_SIZE];
    struct text text = text_in(buffer, sizeof(buffer)), line = text_in(meaning, sizeof(meaning));
    const char *word = input->load[0] ? input->load : "every load", *rest = does[input->role];
    const char *run = DURATION(input->run_ms); /* must last beyond the loop */
    for (const char *mark; (mark = strstr(rest, "%s")); rest = mark + 2) {
        text_add(&line, "%.*s%s", (int)(mark - rest), rest, word);
        word = run;
    }
    input_name(input, &text);
    sentence(to, "Input %s, %s, read every %s%s: %s%s.", input->name, buffer,
             DURATION(input->every_ms), input->active_low ? ", low is closed" : "", meaning, rest);
}

static void describe_sensors(FILE *to, const struct settings *settings)
{
    if (settings->sensor_count > 0)
        fprintf(to, "\nSensors\n");
    for (uint8_t k = 0; k < settings->sensor_count; k++) {
        const struct sensor_settings *sensor = &settings->sensors[k];
        char buffer[SENTENCE_SIZE];
        struct text text = text_in(buffer, sizeof(buffer));
        sensor_name(sensor, &text);
        sentence(to,
                 "Sensor %s, %s: the tank temperature of %s; older than %s it counts as none. It "
                 "replaces no thermostat, cut-out or tempering valve.",
                 sensor->name, buffer, sensor->load, DURATION(sensor_fresh_ms(sensor)));
    }
}

static void describe_lamp(FILE *to, const struct lamp_settings *lamp)
{
    char buffer[SENTENCE_SIZE];
    struct text text = text_in(buffer, sizeof(buffer));
    if (!lamp->enabled)
        return;
    backend_of(&lamp->output)->describe(&lamp->output, &text);
    sentence(to,
             "The lamp, %s, is steady while the meter shows that %s draws power, and blinks each "
             "5 s while something is wrong.",
             buffer, lamp->load[0] ? lamp->load : "any load");
}

static void describe_inputs(FILE *to, const struct settings *settings)
{
    if (settings->input_count > 0)
        fprintf(to, "\nInputs\n");
    for (uint8_t k = 0; k < settings->input_count; k++)
        describe_input(to, &settings->inputs[k]);
    describe_lamp(to, &settings->lamp);
    describe_sensors(to, settings);
}

/* ---- the meter for others ----------------------------------------------------------------------
 */

static void describe_doors(FILE *to, const struct gateway_settings *gateway)
{
    char buffer[SENTENCE_SIZE];
    struct text text = text_in(buffer, sizeof(buffer));
    if (gateway->tcp_port > 0)
        text_add(&text, "Modbus TCP on %s port %d, %s", gateway->listen, (int)gateway->tcp_port,
                 gateway->allowed_count ? "for the peers listed" : "for this machine only");
    if (gateway->port[0])
        text_add(&text, "%sModbus RTU on %s", gateway->tcp_port > 0 ? "; " : "", gateway->port);
    sentence(to, "Other masters reach it by %s.", buffer);
}

static void describe_served(FILE *to, const struct gateway_served *served)
{
    static const char *const as[] = {
        [GATEWAY_REGISTERS] = "its own registers",
        [GATEWAY_SUNSPEC] = "a SunSpec meter",
        [GATEWAY_SUNSPEC_FLOAT] = "a SunSpec meter in floats",
    };
    sentence(
        to, "Meter %s is unit %u there, as %s; %s.", served->meter, served->unit, as[served->view],
        served->range_count ? "only the ranges listed can be written" : "nothing can be written");
}

static void describe_gateway(FILE *to, const struct gateway_settings *gateway)
{
    if (!gateway->enabled)
        return;
    fprintf(to, "\nThe meter for others\n");
    describe_doors(to, gateway);
    for (uint8_t k = 0; k < gateway->served_count; k++)
        describe_served(to, &gateway->served[k]);
    sentence(to, "An inverter that limits export by this meter must not be among them: it keeps "
                 "its own wire to the meter.");
}

/* ---- all ---------------------------------------------------------------------------------------
 */

void settings_describe(const struct settings *settings, FILE *to)
{
    describe_site(to, settings);
    for (uint16_t place = 0; place < settings->rules.load_count; place++)
        describe_load(to, settings, settings->rules.order[place]);
    describe_inputs(to, settings);
    describe_gateway(to, &settings->gateway);
    notices_write(to, settings);
}
