/* pump.h - a pool pump: a motor that draws a little more until its line is
 * primed, and whose power hardly follows the voltage. Common practice, no
 * source: 15 % more for half a minute. */
#ifndef SLUICE_HOUSE_PUMP_H
#define SLUICE_HOUSE_PUMP_H

#include <stdbool.h>

struct pump {
    double power_w; /* once it runs */
    double run_s;   /* since it was started; 0 while it stands */
};

/* What it draws in the coming step; keeps time. */
double pump_step_w(struct pump *pump, double dt_s, bool live);

#endif
