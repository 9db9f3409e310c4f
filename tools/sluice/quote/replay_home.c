/* replay_home.c - tanks, cars and pumps behind the loads.
 *
 * Usual values come from lib/house; what the settings tell of the water replaces them,
 * and what an option tells replaces both. Tanks share the home's hot water evenly. */
#include "replay_home.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "core/quantity.h"
#include "days/report.h"
#include "rules/kind.h"

enum { TANK_L = 315, LARGE_L = 250, HALF_A_YEAR = 182 };

/* A car that is usual enough: common practice, no source. */
static const struct charger_settings usual_car = {.capacity_kwh = 50,
                                                  .efficiency = 0.9,
                                                  .arrives_s = 18 * 3600,
                                                  .leaves_s = 7 * 3600 + 1800,
                                                  .trip_kwh = 8};

static void home_option_rows(struct home_words *words,
                             struct option_row rows[static HOME_OPTION_ROWS])
{
    rows[0] = (struct option_row){"--tank", &words->tank, NULL, "a volume, such as \"315 l\""};
    rows[1] = (struct option_row){"--set", &words->set, NULL, "a temperature, such as \"65 C\""};
    rows[2] = (struct option_row){"--water", &words->water, NULL,
                                  "m, l or litres a day, such as \"160 l\""};
    rows[3] = (struct option_row){"--inlet", &words->inlet, NULL,
                                  "the mains water's mean, such as \"18 C\""};
    rows[4] = (struct option_row){"--south", NULL, &words->south, NULL};
}

static bool is_of_refining(const struct option_row *row)
{
    return strcmp(row->name, "--refine") == 0 || strcmp(row->name, "--seed") == 0;
}

void days_and_home_rows(struct days_words *days, struct home_words *home, bool refined,
                        struct option_row rows[static DAYS_AND_HOME_ROWS])
{
    int kept = 0;
    days_option_rows(days, rows);
    for (int k = 0; k < DAYS_OPTION_ROWS; k++)
        if (refined || !is_of_refining(&rows[k]))
            rows[kept++] = rows[k];
    home_option_rows(home, rows + kept);
    rows[kept + HOME_OPTION_ROWS] = (struct option_row){0};
}

/* Summer time that begins late in the year and ends early in it is the south's. */
static bool is_south(const struct zone *zone)
{
    return zone->has_summer && zone->to_summer.kind == 'M' &&
           zone->to_summer.month > zone->to_standard.month;
}

/* ---- words ---------------------------------------------------------------------------- */

static enum status read_quantity(const char *option, const char *word, enum quantity_kind kind,
                                 double least, double most, double *value)
{
    struct trouble trouble;
    int64_t thousandths;
    if (!word)
        return STATUS_DONE;
    if (!quantity_parse(kind, word, &thousandths, &trouble))
        return complain(STATUS_USAGE, "%s \"%s\": %s", option, word, trouble.text);
    *value = (double)thousandths / 1000;
    if (*value < least || *value > most)
        return complain(STATUS_USAGE, "%s \"%s\": from %g to %g is expected", option, word, least,
                        most);
    return STATUS_DONE;
}

/* Profile m or l as the regulation has it; or m's times with so many litres in all. Where no
 * option tells, `quoted_l` does; 0: nor does that. */
static enum status read_water(const char *word, double quoted_l, double tank_l,
                              struct trial_taps *taps)
{
    double day_l = quoted_l, told_l = 0;
    bool quoted = !word && quoted_l > 0;
    bool large = word ? strcasecmp(word, "l") == 0 : !quoted && tank_l >= LARGE_L;
    bool named = word ? large || strcasecmp(word, "m") == 0 : !quoted;
    if (word && !named) {
        enum status status = read_quantity("--water", word, QUANTITY_VOLUME_ML, 0, 2000, &day_l);
        if (status != STATUS_DONE)
            return status;
    }
    trial_taps_profile(taps, large ? tap_profile_l : tap_profile_m,
                       large ? tap_profile_l_count : tap_profile_m_count);
    for (int hour = 0; hour < TRIAL_DAY_HOURS; hour++)
        told_l += taps->hour_l[hour];
    if (!named)
        taps->scale = day_l / told_l;
    return STATUS_DONE;
}

/* ---- loads ----------------------------------------------------------------------------- */

