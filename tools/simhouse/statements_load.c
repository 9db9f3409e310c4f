/* The loads: what they are, and on which coil of which board they hang. */
#include <stddef.h>
#include <stdio.h>
#include <string.h>

#include "statements.h"

#define ROWS(array) (array), (int)(sizeof(array) / sizeof((array)[0]))

#define LAMP_W 1.0 /* an indicator with LEDs: common practice, no source */

/* A load while its statement is read: what it is, and its place on the bus. */
struct new_load {
    struct load_spec spec;
    struct house_load_settings house;
};

static const struct option_row heater_options[] = {
    {"tank", QUANTITY_VOLUME_ML, 1e-3, offsetof(struct new_load, house.heater.tank.volume_l)},
    {"loss", QUANTITY_ENERGY_MWH, 1e-6, offsetof(struct new_load, house.heater.tank.loss_kwh_day)},
    {"ambient", QUANTITY_TEMPERATURE_MC, 1e-3,
     offsetof(struct new_load, house.heater.tank.ambient_c)},
    {"set", QUANTITY_TEMPERATURE_MC, 1e-3, offsetof(struct new_load, house.heater.set_c)},
    {"hysteresis", QUANTITY_TEMPERATURE_MC, 1e-3,
     offsetof(struct new_load, house.heater.hysteresis_k)},
    {"start", QUANTITY_TEMPERATURE_MC, 1e-3, offsetof(struct new_load, house.start_c)},
    {"inlet", QUANTITY_TEMPERATURE_MC, 1e-3, offsetof(struct new_load, house.inlet_c)},
    {"nameplate", QUANTITY_VOLTAGE_MV, 1e-3, offsetof(struct new_load, house.heater.element_v)},
};

static const struct option_row charger_options[] = {
    {"battery", QUANTITY_ENERGY_MWH, 1e-6, offsetof(struct new_load, house.charger.capacity_kwh)},
    {"charged", QUANTITY_ENERGY_MWH, 1e-6, offsetof(struct new_load, house.start_kwh)},
    {"most", QUANTITY_CURRENT_MA, 1e-3, offsetof(struct new_load, house.charger.most_a)},
};

static bool read_coils(struct new_load *load, struct cursor *cursor)
{
    const char *at = cursor_peek(cursor);
    load->house.contactors = 0;
    while (*at >= '0' && *at <= '9' && load->house.contactors < CONTACTORS_MAX) {
        int used = 0;
        unsigned coil;
        if (sscanf(at, "%2u%n", &coil, &used) != 1 || coil > 15)
            break;
        load->spec.coil[load->house.contactors++] = (uint16_t)coil;
        at += used;
        if (*at != ',')
            break;
        at++;
    }
    if (load->house.contactors == 0 || *at != '\0')
        return cursor_fail(cursor, "coils 0 to 15, such as 0 or 4,5");
    cursor->next++;
    return true;
}

/* 22:00-06:00,12:00-14:00 */
static bool read_supply_hours(struct house_load_settings *house, struct cursor *cursor)
{
    char words[CURSOR_TEXT_MAX], *rest = NULL;
    snprintf(words, sizeof(words), "%s", cursor_peek(cursor));
    house->supply_count = 0;
    for (char *word = strtok_r(words, ",", &rest); word; word = strtok_r(NULL, ",", &rest)) {
        if (house->supply_count == SUPPLY_HOURS_MAX)
            return trouble_set(cursor->trouble, "", "more than %d spans", SUPPLY_HOURS_MAX);
        struct supply_hours *hours = &house->supply[house->supply_count++];
        struct cursor one = {.trouble = cursor->trouble, .word = {word}, .count = 1};
        if (!cursor_span(&one, "-", &hours->from_s, &hours->to_s))
            return false;
    }
    if (house->supply_count == 0)
        return cursor_fail(cursor, "spans of times, such as 22:00-06:00,12:00-14:00");
    cursor->next++;
    return true;
}

/* What every load may say of its wiring. */
static bool read_wiring(struct new_load *load, struct cursor *cursor, const char *expected)
{
    int64_t number;
    if (cursor_match(cursor, "coil"))
        return read_coils(load, cursor);
    if (cursor_match(cursor, "phase"))
        return cursor_phases(cursor, &load->house.phases);
    if (cursor_match(cursor, "supply-hours"))
        return read_supply_hours(&load->house, cursor);
    if (cursor_match(cursor, "normally-closed")) {
        load->house.normally_closed = true;
        return true;
    }
    if (cursor_match(cursor, "unit")) {
        if (!cursor_count(cursor, 247, &number, "a unit id, 1 to 247"))
            return false;
        load->spec.unit = (uint8_t)number;
        return true;
    }
    if (cursor_match(cursor, "register")) {
        if (!cursor_count(cursor, 115, &number, "a register, 100 to 115"))
            return false;
        load->spec.set_point_register = (uint16_t)number;
        return number >= 100 ||
               trouble_set(cursor->trouble, "", "set-points are registers 100 to 115");
    }
    if (cursor_match(cursor, "present"))
        return cursor_span(cursor, "-", &load->house.charger.arrives_s,
                           &load->house.charger.leaves_s);
    return cursor_fail(cursor, expected);
}

