/* A motor, seen by a meter: a step with a bump at its beginning. */
#include "house/pump.h"

#define PRIMING_S 30.0
#define PRIMING_SHARE 0.15

double pump_step_w(struct pump *pump, double dt_s, bool live)
{
    if (!live) {
        pump->run_s = 0;
        return 0;
    }
    double priming = pump->run_s < PRIMING_S ? 1 - pump->run_s / PRIMING_S : 0;
    pump->run_s += dt_s;
    return pump->power_w * (1 + PRIMING_SHARE * priming);
}