/* What the settings tell of the tank. */
static void take_water(struct trial_home *home, const struct heat_settings *water,
                       struct heater_settings *heater)
{
    *heater = heater_usual(water->volume_ml / 1000.0, heater->element_w);
    heater->set_c = water->set_mc / 1000.0;
    heater->hysteresis_k = water->hysteresis_mc / 1000.0;
    heater->tank.ambient_c = water->room_mc / 1000.0;
    heater->tank.loss_kwh_day = water->loss_mwh / 1e6;
    home->inlet.mean_c = water->cold_mc / 1000.0;
    home->unmet_per_kwh = water->missing_micro / 1e6;
}

static enum status make_heater(struct trial_home *home, const struct load_settings *load,
                               double tank_l, double set_c, struct trial_load *made)
{
    if (home->tank_count == TRIAL_TANKS_MAX)
        return complain(STATUS_REFUSED, "a replay has at most %d tanks", TRIAL_TANKS_MAX);
    struct trial_tank *tank = &home->tank[home->tank_count];
    *tank =
        (struct trial_tank){.heater = heater_usual(tank_l > 0 ? tank_l : TANK_L, load->power_w)};
    if (load->water.volume_ml > 0 && tank_l <= 0)
        take_water(home, &load->water, &tank->heater);
    tank->heater.set_c = set_c > 0 ? set_c : tank->heater.set_c;
    tank->start_c = tank->heater.set_c;
    *made = (struct trial_load){.model = TRIAL_HEATER, .tank = home->tank_count++};
    return STATUS_DONE;
}

static void make_charger(const struct settings *settings, const struct load_settings *load,
                         struct trial_load *made)
{
    int phases = phases_count(load->phases);
    double volts = settings->rules.voltage_mv / 1000.0;
    *made = (struct trial_load){.model = TRIAL_CHARGER,
                                .charger = usual_car,
                                .charger_volts = volts,
                                .charger_start_kwh = usual_car.capacity_kwh / 2};
    made->charger.most_a = load->power_w / volts / phases;
    made->charger.phases = phases;
}

static enum status make_load(struct trial_home *home, const struct settings *settings,
                             uint16_t index, double tank_l, double set_c)
{
    const struct load_settings *load = &settings->loads[index];
    struct trial_load *made = &home->load[home->load_count++];
    if (load->thermostat)
        return make_heater(home, load, tank_l, set_c, made);
    if (kind_of(load)->follows)
        make_charger(settings, load, made);
    else
        *made = (struct trial_load){.model = TRIAL_PUMP, .power_w = load->power_w};
    return STATUS_DONE;
}

enum home_water home_water(const struct home_words *words, const struct quote_settings *quote,
                           bool with_draws)
{
    if (with_draws)
        return HOME_WATER_DAYS;
    if (words->water)
        return HOME_WATER_OPTION;
    return quote->water_ml > 0 ? HOME_WATER_QUOTE : HOME_WATER_USUAL;
}

enum status home_make(const struct home_words *words, const struct settings *settings,
                      const struct quote_settings *quote, bool with_draws, struct trial_home *home)
{
    double tank_l = 0, set_c = 0, inlet_c = 0;
    trial_home_usual(home, &settings->rules.zone, &settings->rules.tariff, TANK_L, 3600);
    home->tank_count = home->load_count = 0;
    if (words->south || is_south(&settings->rules.zone))
        home->inlet.coldest_day += HALF_A_YEAR;
    home->export_limit_w = settings->rules.export_limit_w;
    if (settings->rules.load_count > TRIAL_LOADS_MAX)
        return complain(STATUS_REFUSED, "a replay has at most %d loads", TRIAL_LOADS_MAX);
    enum status status =
        read_quantity("--tank", words->tank, QUANTITY_VOLUME_ML, 20, 5000, &tank_l);
    if (status == STATUS_DONE)
        status = read_quantity("--set", words->set, QUANTITY_TEMPERATURE_MC, 40, 85, &set_c);
    if (status == STATUS_DONE)
        status = read_quantity("--inlet", words->inlet, QUANTITY_TEMPERATURE_MC, 1, 35, &inlet_c);
    for (uint16_t k = 0; k < settings->rules.load_count && status == STATUS_DONE; k++)
        status = make_load(home, settings, k, tank_l, set_c);
    if (status != STATUS_DONE)
        return status;
    if (inlet_c > 0)
        home->inlet.mean_c = inlet_c;
    for (int k = 0; k < home->tank_count; k++)
        home->tank[k].draw_share = 1.0 / home->tank_count;
    if (with_draws && words->water)
        return complain(STATUS_USAGE, "--water: the file itself says when hot water is drawn");
    double first_l = home->tank_count > 0 ? home->tank[0].heater.tank.volume_l : TANK_L;
    if (with_draws)
        return STATUS_DONE;
    return read_water(words->water, quote->water_ml / 1000.0, first_l, &home->taps);
}