static bool read_options(struct new_load *load, struct cursor *cursor,
                         const struct option_row options[], int count, const char *expected)
{
    while (!cursor_ended(cursor)) {
        enum option_outcome outcome = cursor_option(cursor, options, count, load);
        if (outcome == OPTION_WRONG)
            return false;
        if (outcome == OPTION_UNKNOWN && !read_wiring(load, cursor, expected))
            return false;
    }
    return true;
}

static bool read_name(struct scenario *scenario, struct cursor *cursor, struct new_load *load)
{
    if (scenario->house.load_count == WORLD_LOADS_MAX)
        return trouble_set(cursor->trouble, "", "more than %d loads", WORLD_LOADS_MAX);
    if (!cursor_word(cursor, load->spec.name, sizeof(load->spec.name), "a load's name"))
        return false;
    return scenario_load(scenario, load->spec.name) < 0 ||
           trouble_set(cursor->trouble, "", "there is a load \"%s\" already", load->spec.name);
}

static bool add(struct scenario *scenario, const struct new_load *load)
{
    scenario->load[scenario->house.load_count] = load->spec;
    scenario->house.load[scenario->house.load_count++] = load->house;
    return true;
}

/* heater water-heater 3.6 kW tank 315 L set 65 C start 55 C coil 0 phase L1 */
static bool read_heater(struct scenario *scenario, struct cursor *cursor, int line)
{
    (void)line;
    struct new_load load = {
        .spec.unit = UNIT_ID_RELAYS,
        .house = {
            .kind = HOUSE_HEATER, .phases = 1, .contactors = 1, .start_c = 55, .inlet_c = 15}};
    if (!read_name(scenario, cursor, &load) ||
        !cursor_quantity(cursor, QUANTITY_POWER_W, 1, &load.house.power_w))
        return false;
    load.house.heater = heater_usual(315, load.house.power_w);
    load.house.heater.tank.loss_kwh_day = 0;
    if (!read_options(&load, cursor, ROWS(heater_options),
                      "tank, loss, ambient, set, hysteresis, start, inlet, nameplate, coil, unit, "
                      "phase, supply-hours or normally-closed"))
        return false;
    if (load.house.heater.tank.loss_kwh_day == 0)
        load.house.heater.tank.loss_kwh_day =
            heater_usual_loss_kwh_day(load.house.heater.tank.volume_l);
    return add(scenario, &load);
}

static bool read_plain(struct scenario *scenario, struct cursor *cursor, enum house_load_kind kind)
{
    struct new_load load = {.spec.unit = UNIT_ID_RELAYS,
                            .house = {.kind = kind, .phases = 1, .contactors = 1}};
    return read_name(scenario, cursor, &load) &&
           cursor_quantity(cursor, QUANTITY_POWER_W, 1, &load.house.power_w) &&
           read_options(&load, cursor, NULL, 0,
                        "coil, unit, phase, supply-hours or normally-closed") &&
           add(scenario, &load);
}

/* pump pool-pump 1.1 kW coil 1 phase L2 */
static bool read_pump(struct scenario *scenario, struct cursor *cursor, int line)
{
    (void)line;
    return read_plain(scenario, cursor, HOUSE_PUMP);
}

/* switched floor-heating 2 kW coil 3 */
static bool read_switched(struct scenario *scenario, struct cursor *cursor, int line)
{
    (void)line;
    return read_plain(scenario, cursor, HOUSE_SWITCHED);
}

/* charger car battery 60 kWh charged 24 kWh most 32 A present 17:00-07:30 unit 11 register 100 */
static bool read_charger(struct scenario *scenario, struct cursor *cursor, int line)
{
    (void)line;
    struct new_load load = {
        .spec = {.unit = UNIT_ID_CHARGER, .set_point_register = 100},
        .house = {.kind = HOUSE_CHARGER,
                  .phases = 1,
                  .charger = {.most_a = 32, .capacity_kwh = 60, .efficiency = 0.9},
                  .start_kwh = 24},
    };
    if (!read_name(scenario, cursor, &load) ||
        !read_options(&load, cursor, ROWS(charger_options),
                      "battery, charged, most, present, unit, register, phase or supply-hours"))
        return false;
    load.house.charger.phases = __builtin_popcount(load.house.phases);
    return add(scenario, &load);
}

