/* One step, in this order: contactors follow coils, loads draw at the voltage
 * of the step before, the rest of the house, the battery and the sun join in, the
 * meter sees the sum, water is heated and drawn. Whatever a load drew while the house was
 * importing is grid energy, up to the import; the rest is the sun's. */
#include "world.h"

#include <math.h>
#include <string.h>

/* What roof, cables and inverter leave of the panels' rating: common practice,
 * no source. */
#define PERFORMANCE 0.85

struct wall world_wall(const struct world *world)
{
    return (struct wall){world->scenario->start.ms + world->elapsed_ms};
}

static void init_load(struct load *load, const struct load_spec *spec)
{
    *load = (struct load){.spec = spec};
    if (spec->kind == KIND_HEATER)
        heater_init(&load->heater, &spec->heater, spec->start_c);
    load->pump.power_w = spec->power_w;
    if (spec->kind == KIND_CHARGER)
        charger_init(&load->charger, &spec->charger, spec->start_kwh);
}

void world_init(struct world *world, const struct scenario *scenario)
{
    *world = (struct world){.scenario = scenario, .load_count = scenario->load_count};
    for (int i = 0; i < scenario->load_count; i++)
        init_load(&world->load[i], &scenario->load[i]);
    household_init(&world->household, &scenario->household);
    battery_init(&world->battery, &scenario->battery, scenario->battery_start_kwh);
    sky_init(&world->sky, scenario->sky, scenario->sky_seed);
    tap_init(&world->tap, scenario->draw, scenario->draw_count, scenario->start_s);
    grid_init(&world->grid, &scenario->grid);
    world->local = (struct local){scenario->start_day, scenario->start_s};
    world->hot_c = NAN;
}

void world_break(struct world *world, int load, enum load_fault fault)
{
    static const enum heater_fault inside[] = {
        [LOAD_SOUND] = HEATER_HEALTHY,
        [LOAD_WELDED] = HEATER_HEALTHY,
        [LOAD_COIL_OPEN] = HEATER_HEALTHY,
        [LOAD_ELEMENT_BROKEN] = HEATER_ELEMENT_BROKEN,
        [LOAD_THERMOSTAT_CLOSED] = HEATER_THERMOSTAT_STUCK_CLOSED,
        [LOAD_THERMOSTAT_OPEN] = HEATER_THERMOSTAT_STUCK_OPEN,
    };
    world->load[load].fault = fault;
    world->load[load].heater.fault = inside[fault];
}

static bool contactor_closed(const struct load *load, int i)
{
    if (load->fault == LOAD_WELDED)
        return true;
    bool energised = load->coil[i] && load->fault != LOAD_COIL_OPEN;
    return energised != load->spec->normally_closed;
}

static bool ordered_on(const struct load *load)
{
    if (load->spec->kind == KIND_CHARGER)
        return load->offered_a >= CHARGER_LEAST_A;
    for (int i = 0; i < load->spec->coils; i++)
        if (load->coil[i] != load->spec->normally_closed)
            return true;
    return false;
}

static void follow_orders(struct load *load, double dt_s)
{
    bool relay = ordered_on(load);
    load->switched_on = relay && !load->relay;
    load->switched_off = !relay && load->relay;
    if (load->switched_on)
        load->last_rest_s = load->ran_s;
    if (load->switched_off)
        load->last_run_s = load->ran_s;
    load->ran_s = load->switched_on || load->switched_off ? dt_s : load->ran_s + dt_s;
    load->relay = relay;
    load->cycles += load->switched_on;
    int closed = 0;
    for (int i = 0; i < load->spec->coils; i++)
        closed += contactor_closed(load, i);
    load->closed = load->spec->coils ? (double)closed / load->spec->coils : 0;
}

static double mean_voltage(const struct world *world, uint8_t phases)
{
    double sum = 0;
    for (int p = 0; p < PHASES_MAX; p++)
        if (phases & (1 << p))
            sum += world->grid.phase_v[p];
    return sum / __builtin_popcount(phases);
}

static double load_draw_w(const struct world *world, struct load *load, double dt_s)
{
    double volts = mean_voltage(world, load->spec->phases);
    bool live = load->closed > 0;
    switch (load->spec->kind) {
    case KIND_HEATER:
        return heater_draw_w(&load->heater, volts, live) * load->closed;
    case KIND_PUMP:
        return load->fault == LOAD_ELEMENT_BROKEN ? 0 : pump_step_w(&load->pump, dt_s, live);
    case KIND_CHARGER:
        return charger_step_a(&load->charger, world->local.second, dt_s, load->offered_a, volts) *
               volts * load->spec->charger.phases;
    case KIND_SWITCHED:
        return load->fault == LOAD_ELEMENT_BROKEN ? 0 : load->spec->power_w * load->closed;
    }
    return 0;
}

