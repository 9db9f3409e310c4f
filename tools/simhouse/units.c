/* Each unit is a libmodbus mapping. After every step the meters' registers are
 * written from the truth; before every step the relay boards' coils are read
 * into it. Faults that are values (nan, stuck, a jump) are made here, those that
 * are bytes in wirefault.c. */
#include "units.h"

#include <math.h>
#include <stdio.h>

#include "registers.h"

enum { COILS = 16, SET_POINTS_AT = 100, SET_POINTS = 16, TEMPERATURES = 2 * WORLD_LOADS_MAX };

static struct unit *add(struct units *units, uint8_t id, enum unit_kind kind, int load)
{
    struct unit *known = units_find(units, id);
    if (known || units->count == UNITS_MAX)
        return known;
    struct unit *unit = &units->unit[units->count];
    *unit = (struct unit){.id = id, .kind = kind, .load = load};
    switch (kind) {
    case UNIT_METER:
    case UNIT_INVERTER:
        unit->map = modbus_mapping_new_start_address(0, 0, 0, 0, SUNSPEC_BASE, SUNSPEC_REGISTERS, 0,
                                                     DIN_REGISTERS);
        break;
    case UNIT_BATTERY:
        unit->map = modbus_mapping_new_start_address(0, 0, 0, 0, 0, 1, 0, DIN_REGISTERS);
        break;
    case UNIT_SUBMETER:
        unit->map = modbus_mapping_new_start_address(0, 0, 0, 0, 0, 0, 0, DIN_REGISTERS);
        break;
    case UNIT_RELAYS:
    case UNIT_CHARGER:
        unit->map = modbus_mapping_new(COILS, COILS, SET_POINTS_AT + SET_POINTS, TEMPERATURES);
        break;
    }
    if (!unit->map)
        return NULL;
    units->count++;
    return unit;
}

static bool add_boards(struct units *units)
{
    const struct scenario *scenario = units->scenario;
    for (int i = 0; i < scenario->input_count; i++) {
        const struct unit *unit = add(units, scenario->input[i].unit, UNIT_RELAYS, -1);
        if (unit && unit_takes_writes(unit))
            continue;
        fprintf(stderr, "simhouse: unit %d has no inputs\n", scenario->input[i].unit);
        return false;
    }
    return true;
}

bool units_init(struct units *units, const struct scenario *scenario)
{
    *units = (struct units){.scenario = scenario};
    struct unit *meter = add(units, UNIT_ID_METER, UNIT_METER, -1);
    struct unit *inverter = add(units, UNIT_ID_INVERTER, UNIT_INVERTER, -1);
    if (!meter || !inverter || !add(units, UNIT_ID_RELAYS, UNIT_RELAYS, -1))
        return false;
    registers_sunspec_frame(meter->map->tab_registers, scenario->meter_model, "Grid meter",
                            "G-0001");
    registers_sunspec_frame(inverter->map->tab_registers, 103, "Inverter", "P-0001");
    if (scenario->pv_second_share > 0) {
        struct unit *second = add(units, UNIT_ID_SECOND_INVERTER, UNIT_INVERTER, -1);
        if (!second)
            return false;
        registers_sunspec_frame(second->map->tab_registers, 103, "Inverter", "P-0002");
    }
    for (int i = 0; i < scenario->house.load_count; i++) {
        const struct load_spec *load = &scenario->load[i];
        enum unit_kind kind =
            scenario->house.load[i].kind == HOUSE_CHARGER && load->unit != UNIT_ID_RELAYS
                ? UNIT_CHARGER
                : UNIT_RELAYS;
        if (!add(units, load->unit, kind, i))
            return false;
    }
    if (scenario->house.battery.capacity_kwh > 0 && !add(units, UNIT_ID_BATTERY, UNIT_BATTERY, -1))
        return false;
    for (int i = 0; i < scenario->submeter_count; i++)
        if (!add(units, scenario->submeter[i].unit, UNIT_SUBMETER, scenario->submeter[i].load))
            return false;
    return add_boards(units);
}

void units_free(struct units *units)
{
    for (int i = 0; i < units->count; i++)
        modbus_mapping_free(units->unit[i].map);
    units->count = 0;
}

struct unit *units_find(struct units *units, uint8_t id)
{
    for (int i = 0; i < units->count; i++)
        if (units->unit[i].id == id)
            return &units->unit[i];
    return NULL;
}

bool unit_takes_writes(const struct unit *unit)
{
    return unit->kind == UNIT_RELAYS || unit->kind == UNIT_CHARGER;
}

static void show_measured(struct unit *unit, int model, struct measured m)
{
    if (unit->fault == WIRE_STUCK)
        return;
    if (unit->fault == WIRE_JUMP) {
        m.total_w = (double)unit->fault_amount;
        for (int p = 0; p < m.phases; p++)
            m.w[p] = m.total_w / m.phases;
    }
    if (unit->fault == WIRE_LEAP)
        m.import_wh += (double)unit->fault_amount / 1000;
    registers_din(unit->map->tab_input_registers, &m);
    if (unit->fault == WIRE_NAN)
        registers_absent_din(unit->map->tab_input_registers);
    if (unit->kind != UNIT_METER)
        return;
    (model == 203 ? registers_sunspec_203 : registers_sunspec_213)(unit->map->tab_registers, &m);
    if (unit->fault == WIRE_NAN)
        (model == 203 ? registers_absent_203 : registers_absent_213)(unit->map->tab_registers);
}

