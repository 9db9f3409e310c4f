/* One step, in this order: contactors follow coils, loads draw at the voltage
 * of the step before, the rest of the house, the battery and the sun join in, the
 * meter sees the sum, water is heated and drawn. Whatever a load drew while the house was
 * importing is grid energy, up to the import; the rest is the sun's. */
#include "house/world.h"

#include <math.h>

/* What roof, cables and inverter leave of the panels' rating: common practice,
 * no source. */
#define PERFORMANCE 0.85

struct world_settings world_usual(void)
{
    return (struct world_settings){
        .zone = zone_utc,
        .grid = {.phase_count = 1, .nominal_v = 230, .source_ohm = 0.2, .nominal_hz = 50},
        .meter = {.start_import_wh = 12345678, .start_export_wh = 2345678},
        .pv_phases = 1,
        .battery_phases = 1,
        .roof = {.latitude_deg = -33.9, .longitude_deg = 151.2, .tilt_deg = 25},
        .household = {.phase_count = 1, .seed = 1},
    };
}

struct wall world_wall(const struct world *world)
{
    return (struct wall){world->settings->start.ms + world->elapsed_ms};
}

/* The offset of local time changes twice a year: found once, and again when it does. */
static struct local local_now(struct world *world)
{
    struct wall wall = world_wall(world), change;
    if (wall.ms >= world->offset_till_ms) {
        struct local local = local_of_wall(&world->settings->zone, wall);
        int64_t clock_ms = local.day * (int64_t)MS_PER_DAY + local.second * (int64_t)MS_PER_S;
        int64_t whole_ms = wall.ms - (wall.ms % MS_PER_S + MS_PER_S) % MS_PER_S;
        world->offset_ms = clock_ms - whole_ms;
        bool changes = zone_next_change(&world->settings->zone, wall, &change);
        world->offset_till_ms = changes ? change.ms : INT64_MAX;
    }
    int64_t clock_ms = wall.ms + world->offset_ms;
    int64_t day = clock_ms / MS_PER_DAY - (clock_ms % MS_PER_DAY < 0);
    return (struct local){(int32_t)day, (int32_t)((clock_ms - day * MS_PER_DAY) / MS_PER_S)};
}

void world_init(struct world *world, const struct world_settings *settings)
{
    *world = (struct world){
        .settings = settings, .load_count = settings->load_count, .offset_till_ms = INT64_MIN};
    for (int i = 0; i < settings->load_count; i++)
        house_load_init(&world->load[i], &settings->load[i]);
    household_init(&world->household, &settings->household);
    battery_init(&world->battery, &settings->battery, settings->battery_start_kwh);
    sky_init(&world->sky, settings->sky, settings->sky_seed);
    world->local = local_now(world);
    if (settings->draw_litres_a_day > 0)
        tap_init_random(&world->tap, settings->draw_litres_a_day, settings->draw_seed,
                        world->local.second);
    else
        tap_init(&world->tap, settings->draw, settings->draw_count, world->local.second);
    grid_init(&world->grid, &settings->grid);
    grid_meter_init(&world->meter, &settings->meter, &world->grid);
    world->hot_c = NAN;
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
    const struct roof *roof = &world->settings->roof;
    double on_panels = sun_on_panels_w_m2(roof, sun_at(roof, of_year, utc_h));
    world->clear_w = world->settings->pv_peak_w * on_panels / 1000 * PERFORMANCE;
    return world->clear_w;
}

/* An inverter that must not export more than a limit turns itself down, and up again
 * as the house takes more, at once or by and by. */
static void shine(struct world *world, double dt_s, double drawn_w)
{
    const struct world_settings *settings = world->settings;
    double pv_w = clear_sky_w(world, (double)world->elapsed_ms / MS_PER_S) *
                  sky_step(&world->sky, world->local.second, dt_s);
    if (settings->pv_limit_w > 0)
        pv_w = fmin(pv_w, settings->pv_limit_w);
    double keeps = settings->export_follows_s > 0 ? exp(-dt_s / settings->export_follows_s) : 0;
    double allowed_w = drawn_w + settings->export_limit_w;
    world->most_w = allowed_w + (world->most_w - allowed_w) * keeps;
    world->throttled = settings->export_limit_w > 0 && pv_w > world->most_w;
    world->pv_w = world->throttled ? world->most_w : pv_w;
    world->pv_j += world->pv_w * dt_s;
}

/* The last load of the settings takes the import first: a joule is counted as
 * the grid's only once, and their order is the order of service. */
static void attribute(struct world *world, double dt_s)
{
    double import_w = fmax(0, world->grid.total_w);
    for (int i = world->load_count - 1; i >= 0; i--) {
        struct house_load *load = &world->load[i];
        double grid_w = fmin(load->draw_w, import_w);
        house_load_account(load, dt_s, grid_w);
        import_w -= grid_w;
    }
}

static void heat_and_draw_water(struct world *world, double dt_s)
{
    bool taps = true; /* they hang on the first heater */
    world->hot_c = NAN;
    for (int i = 0; i < world->load_count; i++) {
        struct house_load *load = &world->load[i];
        if (load->settings->kind != HOUSE_HEATER)
            continue;
        double litres = 0;
        if (taps) {
            double hot_c = heater_top_c(&load->heater), spoilt_s = world->tap.spoilt_s;
            litres =
                tap_step_l(&world->tap, world->local.second, dt_s, hot_c, load->settings->inlet_c);
            world->hot_c = world->tap.mixed_c > 0 ? hot_c : (double)NAN;
            world->spoilt_step_s = world->tap.spoilt_s - spoilt_s;
            taps = false;
        }
        heater_step(&load->heater, dt_s, load->draw_w, litres, load->settings->inlet_c);
    }
}

void world_step(struct world *world, int64_t step_ms)
{
    const struct world_settings *settings = world->settings;
    double dt_s = (double)step_ms / MS_PER_S;
    double phase_w[PHASES_MAX], drawn_w = 0;
    world->local = local_now(world);

    household_step_w(&world->household, world->local.second, dt_s, phase_w);
    world->use_w = phase_w[0] + phase_w[1] + phase_w[2];
    for (int i = 0; i < world->load_count; i++) {
        struct house_load *load = &world->load[i];
        house_load_draw(load, dt_s, world->local.second, world->grid.phase_v);
        for (int p = 0; p < PHASES_MAX; p++)
            phase_w[p] += load->phase_w[p];
        drawn_w += load->draw_w;
    }
    if (settings->battery.capacity_kwh > 0) {
        double battery_w = battery_step_w(&world->battery, dt_s, world->grid.total_w);
        phases_share(phase_w, settings->battery_phases, battery_w);
        drawn_w += battery_w;
    }
    shine(world, dt_s, drawn_w + world->use_w);
    phases_share(phase_w, settings->pv_phases, -world->pv_w);
    grid_step(&world->grid, dt_s, phase_w);
    grid_meter_step(&world->meter, dt_s, &world->grid);
    attribute(world, dt_s);
    heat_and_draw_water(world, dt_s);
    world->step_ms = step_ms;
    world->elapsed_ms += step_ms;
}