static double clear_sky_w(struct world *world, double now_s)
{
    if (now_s < world->clear_until_s)
        return world->clear_w;
    world->clear_until_s = now_s + 60;
    struct wall wall = world_wall(world);
    int64_t day = wall.ms / MS_PER_DAY - (wall.ms % MS_PER_DAY < 0);
    struct date date = date_of_days((int32_t)day);
    int of_year = days_of_date(date) - days_of_date((struct date){date.year, 1, 1}) + 1;
    double utc_h = (double)(wall.ms - day * MS_PER_DAY) / MS_PER_HOUR;
    const struct roof *roof = &world->scenario->roof;
    double on_panels = sun_on_panels_w_m2(roof, sun_at(roof, of_year, utc_h));
    world->clear_w = world->scenario->pv_peak_w * on_panels / 1000 * PERFORMANCE;
    return world->clear_w;
}

/* An inverter that must not export more than a limit turns itself down, and up again
 * as the house takes more, at once or by and by. */
static void shine(struct world *world, double dt_s, double drawn_w)
{
    const struct scenario *scenario = world->scenario;
    double pv_w = clear_sky_w(world, (double)world->elapsed_ms / MS_PER_S) *
                  sky_step(&world->sky, world->local.second, dt_s);
    if (scenario->pv_limit_w > 0)
        pv_w = fmin(pv_w, scenario->pv_limit_w);
    double keeps = scenario->export_follows_s > 0 ? exp(-dt_s / scenario->export_follows_s) : 0;
    double allowed_w = drawn_w + scenario->export_limit_w;
    world->most_w = allowed_w + (world->most_w - allowed_w) * keeps;
    world->throttled = scenario->export_limit_w > 0 && pv_w > world->most_w;
    world->pv_w = world->throttled ? world->most_w : pv_w;
    world->pv_j += world->pv_w * dt_s;
}

static void spread(double phase_w[PHASES_MAX], uint8_t phases, double w)
{
    double each = w / __builtin_popcount(phases);
    for (int p = 0; p < PHASES_MAX; p++)
        if (phases & (1 << p))
            phase_w[p] += each;
}

/* The last load of the scenario takes the import first: a joule is counted as
 * the grid's only once, and the file's order is the order of service. */
static void attribute(struct world *world, double dt_s)
{
    double import_w = fmax(0, world->grid.total_w);
    for (int i = world->load_count - 1; i >= 0; i--) {
        struct load *load = &world->load[i];
        load->grid_w = fmin(load->draw_w, import_w);
        load->sun_w = load->draw_w - load->grid_w;
        import_w -= load->grid_w;
        load->energy_j += load->draw_w * dt_s;
        load->grid_j += load->grid_w * dt_s;
        load->sun_j += load->sun_w * dt_s;
        load->drawing_s += load->draw_w >= DRAWING_W ? dt_s : 0;
        load->relay_s += load->relay ? dt_s : 0;
    }
}

static void heat_and_draw_water(struct world *world, double dt_s)
{
    bool taps = true; /* they hang on the first heater */
    world->hot_c = NAN;
    for (int i = 0; i < world->load_count; i++) {
        struct load *load = &world->load[i];
        if (load->spec->kind != KIND_HEATER)
            continue;
        double litres = 0;
        if (taps) {
            double hot_c = heater_top_c(&load->heater), spoilt_s = world->tap.spoilt_s;
            litres = tap_step_l(&world->tap, world->local.second, dt_s, hot_c, load->spec->inlet_c);
            world->hot_c = world->tap.mixed_c > 0 ? hot_c : (double)NAN;
            world->spoilt_step_s = world->tap.spoilt_s - spoilt_s;
            taps = false;
        }
        heater_step(&load->heater, dt_s, load->draw_w, litres, load->spec->inlet_c);
    }
}

void world_step(struct world *world)
{
    const struct scenario *scenario = world->scenario;
    double dt_s = (double)scenario->step_ms / MS_PER_S;
    double phase_w[PHASES_MAX], drawn_w = 0;
    world->local = local_of_wall(&scenario->zone, world_wall(world));

    household_step_w(&world->household, world->local.second, dt_s, phase_w);
    world->use_w = phase_w[0] + phase_w[1] + phase_w[2];
    for (int i = 0; i < world->load_count; i++) {
        struct load *load = &world->load[i];
        follow_orders(load, dt_s);
        load->draw_w = load_draw_w(world, load, dt_s);
        spread(phase_w, load->spec->phases, load->draw_w);
        drawn_w += load->draw_w;
    }
    if (scenario->battery.capacity_kwh > 0) {
        double battery_w = battery_step_w(&world->battery, dt_s, world->grid.total_w);
        spread(phase_w, scenario->battery_phases, battery_w);
        drawn_w += battery_w;
    }
    shine(world, dt_s, drawn_w + world->use_w);
    spread(phase_w, scenario->pv_phases, -world->pv_w);
    grid_step(&world->grid, dt_s, phase_w);
    attribute(world, dt_s);
    heat_and_draw_water(world, dt_s);
    world->elapsed_ms += scenario->step_ms;
}