static void show_inverter(struct unit *unit, double second, const struct world *world)
{
    if (unit->fault == WIRE_STUCK)
        return;
    registers_sunspec_103(unit->map->tab_registers, world,
                          unit->id == UNIT_ID_SECOND_INVERTER ? second : 1 - second);
    if (unit->fault == WIRE_NAN)
        registers_absent_103(unit->map->tab_registers);
}

static uint16_t tenths(double value)
{
    return (uint16_t)(int16_t)lround(value * 10);
}

static void show_temperatures(struct unit *unit, const struct world *world)
{
    int heater = 0;
    for (int i = 0; i < world->load_count; i++) {
        if (world->load[i].settings->kind != HOUSE_HEATER)
            continue;
        unit->map->tab_input_registers[2 * heater] = tenths(heater_top_c(&world->load[i].heater));
        unit->map->tab_input_registers[2 * heater + 1] =
            tenths(heater_bottom_c(&world->load[i].heater));
        heater++;
    }
}

static bool input_closed(const struct units *units, int i, const struct world *world)
{
    const struct input_spec *input = &units->scenario->input[i];
    const struct house_load *load = &world->load[input->load];
    switch (input->kind) {
    case INPUT_VOLTAGE:
        return load->live;
    case INPUT_CONTACTOR:
        return load->pulled_in;
    case INPUT_HAND:
        return load->hand == SWITCH_ON;
    case INPUT_AUTO:
        return load->hand == SWITCH_AUTO;
    case INPUT_BUTTON:
        return units->pressed[i];
    }
    return false;
}

static void show_inputs(const struct units *units, struct unit *unit, const struct world *world)
{
    if (unit->fault == WIRE_STUCK)
        return;
    for (int i = 0; i < units->scenario->input_count; i++) {
        const struct input_spec *input = &units->scenario->input[i];
        if (input->unit == unit->id)
            unit->map->tab_input_bits[input->input] =
                input_closed(units, i, world) != input->inverted;
    }
}

static void show_charger(struct unit *unit, const struct world *world)
{
    const struct house_load *load = &world->load[unit->load];
    uint32_t w = (uint32_t)lround(load->draw_w);
    uint16_t *at = unit->map->tab_input_registers;
    double volts = world->grid.phase_v[__builtin_ctz(load->settings->phases)];
    at[0] = (uint16_t)(w >> 16);
    at[1] = (uint16_t)w;
    at[2] = (uint16_t)lround(load->draw_w / volts / load->charger.settings.phases * 100);
    at[3] = !load->charger.present ? 0 : load->draw_w > 0 ? 2 : 1;
}

static void show_battery(struct unit *unit, const struct world *world)
{
    show_measured(unit, 0, measured_battery(world));
    if (unit->fault != WIRE_STUCK)
        unit->map->tab_registers[0] =
            tenths(world->battery.charged_kwh / world->battery.settings.capacity_kwh * 100);
}

void units_show(struct units *units, const struct world *world)
{
    for (int i = 0; i < units->count; i++) {
        struct unit *unit = &units->unit[i];
        switch (unit->kind) {
        case UNIT_METER:
            show_measured(unit, units->scenario->meter_model, world->meter.shown);
            break;
        case UNIT_SUBMETER:
            show_measured(unit, 0, measured_load(world, unit->load));
            break;
        case UNIT_INVERTER:
            show_inverter(unit, units->scenario->pv_second_share, world);
            break;
        case UNIT_RELAYS:
            show_temperatures(unit, world);
            show_inputs(units, unit, world);
            break;
        case UNIT_CHARGER:
            show_charger(unit, world);
            show_inputs(units, unit, world);
            break;
        case UNIT_BATTERY:
            show_battery(unit, world);
            break;
        }
    }
}

void units_obey(struct units *units, struct world *world)
{
    for (int i = 0; i < world->load_count; i++) {
        struct house_load *load = &world->load[i];
        const struct load_spec *spec = &units->scenario->load[i];
        const struct unit *unit = units_find(units, spec->unit);
        if (load->settings->kind == HOUSE_CHARGER)
            load->offered_a = unit->map->tab_registers[spec->set_point_register] / 10.0;
        for (int c = 0; c < load->settings->contactors; c++)
            load->coil[c] = unit->map->tab_bits[spec->coil[c]];
    }
}

void unit_written(struct unit *unit, uint8_t function)
{
    bool coils =
        function == MODBUS_FC_WRITE_SINGLE_COIL || function == MODBUS_FC_WRITE_MULTIPLE_COILS;
    for (int i = 0; i < COILS; i++) {
        if (coils)
            unit->map->tab_registers[i] = unit->map->tab_bits[i];
        else
            unit->map->tab_bits[i] = unit->map->tab_registers[i] != 0;
    }
}
