/* What a rule engine sees of a car is its delay and its floor: it ignores a
 * change for a few seconds, never draws between 0 and 6 A, and stops by itself. */
#include "house/charger.h"

#define TAPER_FROM 0.9 /* of the capacity: common practice, no source */

void charger_init(struct charger *charger, const struct charger_settings *settings,
                  double charged_kwh)
{
    *charger = (struct charger){.settings = *settings, .charged_kwh = charged_kwh};
}

static bool present_at(const struct charger_settings *settings, int32_t now_s)
{
    int32_t from = settings->arrives_s, to = settings->leaves_s;
    if (from == to)
        return true;
    return from < to ? now_s >= from && now_s < to : now_s >= from || now_s < to;
}

static void follow(struct charger *charger, double dt_s, double offered_a)
{
    if (offered_a != charger->offered_a) {
        charger->offered_a = offered_a;
        charger->waited_s = 0;
    }
    charger->waited_s += dt_s;
    if (charger->waited_s >= CHARGER_FOLLOWS_S)
        charger->obeyed_a = charger->offered_a < CHARGER_LEAST_A ? 0 : charger->offered_a;
}

/* What the battery still takes: all up to the taper, then down to the least. */
static double acceptance_a(const struct charger *charger)
{
    double full = charger->charged_kwh / charger->settings.capacity_kwh;
    if (full >= 1)
        return 0;
    if (full <= TAPER_FROM)
        return charger->settings.most_a;
    double left = (1 - full) / (1 - TAPER_FROM);
    return CHARGER_LEAST_A + (charger->settings.most_a - CHARGER_LEAST_A) * left;
}

static void come_and_go(struct charger *charger, int32_t now_s)
{
    bool present = present_at(&charger->settings, now_s);
    if (present && charger->away) {
        double trip_kwh = charger->settings.trip_kwh;
        double driven_kwh = trip_kwh < charger->charged_kwh ? trip_kwh : charger->charged_kwh;
        charger->charged_kwh -= driven_kwh;
        charger->driven_kwh += driven_kwh;
        charger->lacked_kwh += trip_kwh - driven_kwh;
    }
    charger->away = !present;
    charger->present = present;
}

double charger_step_a(struct charger *charger, int32_t now_s, double dt_s, double offered_a,
                      double volts)
{
    follow(charger, dt_s, offered_a);
    come_and_go(charger, now_s);
    double accepts_a = acceptance_a(charger);
    if (!charger->present || accepts_a <= 0)
        return 0;
    double a = charger->obeyed_a < accepts_a ? charger->obeyed_a : accepts_a;
    charger->charged_kwh +=
        a * volts * charger->settings.phases * charger->settings.efficiency * dt_s / 3.6e6;
    return a;
}
