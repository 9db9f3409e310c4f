/* charger.h - a car at a charger that obeys a current.
 *
 * Below 6 A there is no charging (IEC 61851-1: the smallest current the pilot
 * can offer); a car follows a changed current within 5 s (IEC 61851-1, from
 * memory), this one after 3. Near full it takes less and less, full nothing. */
#ifndef SLUICE_HOUSE_CHARGER_H
#define SLUICE_HOUSE_CHARGER_H

#include <stdbool.h>
#include <stdint.h>

#define CHARGER_LEAST_A 6.0
#define CHARGER_FOLLOWS_S 3.0

struct charger_settings {
    double most_a;       /* of car and cable, per phase */
    double capacity_kwh; /* of the battery */
    double efficiency;   /* battery over socket */
    int phases;
    int32_t arrives_s, leaves_s; /* second of the day; equal: always there */
    double trip_kwh;             /* out of the battery between leaving and coming back */
};

struct charger {
    struct charger_settings settings;
    double charged_kwh;
    double offered_a, obeyed_a, waited_s;
    bool present, away; /* away: has left since it was last here */
    double driven_kwh;  /* since the beginning */
    double
        lacked_kwh; /* of trips, what the battery did not hold: driven on charge from elsewhere */
};

void charger_init(struct charger *charger, const struct charger_settings *settings,
                  double charged_kwh);

/* Amps per phase drawn in the coming step, at second now_s of the day, while the
 * charger offers offered_a. */
double charger_step_a(struct charger *charger, int32_t now_s, double dt_s, double offered_a,
                      double volts);

#endif