/* water water-heater 30 C: the water in it when the day begins, in place of the house's. */
static bool read_water(struct scenario *scenario, struct cursor *cursor, int line)
{
    (void)line;
    int load = scenario_load(scenario, cursor_peek(cursor));
    if (load < 0 || scenario->house.load[load].kind != HOUSE_HEATER)
        return cursor_fail(cursor, "the name of a heater that stands above");
    cursor->next++;
    return cursor_quantity(cursor, QUANTITY_TEMPERATURE_MC, 1e-3,
                           &scenario->house.load[load].start_c);
}

/* submeter 21 on water-heater */
static bool read_submeter(struct scenario *scenario, struct cursor *cursor, int line)
{
    (void)line;
    int64_t unit;
    if (scenario->submeter_count == SUBMETERS_MAX)
        return trouble_set(cursor->trouble, "", "more than %d sub-meters", SUBMETERS_MAX);
    if (!cursor_count(cursor, 247, &unit, "a unit id, 1 to 247"))
        return false;
    if (!cursor_match(cursor, "on"))
        return cursor_fail(cursor, "on");
    int load = scenario_load(scenario, cursor_peek(cursor));
    if (load < 0)
        return cursor_fail(cursor, "the name of a load that stands above");
    cursor->next++;
    scenario->submeter[scenario->submeter_count++] = (struct submeter_spec){(uint8_t)unit, load};
    return true;
}

static bool free_input(const struct scenario *scenario, const struct input_spec *input)
{
    for (int i = 0; i < scenario->input_count; i++)
        if (scenario->input[i].unit == input->unit && scenario->input[i].input == input->input)
            return false;
    return true;
}

static bool read_input_kind(const struct scenario *scenario, struct cursor *cursor,
                            struct input_spec *input)
{
    static const char *const words[] = {
        [INPUT_VOLTAGE] = "voltage", [INPUT_CONTACTOR] = "contactor", [INPUT_HAND] = "hand",
        [INPUT_AUTO] = "auto",       [INPUT_BUTTON] = "button",
    };
    int kind;
    if (!cursor_choice(cursor, ROWS(words), &kind, "voltage, contactor, hand, auto or button"))
        return false;
    input->kind = (enum input_kind)kind;
    if (input->kind == INPUT_BUTTON)
        return cursor_word(cursor, input->name, sizeof(input->name), "a button's name");
    input->load = scenario_load(scenario, cursor_peek(cursor));
    if (input->load < 0)
        return cursor_fail(cursor, "the name of a load that stands above");
    cursor->next++;
    return true;
}

/* input 0 voltage water-heater unit 10 inverted | input 2 button boost */
static bool read_input(struct scenario *scenario, struct cursor *cursor, int line)
{
    (void)line;
    struct input_spec input = {.unit = UNIT_ID_RELAYS};
    int64_t number;
    if (scenario->input_count == INPUTS_MAX)
        return trouble_set(cursor->trouble, "", "more than %d inputs", INPUTS_MAX);
    if (!cursor_count(cursor, 15, &number, "an input, 0 to 15"))
        return false;
    input.input = (uint16_t)number;
    if (!read_input_kind(scenario, cursor, &input))
        return false;
    while (!cursor_ended(cursor)) {
        if (cursor_match(cursor, "inverted")) {
            input.inverted = true;
            continue;
        }
        if (!cursor_match(cursor, "unit"))
            return cursor_fail(cursor, "unit or inverted");
        if (!cursor_count(cursor, 247, &number, "a unit id, 1 to 247"))
            return false;
        input.unit = (uint8_t)number;
    }
    if (!free_input(scenario, &input))
        return trouble_set(cursor->trouble, "", "input %d of unit %d is taken already", input.input,
                           input.unit);
    scenario->input[scenario->input_count++] = input;
    return true;
}

/* lamp boost-lamp coil 8: what little it draws is a load's. */
static bool read_lamp(struct scenario *scenario, struct cursor *cursor, int line)
{
    (void)line;
    struct new_load load = {
        .spec.unit = UNIT_ID_RELAYS,
        .house = {.kind = HOUSE_SWITCHED, .phases = 1, .contactors = 1, .power_w = LAMP_W}};
    return read_name(scenario, cursor, &load) &&
           read_options(&load, cursor, NULL, 0, "coil, unit or phase") && add(scenario, &load);
}

const struct statement_row load_statements[] = {
    {"heater", read_heater},     {"pump", read_pump},         {"charger", read_charger},
    {"switched", read_switched}, {"submeter", read_submeter}, {"input", read_input},
    {"lamp", read_lamp},         {"water", read_water},       {NULL, NULL},
};
