/* twin.h - a usual heater with a second element in the upper part, for tests. */
#ifndef TESTS_HOUSE_TWIN_H
#define TESTS_HOUSE_TWIN_H

#include "house/heater.h"

static inline struct heater_settings twin_heater(double volume_l, double element_w)
{
    struct heater_settings settings = heater_usual(volume_l, element_w);
    settings.upper_w = element_w;
    settings.upper_set_c = settings.set_c;
    settings.upper_height = 0.67;
    settings.upper_sensor_height = 0.75;
    return settings;
}

#endif