/* ---- is it the home of these days? ------------------------------------------------------- */

void home_notice_season(const struct trial_home *home, const struct days *days, const char *path,
                        struct days_report *report)
{
    char buffer[TROUBLE_TEXT_MAX];
    enum days_half half = days_half_of_earth(days, home->zone);
    bool south = home->inlet.coldest_day > HALF_A_YEAR, by_zone = is_south(home->zone);
    if (home->tank_count == 0 || half == DAYS_HALF_UNKNOWN || south == (half == DAYS_SOUTH))
        return;
    struct text text = text_in(buffer, sizeof(buffer));
    text_add(&text,
             "the longest days are those of %s, but mains water is taken as coldest in "
             "%s: %s",
             half == DAYS_SOUTH ? "December" : "June", south ? "August" : "February",
             half == DAYS_SOUTH ? "--south takes August; and is the timezone the home's?"
             : south == by_zone ? "is the settings' timezone the home's?"
                                : "--south is not for this home, or the days are not its own");
    fprintf(stderr, "%s: note: %s\n", path, buffer);
    days_notice(report, path, 0, "%s", buffer);
}

/* ---- what was assumed --------------------------------------------------------------------- */

static double litres_a_day(const struct trial_taps *taps)
{
    double sum = 0;
    for (int hour = 0; hour < TRIAL_DAY_HOURS; hour++)
        sum += taps->hour_l[hour] * taps->scale;
    return sum;
}

static void write_load(const struct trial_home *home, int index, const char *name,
                       struct text *text)
{
    const struct trial_load *load = &home->load[index];
    const struct heater_settings *heater = &home->tank[load->tank].heater;
    switch (load->model) {
    case TRIAL_HEATER:
        text_add(text,
                 "%s heats a tank of %.0f l to %.0f °C, which loses %.1f kWh a day at 55 K more "
                 "than its room of %.0f °C",
                 name, heater->tank.volume_l, heater->set_c, heater->tank.loss_kwh_day,
                 heater->tank.ambient_c);
        break;
    case TRIAL_CHARGER:
        text_add(text,
                 "%s charges a car of %.0f kWh that is away from 07:30 to 18:00 and uses %.0f kWh "
                 "a day",
                 name, load->charger.capacity_kwh, load->charger.trip_kwh);
        break;
    case TRIAL_PUMP:
        text_add(text, "%s takes its power whenever it is on", name);
        break;
    }
}

void home_assumptions(const struct trial_home *home, const struct settings *settings,
                      enum home_water water, void (*line)(void *context, const char *text),
                      void *context)
{
    static const char *const tellers[] = {
        [HOME_WATER_USUAL] = "as usual for such a tank",
        [HOME_WATER_QUOTE] = "by the settings' section quote",
        [HOME_WATER_OPTION] = "by --water",
    };
    char buffer[256];
    for (int k = 0; k < home->load_count; k++) {
        struct text text = text_in(buffer, sizeof(buffer));
        write_load(home, k, settings->names[k].name, &text);
        line(context, buffer);
    }
    if (home->tank_count == 0)
        return;
    struct text text = text_in(buffer, sizeof(buffer));
    if (water == HOME_WATER_DAYS)
        text_add(&text, "hot water as in the file, at %.0f °C", home->taps.wanted_c);
    else
        text_add(&text,
                 "hot water of %.0f l a day at %.0f °C (%s), at the times of an EU tapping profile",
                 litres_a_day(&home->taps), home->taps.wanted_c, tellers[water]);
    text_add(&text, "; mains water of %.0f ± %.0f °C, coldest in %s", home->inlet.mean_c,
             home->inlet.swing_k, home->inlet.coldest_day > HALF_A_YEAR ? "August" : "February");
    line(context, buffer);
}
