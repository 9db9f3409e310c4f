/* The order matters: what is drawn is decided first from the state the step
 * begins with (contactor, thermostat, voltage), so that the meter and the tank
 * account for the same joules; the thermostat looks at the water afterwards. */
#include "house/heater.h"

#define S_PER_HOUR 3600.0
#define S_PER_YEAR (365.25 * 86400)

struct loss_row {
    double volume_l, kwh_day;
};

/* AS/NZS 4692.2 MEPS as in the Australian government's table of 2005. */
static const struct loss_row loss_rows[] = {
    {25, 0.98},  {31.5, 1.05}, {40, 1.12},  {50, 1.19},  {63, 1.33},
    {80, 1.47},  {100, 1.61},  {125, 1.75}, {160, 1.96}, {200, 2.17},
    {250, 2.38}, {315, 2.66},  {400, 2.87}, {500, 3.15}, {630, 3.43},
};

double heater_usual_loss_kwh_day(double volume_l)
{
    int last = (int)(sizeof(loss_rows) / sizeof(loss_rows[0])) - 1;
    if (volume_l <= loss_rows[0].volume_l)
        return loss_rows[0].kwh_day;
    for (int i = 1; i <= last; i++) {
        const struct loss_row *low = &loss_rows[i - 1], *high = &loss_rows[i];
        if (volume_l <= high->volume_l)
            return low->kwh_day + (high->kwh_day - low->kwh_day) * (volume_l - low->volume_l) /
                                      (high->volume_l - low->volume_l);
    }
    return loss_rows[last].kwh_day;
}

struct heater_settings heater_usual(double volume_l, double element_w)
{
    return (struct heater_settings){
        .tank = {.volume_l = volume_l,
                 .loss_kwh_day = heater_usual_loss_kwh_day(volume_l),
                 .ambient_c = 20,
                 .conduction_w_k = 2,
                 .layers = 16},
        .element_w = element_w,
        .element_v = 240,
        .set_c = 65,
        .hysteresis_k = 6,
        .element_height = 0.05,
        .sensor_height = 0.25,
        .cutout_c = 88,
    };
}

void heater_init(struct heater *heater, const struct heater_settings *settings, double water_c)
{
    *heater = (struct heater){.settings = *settings};
    tank_fill(&heater->tank, &settings->tank, water_c);
    heater->calls = water_c < settings->set_c - settings->hysteresis_k;
    heater->upper_calls =
        settings->upper_w > 0 && water_c < settings->upper_set_c - settings->hysteresis_k;
}

static bool thermostat_closed(const struct heater *heater)
{
    switch (heater->faults.thermostat) {
    case THERMOSTAT_STUCK_CLOSED:
        return true;
    case THERMOSTAT_STUCK_OPEN:
        return false;
    case THERMOSTAT_WORKS:
    case THERMOSTAT_OPENS_FOR_GOOD:
        break;
    }
    return heater->calls;
}

double heater_leg_w(const struct heater *heater, int leg, int legs, double volts)
{
    if (heater->cut_out || !thermostat_closed(heater))
        return 0;
    double per_nameplate = volts / heater->settings.element_v;
    double left = (1 - heater->faults.gone[leg]) / (1 + heater->faults.more_ohm);
    return heater->settings.element_w / legs * per_nameplate * per_nameplate * left;
}

double heater_draw_w(const struct heater *heater, double volts, bool live)
{
    return live ? heater_leg_w(heater, 0, 1, volts) : 0;
}

bool heater_passes(const struct heater *heater, enum heater_element element, bool upper_draws)
{
    if (element == HEATER_UPPER)
        return heater->settings.upper_w > 0 && heater->upper_calls && !heater->cut_out;
    return thermostat_closed(heater) && !heater->cut_out && !upper_draws &&
           heater->faults.gone[0] < 1;
}

double heater_room_j(const struct heater *heater, enum heater_element element)
{
    const struct heater_settings *settings = &heater->settings;
    if (element == HEATER_UPPER)
        return tank_room_j(&heater->tank, settings->upper_height, settings->upper_set_c);
    return tank_room_j(&heater->tank, settings->element_height, settings->set_c);
}

/* Heat counted out to the set-point ends a rounding below it. */
static void move_thermostat(bool *calls, double sensed_c, double set_c, double hysteresis_k)
{
    if (sensed_c >= set_c - 1e-6)
        *calls = false;
    else if (sensed_c <= set_c - hysteresis_k)
        *calls = true;
}

static void look_at_water(struct heater *heater)
{
    const struct heater_settings *settings = &heater->settings;
    double sensed_c = tank_at_c(&heater->tank, settings->sensor_height);
    bool stays_open = heater->faults.thermostat == THERMOSTAT_OPENS_FOR_GOOD && !heater->calls;
    if (!stays_open)
        move_thermostat(&heater->calls, sensed_c, settings->set_c, settings->hysteresis_k);
    if (settings->upper_w > 0)
        move_thermostat(&heater->upper_calls,
                        tank_at_c(&heater->tank, settings->upper_sensor_height),
                        settings->upper_set_c, settings->hysteresis_k);
    if (sensed_c >= settings->cutout_c)
        heater->cut_out = true;
}

static double lost_l(const struct heater *heater, double dt_s)
{
    return (heater->faults.relief_l_h + heater->faults.leak_l_h) * dt_s / S_PER_HOUR;
}

static void grow_old(struct heater *heater, double dt_s)
{
    heater->faults.more_ohm += heater->faults.drift_a_year * dt_s / S_PER_YEAR;
}

static void pass(struct heater *heater, double dt_s, double draw_w, double hot_l, double inlet_c)
{
    tank_step(&heater->tank, dt_s, draw_w, heater->settings.element_height, hot_l, inlet_c);
    grow_old(heater, dt_s);
    look_at_water(heater);
}

/* Standing losses are slow: a year of seconds need not count each of them. */
void heater_step(struct heater *heater, double dt_s, double draw_w, double hot_l, double inlet_c)
{
    double leaves_l = hot_l + lost_l(heater, dt_s);
    bool idle = draw_w == 0 && leaves_l == 0 && heater->settings.idle_step_s > 0;
    if (idle) {
        heater->idle_s += dt_s;
        dt_s = heater->idle_s;
        if (dt_s < heater->settings.idle_step_s)
            return;
    } else if (heater->idle_s > 0) {
        pass(heater, heater->idle_s, 0, 0, inlet_c);
    }
    heater->idle_s = 0;
    pass(heater, dt_s, draw_w, leaves_l, inlet_c);
}

struct tap_taken heater_advance(struct heater *heater, double dt_s, double lower_j, double upper_j,
                                const struct tap_flow *flow)
{
    struct tank *tank = &heater->tank;
    tank_lose(tank, dt_s);
    struct tap_taken taken = tap_take(tank, flow);
    tank_draw(tank, lost_l(heater, dt_s), flow->inlet_c);
    tank_conduct(tank, dt_s);
    tank_heat(tank, heater->settings.element_height, lower_j);
    if (upper_j > 0)
        tank_heat(tank, heater->settings.upper_height, upper_j);
    tank_rise(tank);
    grow_old(heater, dt_s);
    look_at_water(heater);
    return taken;
}

double heater_top_c(const struct heater *heater)
{
    return tank_at_c(&heater->tank, 1);
}

double heater_bottom_c(const struct heater *heater)
{
    return tank_at_c(&heater->tank, 0);
}
