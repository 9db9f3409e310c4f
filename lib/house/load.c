/* In the order of the current: the utility's switch, the breaker, the contactors or
 * a way past them, the load. Each may let nothing through, and only what reaches the
 * load can be seen by the meter. The order and the auxiliary contact are told apart
 * from it: that they disagree is what most faults of wiring are. */
#include "house/load.h"

void house_load_init(struct house_load *load, const struct house_load_settings *settings)
{
    *load = (struct house_load){.settings = settings};
    if (settings->kind == HOUSE_HEATER)
        heater_init(&load->heater, &settings->heater, settings->start_c);
    load->pump.power_w = settings->power_w;
    if (settings->kind == HOUSE_CHARGER)
        charger_init(&load->charger, &settings->charger, settings->start_kwh);
}

static bool ordered_on(const struct house_load *load)
{
    if (load->settings->kind == HOUSE_CHARGER)
        return load->offered_a >= CHARGER_LEAST_A;
    for (int i = 0; i < load->settings->contactors; i++)
        if (load->coil[i] != load->settings->normally_closed)
            return true;
    return false;
}

static void take_orders(struct house_load *load, double dt_s)
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
}

/* A contactor that does not pull in stays as its springs hold it. */
static bool contactor_closed(const struct house_load *load, int i)
{
    bool rests_closed = load->settings->normally_closed;
    if (load->faults.contactor == CONTACTOR_WELDED)
        return true;
    if (load->faults.contactor == CONTACTOR_STAYS_OPEN)
        return rests_closed;
    if (load->hand != SWITCH_AUTO)
        return load->hand == SWITCH_ON;
    return load->coil[i] != rests_closed;
}

static bool supplied(const struct house_load *load, int32_t now_s)
{
    const struct house_load_settings *settings = load->settings;
    if (load->faults.supply_off || load->faults.breaker_off)
        return false;
    for (int i = 0; i < settings->supply_count; i++) {
        const struct supply_hours *hours = &settings->supply[i];
        bool over_midnight = hours->to_s <= hours->from_s;
        if (over_midnight ? now_s >= hours->from_s || now_s < hours->to_s
                          : now_s >= hours->from_s && now_s < hours->to_s)
            return true;
    }
    return settings->supply_count == 0;
}

static void move_contactors(struct house_load *load, int32_t now_s)
{
    int count = load->settings->contactors, closed = 0;
    for (int i = 0; i < count; i++)
        closed += contactor_closed(load, i);
    load->pulled_in = closed > 0;
    load->closed = load->faults.bypassed ? 1 : count ? (double)closed / count : 0;
    bool fed = supplied(load, now_s);
    load->live = fed && load->closed > 0;
    if (!fed)
        load->closed = 0;
}

static double mean_voltage(uint8_t phases, const double phase_v[PHASES_MAX])
{
    double sum = 0;
    for (int p = 0; p < PHASES_MAX; p++)
        if (phases & (1 << p))
            sum += phase_v[p];
    return sum / __builtin_popcount(phases);
}

/* Each leg at its own phase's voltage. */
static void heat(struct house_load *load, const double phase_v[PHASES_MAX])
{
    uint8_t phases = load->settings->phases;
    int legs = __builtin_popcount(phases);
    for (int p = 0, leg = 0; p < PHASES_MAX; p++)
        if (phases & (1 << p))
            load->phase_w[p] = heater_leg_w(&load->heater, leg++, legs, phase_v[p]) * load->closed;
}

static double even_draw_w(struct house_load *load, double dt_s, int32_t now_s,
                          const double phase_v[PHASES_MAX])
{
    const struct house_load_settings *settings = load->settings;
    double volts = mean_voltage(settings->phases, phase_v);
    bool charger = settings->kind == HOUSE_CHARGER;
    if (settings->kind == HOUSE_PUMP)
        return pump_step_w(&load->pump, dt_s, load->live && !load->faults.dead);
    if (!charger)
        return load->faults.dead ? 0 : settings->power_w * load->closed;
    bool fed = supplied(load, now_s) && !load->faults.dead;
    return charger_step_a(&load->charger, now_s, dt_s, fed ? load->offered_a : 0, volts) * volts *
           settings->charger.phases;
}

void house_load_draw(struct house_load *load, double dt_s, int32_t now_s,
                     const double phase_v[PHASES_MAX])
{
    take_orders(load, dt_s);
    move_contactors(load, now_s);
    for (int p = 0; p < PHASES_MAX; p++)
        load->phase_w[p] = 0;
    if (load->settings->kind != HOUSE_HEATER)
        phases_share(load->phase_w, load->settings->phases,
                     even_draw_w(load, dt_s, now_s, phase_v));
    else if (load->live && !load->faults.dead)
        heat(load, phase_v);
    load->draw_w = load->phase_w[0] + load->phase_w[1] + load->phase_w[2];
}

void house_load_account(struct house_load *load, double dt_s, double grid_w)
{
    load->grid_w = grid_w;
    load->sun_w = load->draw_w - grid_w;
    load->energy_j += load->draw_w * dt_s;
    load->grid_j += load->grid_w * dt_s;
    load->sun_j += load->sun_w * dt_s;
    load->drawing_s += load->draw_w >= DRAWING_W ? dt_s : 0;
    load->relay_s += load->relay ? dt_s : 0;
}
